"""What pages about inductions show, worked out from rows: standings in words, a class to tick, a table of people."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.inductions import quizzes, rules
from labsys.inductions.contents import Section, points_of, sections_of
from labsys.inductions.models import Induction, InductionPicture, InductionVersion, SignOff
from labsys.inductions.rules import Held, InductionState
from labsys.people.models import Person

_LOOKS: dict[InductionState, tuple[str, str | None]] = {  # in a word, and how the word is marked
    InductionState.CURRENT: ("current", None),
    InductionState.WAITING: ("waits", "dashed"),
    InductionState.REPEAT: ("repeat", "heavy"),
    InductionState.LAPSED: ("lapsed", "heavy"),
    InductionState.WITHDRAWN: ("withdrawn", "heavy"),
    InductionState.NEVER: ("never", None),
}
Standings = Mapping[tuple[int, int], Held]  # by person and induction


@dataclass(frozen=True)
class OwnInduction:
    """One induction as somebody meets it: how they stand, what it is needed for, who teaches it."""

    induction: Induction
    standing: InductionState
    state: str
    whys: list[str]
    teachers: str

    @property
    def tag(self) -> str | None:
        return _LOOKS[self.standing][1]

    @property
    def needed(self) -> str:
        return f"Needed {rules.in_a_row(self.whys)}." if self.whys else "Needed for nothing at present."

    @property
    def is_missing(self) -> bool:
        """Whether the lack of it keeps the person from something; what they have to confirm stands elsewhere."""
        return bool(self.whys) and self.standing not in (InductionState.CURRENT, InductionState.WAITING)


@dataclass(frozen=True)
class ToConfirm:
    """A sign-off that waits for the person taught, with what they were taught, and what has to come first."""

    signed: SignOff
    name: str
    points: list[str]
    practice: list[str]  # still to be shown
    quiz_is_due: bool


@dataclass(frozen=True)
class Text:
    """What a version teaches as a page shows it, with the pictures it shows by their number."""

    sections: list[Section]
    refresher: list[Section]
    practice: list[str]
    pictures: Mapping[int, InductionPicture]


@dataclass(frozen=True)
class SignatureSheet:
    """One version of an induction on a signature sheet, with those who sign."""

    name: str
    version: InductionVersion
    points: list[str]
    sign_offs: list[SignOff]


@dataclass(frozen=True)
class PastSignOff:
    """One sign-off of a person's history, as it stands now."""

    signed: SignOff
    name: str
    state: str
    tag: str | None


def whys_of(induction: Induction) -> list[str]:
    """What an induction is needed for, each as the end of "It is needed …"; closed places are left out."""
    return [
        rules.Required(
            induction.id,
            induction.name,
            induction.how_to_get,
            row.station_id,
            row.station.name if row.station else "",
            row.material,
            row.hazard,
        ).why
        for row in induction.requirements
        if row.station is None or row.station.closed_at is None
    ]


def own(
    inductions: Sequence[Induction],
    standings: Standings,
    *,
    person_id: int,
    teachers: Mapping[int, Sequence[Person]],
    now: datetime,
    zone: ZoneInfo,
) -> list[OwnInduction]:
    """How one person stands with every induction, in the order of the inductions."""
    return [
        OwnInduction(
            induction=induction,
            standing=standings[person_id, induction.id].standing,
            state=rules.state_in_words(standings[person_id, induction.id], at=now, zone=zone),
            whys=whys_of(induction),
            teachers=", ".join(teacher.name for teacher in teachers[induction.id] if teacher.id != person_id),
        )
        for induction in inductions
    ]


def text_of(version: InductionVersion, pictures: Iterable[InductionPicture]) -> Text:
    """What a version teaches, by its sections."""
    return Text(
        sections=sections_of(version.text),
        refresher=sections_of(version.refresher),
        practice=version.practice.splitlines(),
        pictures={picture.number: picture for picture in pictures},
    )


def to_confirm(
    waiting: Iterable[SignOff], inductions: Iterable[Induction], *, passed: Collection[int]
) -> list[ToConfirm]:
    """What waits for its person, the oldest first; `passed` are the sign-offs whose quiz was passed."""
    by_id = {induction.id: induction for induction in inductions}
    asked = []
    for signed in sorted(waiting, key=lambda signed: signed.id):
        induction = by_id[signed.version.induction_id]
        asked.append(
            ToConfirm(
                signed,
                induction.name,
                points_taught(signed),
                signed.version.practice.splitlines() if quizzes.practice_is_due(signed) else [],
                quizzes.quiz_is_due(signed, newest=induction.versions[-1], passed_by=passed),
            )
        )
    return asked


def points_taught(signed: SignOff) -> list[str]:
    """The points that somebody was taught: of the text, or of the shorter refresher."""
    return points_of(signed.version.refresher if signed.is_refresher else signed.version.text)


def still_due(
    waiting: Iterable[SignOff], inductions: Iterable[Induction], *, passed: Collection[int]
) -> dict[int, str]:
    """What has to come before each sign-off can be confirmed, in words, by its key."""
    due = {}
    for asked in to_confirm(waiting, inductions, passed=passed):
        first = [*(["the practice"] if asked.practice else []), *(["the quiz"] if asked.quiz_is_due else [])]
        if first:
            due[asked.signed.id] = f"First: {rules.in_a_row(first)}."
    return due


def practice_of(inductions: Iterable[Induction]) -> list[tuple[str, list[str]]]:
    """What is to be shown of each induction that asks for it."""
    newest = [(induction.name, induction.versions[-1].practice.splitlines()) for induction in inductions]
    return [(name, items) for name, items in newest if items]


def details(
    person: Person, inductions: Iterable[Induction], standings: Standings, *, now: datetime, zone: ZoneInfo
) -> str:
    """How one person of a class stands with what may be signed, in one line."""
    return ". ".join(
        f"{induction.name}: {_for_others(standings[person.id, induction.id], now=now, zone=zone)}"
        for induction in inductions
    )


def _for_others(held: Held, *, now: datetime, zone: ZoneInfo) -> str:
    if held.standing is InductionState.WAITING:
        return "signed off, not confirmed yet"
    return rules.state_in_words(held, at=now, zone=zone)


def sheets(waiting: Iterable[SignOff], inductions: Iterable[Induction]) -> list[SignatureSheet]:
    """What waits, sorted for paper: by induction, version and what of it was taught, within it by name."""
    names = {induction.id: induction.name for induction in inductions}
    alike: dict[tuple[InductionVersion, bool], list[SignOff]] = {}
    for signed in sorted(waiting, key=lambda signed: signed.person.name):
        alike.setdefault((signed.version, signed.is_refresher), []).append(signed)
    unsorted = [
        SignatureSheet(
            f"{names[version.induction_id]}{', refresher' if is_refresher else ''}",
            version,
            points_taught(sign_offs[0]),
            sign_offs,
        )
        for (version, is_refresher), sign_offs in alike.items()
    ]
    return sorted(unsorted, key=lambda sheet: (sheet.name, sheet.version.number))


def past(
    history: Iterable[SignOff], inductions: Sequence[Induction], *, now: datetime, zone: ZoneInfo
) -> list[PastSignOff]:
    """A person's sign-offs as each stands by itself."""
    by_id = {induction.id: induction for induction in inductions}
    lines = []
    for signed in history:
        induction = by_id[signed.version.induction_id]
        held = rules.held([rules.signed_of(signed)], editions=rules.editions_of(induction), at=now)
        state = _for_others(held, now=now, zone=zone)
        lines.append(PastSignOff(signed, induction.name, state, _LOOKS[held.standing][1]))
    return lines
