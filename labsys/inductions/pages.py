"""What pages about inductions show, worked out from rows: standings in words, a class to tick, a table of people."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.inductions import rules, teaching
from labsys.inductions.models import Induction, InductionVersion, SignOff
from labsys.inductions.rules import Held, Standing
from labsys.people.models import Person

_TAGS = {
    Standing.CURRENT: None,
    Standing.WAITING: "dashed",
    Standing.REPEAT: "heavy",
    Standing.LAPSED: "heavy",
    Standing.WITHDRAWN: "heavy",
    Standing.NEVER: None,
}
_SHORT = {
    Standing.CURRENT: "current",
    Standing.WAITING: "waits",
    Standing.REPEAT: "repeat",
    Standing.LAPSED: "lapsed",
    Standing.WITHDRAWN: "withdrawn",
    Standing.NEVER: "never",
}


@dataclass(frozen=True)
class Own:
    """One induction as somebody meets it: how they stand, what it is needed for, who teaches it."""

    induction: Induction
    standing: Standing
    state: str
    whys: list[str]
    teachers: str

    @property
    def tag(self) -> str | None:
        return _TAGS[self.standing]

    @property
    def needed(self) -> str:
        return f"Needed {rules.in_a_row(self.whys)}." if self.whys else "Needed for nothing at present."

    @property
    def is_missing(self) -> bool:
        """Whether the lack of it keeps the person from something; what they have to confirm stands elsewhere."""
        return bool(self.whys) and self.standing not in (Standing.CURRENT, Standing.WAITING)


@dataclass(frozen=True)
class ToConfirm:
    """A sign-off that waits for the person taught, with the points they were taught."""

    signed: SignOff
    name: str
    points: list[str]


@dataclass(frozen=True)
class Cell:
    """How one person stands with one induction, in a word and a day."""

    word: str
    detail: str
    tag: str | None


@dataclass(frozen=True)
class Row:
    """One person of the table, a cell for each induction."""

    person: Person
    cells: list[Cell]


@dataclass(frozen=True)
class Sheet:
    """One version of an induction on a signature sheet, with those who sign."""

    name: str
    version: InductionVersion
    points: list[str]
    sign_offs: list[SignOff]


@dataclass(frozen=True)
class Past:
    """One sign-off of a person's history, as it stands now."""

    signed: SignOff
    name: str
    state: str
    tag: str | None


def whys_of(induction: Induction) -> list[str]:
    """What an induction is needed for, each as the end of "It is needed …"; closed places are left out."""
    return [
        rules.Needed(
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


def editions_of(inductions: Iterable[Induction]) -> list[rules.Edition]:
    """The versions of inductions as the gate reads them."""
    return [
        rules.Edition(one.id, version.number, version.must_repeat, version.issued_at)
        for one in inductions
        for version in one.versions
    ]


def own(
    inductions: Sequence[Induction],
    standings: Mapping[tuple[int, int], Held],
    *,
    person_id: int,
    teachers: Mapping[int, Sequence[Person]],
    now: datetime,
    zone: ZoneInfo,
) -> list[Own]:
    """How one person stands with every induction, in the order of the inductions."""
    return [
        Own(
            induction=one,
            standing=standings[person_id, one.id].standing,
            state=rules.state_in_words(standings[person_id, one.id], at=now, zone=zone),
            whys=whys_of(one),
            teachers=", ".join(teacher.name for teacher in teachers[one.id] if teacher.id != person_id),
        )
        for one in inductions
    ]


def to_confirm(waiting: Iterable[SignOff], inductions: Iterable[Induction]) -> list[ToConfirm]:
    """What waits for its person, the oldest first."""
    names = {one.id: one.name for one in inductions}
    return [
        ToConfirm(one, names[one.version.induction_id], teaching.points_of(one.version.text))
        for one in sorted(waiting, key=lambda one: one.id)
    ]


def rows(
    people: Iterable[Person],
    inductions: Sequence[Induction],
    standings: Mapping[tuple[int, int], Held],
    *,
    now: datetime,
    zone: ZoneInfo,
) -> list[Row]:
    """The table of people and inductions."""
    return [
        Row(person, [_cell(standings[person.id, one.id], now=now, zone=zone) for one in inductions])
        for person in people
    ]


def _cell(found: Held, *, now: datetime, zone: ZoneInfo) -> Cell:
    signed, detail = found.signed, ""
    if found.standing is Standing.REPEAT and found.repeat:
        detail = f"version {found.repeat.number}"
    elif found.standing is Standing.WITHDRAWN and signed and signed.withdrawn_at:
        detail = rules.day_in_words(signed.withdrawn_at, at=now, zone=zone)
    elif signed and signed.lapses_at and found.standing in (Standing.CURRENT, Standing.LAPSED):
        until = "until " if found.is_current else ""
        detail = until + rules.day_in_words(signed.lapses_at, at=now, zone=zone)
    return Cell(_SHORT[found.standing], detail, _TAGS[found.standing])


def details(
    person: Person,
    inductions: Iterable[Induction],
    standings: Mapping[tuple[int, int], Held],
    *,
    now: datetime,
    zone: ZoneInfo,
) -> str:
    """How one person of a class stands with what may be signed, in one line."""
    return ". ".join(
        f"{one.name}: {_for_others(standings[person.id, one.id], now=now, zone=zone)}" for one in inductions
    )


def _for_others(found: Held, *, now: datetime, zone: ZoneInfo) -> str:
    if found.standing is Standing.WAITING:
        return "signed off, not confirmed yet"
    return rules.state_in_words(found, at=now, zone=zone)


def sheets(waiting: Iterable[SignOff], inductions: Iterable[Induction]) -> list[Sheet]:
    """What waits, sorted for paper: by induction and version, within it by name."""
    names = {one.id: one.name for one in inductions}
    by_version: dict[int, list[SignOff]] = {}
    for one in waiting:
        by_version.setdefault(one.version_id, []).append(one)
    found = [
        Sheet(
            names[alike[0].version.induction_id],
            alike[0].version,
            teaching.points_of(alike[0].version.text),
            sorted(alike, key=lambda one: one.person.name),
        )
        for alike in by_version.values()
    ]
    return sorted(found, key=lambda one: (one.name, one.version.number))


def past(history: Iterable[SignOff], inductions: Sequence[Induction], *, now: datetime, zone: ZoneInfo) -> list[Past]:
    """A person's sign-offs as each stands by itself."""
    by_id = {one.id: one for one in inductions}
    found = []
    for one in history:
        induction = by_id[one.version.induction_id]
        held = rules.held([rules.signed_of(one)], editions=editions_of([induction]), at=now)
        found.append(Past(one, induction.name, _for_others(held, now=now, zone=zone), _TAGS[held.standing]))
    return found
