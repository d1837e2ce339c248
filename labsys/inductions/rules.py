"""Decisions about clearance: how somebody stands with an induction, and whether they may begin something.

The gate is monotone: a sign-off more never takes a clearance away, a requirement more never gives one, and the mere
passing of time never gives one.
"""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from labsys.chemistry.sizes import MATERIAL_NAMES, Material
from labsys.hazards.concentrate import SENSITISER_CODES
from labsys.inductions.models import Hazard, Induction, SignOff
from labsys.records.errors import Refused
from labsys.timetable.local_time import to_local

REMIND_BEFORE = timedelta(days=14)
NOT_DECIDED = (
    "What will be done is not decided yet, so all that could be done there is asked for. "
    "Say what it will be, and only that counts."
)

_CODE = re.compile(r"\b(?:EUH|H)[0-9]{3}")
_BECAUSE = {
    Hazard.SENSITISER: "because a chemical in use is a sensitiser (it can cause an allergy)",
    Hazard.CORROSIVE: "because a chemical in use is corrosive as supplied (it burns skin or eyes)",
    Hazard.TOXIC: "because a chemical in use is toxic as supplied (little of it can poison, or harm for good)",
    Hazard.POWDER: "because a chemical in use comes as a powder",
    Hazard.CONCENTRATE: "because a chemical in use comes as a concentrate",
}
AT_ANY_STRENGTH = frozenset({Hazard.SENSITISER})  # the others are of the product as supplied, and ask whoever mixes it
# Statements of what burns skin, eyes or airways, and of what poisons in small amounts or harms for good: the texts of
# CLP Annex III. Categories 2 of the latter (suspected) are left out, as they would take in nearly every developer.
_CORROSIVE_CODES = frozenset({"H314", "H318", "EUH071"})
_TOXIC_CODES = frozenset({"H300", "H301", "H310", "H311", "H330", "H331", "H340", "H350", "H360", "H370", "H372"})


class InductionRefused(Refused):
    """The induction or sign-off cannot be so; the message says why and what to do."""


@dataclass(frozen=True)
class Subject:
    """What somebody wants to begin: work at a station, with a family of processes, with chemicals that are a hazard.

    Each part counts on its own; a part left out asks for nothing. What is not decided is what they may come to begin.
    """

    station_id: int | None = None
    material: Material | None = None
    hazards: frozenset[Hazard] = frozenset()
    is_decided: bool = True


@dataclass(frozen=True)
class Required:
    """One requirement as the gate reads it. Exactly one of station, material and hazard is given."""

    induction_id: int
    name: str
    how_to_get: str
    station_id: int | None = None
    station_name: str = ""
    material: Material | None = None
    hazard: Hazard | None = None

    @property
    def why(self) -> str:
        """What it is needed for, as the end of "It is needed …"."""
        if self.hazard is not None:
            return _BECAUSE[self.hazard]
        return f"for {self.station_name if self.material is None else MATERIAL_NAMES[self.material]}"

    def applies_to(self, subject: Subject) -> bool:
        """Whether whoever begins this needs the induction."""
        if self.station_id is not None:
            return self.station_id == subject.station_id
        if self.material is not None:
            return self.material is subject.material
        return self.hazard in subject.hazards


@dataclass(frozen=True)
class Edition:
    """One version of an induction as the gate reads it."""

    induction_id: int
    number: int
    must_repeat: bool
    issued_at: datetime


def editions_of(*inductions: Induction) -> list[Edition]:
    """The versions of inductions already read, as the gate reads them."""
    return [
        Edition(induction.id, version.number, version.must_repeat, version.issued_at)
        for induction in inductions
        for version in induction.versions
    ]


@dataclass(frozen=True)
class Signed:
    """One sign-off as the gate reads it."""

    person_id: int
    induction_id: int
    version_number: int
    taught_at: datetime
    lapses_at: datetime | None = None
    confirmed_at: datetime | None = None
    withdrawn_at: datetime | None = None
    recorded_at: datetime | None = None  # entered; none: when it was taught


def signed_of(row: SignOff) -> Signed:
    """A sign-off already read, as the gate reads it."""
    return Signed(
        person_id=row.person_id,
        induction_id=row.version.induction_id,
        version_number=row.version.number,
        taught_at=row.taught_at,
        lapses_at=row.lapses_at,
        confirmed_at=row.confirmed_at,
        withdrawn_at=row.withdrawal.withdrawn_at if row.withdrawal else None,
        recorded_at=row.recorded_at,
    )


class InductionState(StrEnum):
    """How one person stands with one induction."""

    CURRENT = "current"
    WAITING = "waits for confirmation"
    REPEAT = "must be repeated"
    LAPSED = "lapsed"
    WITHDRAWN = "withdrawn"
    NEVER = "never signed off"


@dataclass(frozen=True)
class Held:
    """How one person stands with one induction, and the sign-off or the version that decides it."""

    standing: InductionState
    signed: Signed | None = None
    repeat: Edition | None = None

    @property
    def is_current(self) -> bool:
        return self.standing is InductionState.CURRENT


@dataclass(frozen=True)
class Missing:
    """An induction somebody lacks: what it is needed for, how to get it, and how they stand with it, in words.

    `state` speaks to the person; `state_for_others` says the same about them. What is not decided asks for it only
    because it may come to be needed.
    """

    induction_id: int
    name: str
    whys: tuple[str, ...]
    how_to_get: str
    state: str
    standing: InductionState
    is_decided: bool = True

    @property
    def why(self) -> str:
        """What it is needed for, as the end of "It is needed …"."""
        return in_a_row(self.whys)

    @property
    def state_for_others(self) -> str:
        return "waits for their own confirmation" if self.standing is InductionState.WAITING else self.state

    @property
    def sentence(self) -> str:
        """Everything at once, to the person."""
        return f"{self.name} is needed {self.why}: {self.state}. {_sentence(self.how_to_get)}"

    @property
    def sentence_for_others(self) -> str:
        """Everything at once, about the person."""
        return f"{self.name} is needed {self.why}: {self.state_for_others}. {_sentence(self.how_to_get)}"


@dataclass(frozen=True)
class Clearance:
    """Whether somebody may begin something, and each induction that stands between."""

    missing: tuple[Missing, ...] = ()

    @property
    def is_clear(self) -> bool:
        return not self.missing


class NotCleared(InductionRefused):
    """Somebody lacks an induction for what they want to begin; the message says which, and where to get it."""

    def __init__(self, *, who: str | None, missing: tuple[Missing, ...]):
        if who is None:
            begin, sentences = "You are not cleared for this yet.", [lacked.sentence for lacked in missing]
        else:
            begin, sentences = f"{who} is not cleared for this yet.", [lacked.sentence_for_others for lacked in missing]
        super().__init__(" ".join([begin, *sentences, *not_decided(missing)]))
        self.missing = missing


def hazards_of(
    *, h_codes: str, classifications: Collection[str], is_powder: bool = False, is_diluted: bool = False
) -> frozenset[Hazard]:
    """Return the hazards of a product that ask for an induction, by its own codes and its ingredients' classes.

    A sensitiser counts at any declared strength, also where a mixture or its dilution calculates as unclassified: an
    allergy asks for no threshold. Corrosive and toxic go by the codes of the product as supplied; where it states none,
    by those of its ingredients. Where neither is stated, it may be anything.

    >>> hazards_of(h_codes="", classifications=["Skin Sens. 1 H317; Aquatic Acute 1 H400"])
    frozenset({<Hazard.SENSITISER: 'skin sensitiser'>})
    >>> hazards_of(h_codes="H319", classifications=["Skin Corr. 1B H314"])
    frozenset()
    >>> sorted(map(str, hazards_of(h_codes="", classifications=["Aquatic Acute 1 H400", ""], is_powder=True)))
    ['a powder', 'corrosive', 'skin sensitiser', 'toxic']
    """
    form = {Hazard.POWDER} if is_powder else {Hazard.CONCENTRATE} if is_diluted else set()
    if not h_codes and not (classifications and all(classifications)):
        return frozenset({Hazard.SENSITISER, Hazard.CORROSIVE, Hazard.TOXIC} | form)
    own = set(_CODE.findall(h_codes))
    of_parts = {code for text in classifications for code in _CODE.findall(text)}
    as_supplied = own if h_codes else of_parts
    stated = {
        Hazard.SENSITISER: (own | of_parts) & SENSITISER_CODES,
        Hazard.CORROSIVE: as_supplied & _CORROSIVE_CODES,
        Hazard.TOXIC: as_supplied & _TOXIC_CODES,
    }
    return frozenset({hazard for hazard, codes in stated.items() if codes} | form)


def held(
    signed: Iterable[Signed], *, editions: Iterable[Edition], at: datetime, known_at: datetime | None = None
) -> Held:
    """Say how one person stands with one induction at an instant, by what the lab knew at that instant or another.

    Parameters:
        signed: The person's sign-offs of the induction, in any order. [-]
        editions: The versions of the induction, in any order. [-]
        at: The instant asked about; what was taught, withdrawn, issued or lapses later does not count. [-]
        known_at: What was entered or confirmed later is not known; none: the instant asked about. [-]
    Returns:
        The standing, with the sign-off that decides it: one that counts where there is one (the one that lasts
        longest), else one that only waits for its confirmation, else the newest. [-]
    """
    known_at = known_at or at
    first = min(at, known_at)  # an act that is entered as it happens
    repeats = [edition for edition in editions if edition.must_repeat and edition.issued_at <= first]
    known = [sign_off for sign_off in signed if sign_off.taught_at <= at and _entered(sign_off) <= known_at]
    each = [_held_by(sign_off, repeats=repeats, at=at, known_at=known_at) for sign_off in known]
    for wanted in (InductionState.CURRENT, InductionState.WAITING):
        if alike := [standing for standing in each if standing.standing is wanted]:
            return max(alike, key=_lasts)
    return max(each, key=_taught, default=Held(InductionState.NEVER))


def _entered(signed: Signed) -> datetime:
    return signed.recorded_at or signed.taught_at


def _held_by(signed: Signed, *, repeats: Sequence[Edition], at: datetime, known_at: datetime) -> Held:
    if signed.withdrawn_at is not None and signed.withdrawn_at <= min(at, known_at):
        return Held(InductionState.WITHDRAWN, signed)
    later = [edition for edition in repeats if edition.number > signed.version_number]
    if later:
        return Held(InductionState.REPEAT, signed, max(later, key=lambda edition: edition.number))
    if signed.lapses_at is not None and signed.lapses_at <= at:
        return Held(InductionState.LAPSED, signed)
    if signed.confirmed_at is None or signed.confirmed_at > known_at:
        return Held(InductionState.WAITING, signed)
    return Held(InductionState.CURRENT, signed)


def _lasts(held: Held) -> tuple[bool, float]:
    lapses_at = held.signed.lapses_at if held.signed else None
    return (lapses_at is None, lapses_at.timestamp() if lapses_at else 0.0)


def _taught(held: Held) -> float:
    return held.signed.taught_at.timestamp() if held.signed else 0.0


def state_in_words(standing: Held, *, at: datetime, zone: ZoneInfo) -> str:
    """Say how somebody stands with an induction, to that person, at the instant of saying it.

    Asked about a later time, something may lapse before then that is still current now. Days are those of the lab's
    zone.
    """
    signed, repeat = standing.signed, standing.repeat
    if signed is None:
        return str(InductionState.NEVER)
    if standing.standing is InductionState.WAITING:
        return "waits for your own confirmation"
    if standing.standing is InductionState.WITHDRAWN and signed.withdrawn_at:
        return f"withdrawn on {day_in_words(signed.withdrawn_at, at=at, zone=zone)}"
    if standing.standing is InductionState.REPEAT and repeat:
        return f"must be repeated: version {repeat.number} of {day_in_words(repeat.issued_at, at=at, zone=zone)}"
    if signed.lapses_at is None:
        return "current, does not lapse"
    day = day_in_words(signed.lapses_at, at=at, zone=zone)
    if standing.standing is InductionState.LAPSED:
        return f"lapsed on {day}" if signed.lapses_at <= at else f"lapses on {day}, before that time is over"
    return f"current until {day}"


def day_in_words(instant: datetime, *, at: datetime, zone: ZoneInfo) -> str:
    """Say a day on the lab's calendar, with the year where it is not that of `at`.

    >>> from datetime import UTC
    >>> at = datetime(2026, 6, 1, tzinfo=UTC)
    >>> day_in_words(datetime(2026, 5, 2, 23, 30, tzinfo=UTC), at=at, zone=ZoneInfo("Europe/London"))
    '3 May'
    >>> day_in_words(datetime(2025, 5, 3, tzinfo=UTC), at=at, zone=ZoneInfo("Europe/London"))
    '3 May 2025'
    """
    day, today = to_local(instant, zone=zone), to_local(at, zone=zone)
    return f"{day:%-d %B}" if day.year == today.year else f"{day:%-d %B %Y}"


def standings(
    person_ids: Collection[int],
    *,
    induction_ids: Collection[int],
    editions: Iterable[Edition],
    sign_offs: Iterable[Signed],
    at: datetime,
    known_at: datetime | None = None,
) -> dict[tuple[int, int], Held]:
    """Say how each person stands with each induction at an instant, by person and induction; `held` says how."""
    versions: dict[int, list[Edition]] = {}
    for edition in editions:
        versions.setdefault(edition.induction_id, []).append(edition)
    signed_by: dict[tuple[int, int], list[Signed]] = {}
    for signed in sign_offs:
        signed_by.setdefault((signed.person_id, signed.induction_id), []).append(signed)
    return {
        (person_id, induction_id): held(
            signed_by.get((person_id, induction_id), ()),
            editions=versions.get(induction_id, ()),
            at=at,
            known_at=known_at,
        )
        for person_id in person_ids
        for induction_id in induction_ids
    }


def clearance(
    *,
    person_ids: Collection[int],
    subjects: Collection[Subject],
    requirements: Sequence[Required],
    editions: Iterable[Edition],
    sign_offs: Iterable[Signed],
    at: datetime,
    now: datetime,
    zone: ZoneInfo,
) -> dict[tuple[int, Subject], Clearance]:
    """Say for every person and subject whether they are clear, and if not, what is missing.

    Parameters:
        person_ids: The people asked about. [-]
        subjects: What they want to begin. [-]
        requirements: All requirements; those that do not apply to a subject do not matter to it. [-]
        editions: All versions of the inductions required. [-]
        sign_offs: All sign-offs of these people for these inductions. [-]
        at: When they want to begin. [-]
        now: When the answer is read. [-]
        zone: The lab's time zone, for days in words. [-]
    Returns:
        One clearance a pair; what is missing in the order of the requirements, each induction once. [-]
    """
    induction_ids = {requirement.induction_id for requirement in requirements}
    held_by = standings(person_ids, induction_ids=induction_ids, editions=editions, sign_offs=sign_offs, at=at)
    needed_for = {subject: _by_induction(requirements, subject) for subject in subjects}
    return {
        (person_id, subject): Clearance(
            tuple(
                Missing(
                    induction_id=induction_id,
                    name=needs[0].name,
                    whys=tuple(need.why for need in needs),
                    how_to_get=needs[0].how_to_get,
                    state=state_in_words(held_by[person_id, induction_id], at=now, zone=zone),
                    standing=held_by[person_id, induction_id].standing,
                    is_decided=subject.is_decided,
                )
                for induction_id, needs in needed.items()
                if not held_by[person_id, induction_id].is_current
            )
        )
        for person_id in person_ids
        for subject, needed in needed_for.items()
    }


def _by_induction(requirements: Iterable[Required], subject: Subject) -> Mapping[int, list[Required]]:
    by_induction: dict[int, list[Required]] = {}
    for requirement in requirements:
        if requirement.applies_to(subject):
            by_induction.setdefault(requirement.induction_id, []).append(requirement)
    return by_induction


def lapse_to_remind_of(standing: Held, *, now: datetime) -> datetime | None:
    """Return when an induction lapses, if that is soon enough to say so; None for one renewed or that never lapses."""
    lapses_at = standing.signed.lapses_at if standing.is_current and standing.signed else None
    return lapses_at if lapses_at is not None and lapses_at <= now + REMIND_BEFORE else None


def joined(missing: Iterable[Missing]) -> tuple[Missing, ...]:
    """Name each induction once, with everything it is needed for."""
    by_induction: dict[int, Missing] = {}
    for lacked in missing:
        earlier = by_induction.setdefault(lacked.induction_id, lacked)
        by_induction[lacked.induction_id] = replace(
            earlier,
            whys=tuple(dict.fromkeys([*earlier.whys, *lacked.whys])),
            is_decided=earlier.is_decided or lacked.is_decided,
        )
    return tuple(by_induction.values())


def not_decided(missing: Iterable[Missing]) -> list[str]:
    """The way out where something is missing only because nobody has said yet what will be done."""
    return [] if all(lacked.is_decided for lacked in missing) else [NOT_DECIDED]


def in_a_row(words: Sequence[str]) -> str:
    """Say several things in a row.

    >>> in_a_row(["for Enlarger A", "for Enlarger B", "for film"])
    'for Enlarger A, for Enlarger B and for film'
    """
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def _sentence(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else f"{text}."
