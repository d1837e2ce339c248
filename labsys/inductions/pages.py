"""What pages about inductions show, worked out from rows: standings in words, a class to tick, a table of people."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.inductions import rules, teaching
from labsys.inductions.models import Induction, InductionVersion, SignOff
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
    """A sign-off that waits for the person taught, with the points they were taught."""

    signed: SignOff
    name: str
    points: list[str]


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


def to_confirm(waiting: Iterable[SignOff], inductions: Iterable[Induction]) -> list[ToConfirm]:
    """What waits for its person, the oldest first."""
    names = {induction.id: induction.name for induction in inductions}
    return [
        ToConfirm(signed, names[signed.version.induction_id], teaching.points_of(signed.version.text))
        for signed in sorted(waiting, key=lambda signed: signed.id)
    ]


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
    """What waits, sorted for paper: by induction and version, within it by name."""
    names = {induction.id: induction.name for induction in inductions}
    by_version: dict[InductionVersion, list[SignOff]] = {}
    for signed in sorted(waiting, key=lambda signed: signed.person.name):
        by_version.setdefault(signed.version, []).append(signed)
    unsorted = [
        SignatureSheet(names[version.induction_id], version, teaching.points_of(version.text), sign_offs)
        for version, sign_offs in by_version.items()
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
