"""Decisions about equipment: when each check is due, what closes a place, and how far off an instrument counts."""

import csv
from calendar import monthrange
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from importlib.resources import files
from itertools import groupby

from labsys.equipment.models import CheckKind, EquipmentKind, FaultKind
from labsys.hazards.retention import next_extraction_test
from labsys.records.errors import Refused

MICRO = 1_000_000
INSTRUMENTS = {
    EquipmentKind.THERMOMETER: "°C",
    EquipmentKind.CYLINDER: "mL",
    EquipmentKind.BALANCE: "g",
    EquipmentKind.PH_METER: "",
}
# Out of order or missing, these leave people without protection: what they serve is closed until somebody has looked.
PROTECTS = frozenset(
    {
        EquipmentKind.EYEWASH,
        EquipmentKind.EYEWASH_BOTTLE,
        EquipmentKind.LOCAL_EXHAUST,
        EquipmentKind.VENTILATION,
        EquipmentKind.APPLIANCE,
        EquipmentKind.RCD,
    }
)
STOPS = frozenset({FaultKind.OUT_OF_ORDER, FaultKind.DAMAGED, FaultKind.MISSING})
DUE_SOON = timedelta(days=14)  # house rule: said on Today so long before, where it is not a matter of days

# House rule: what was never checked counts as twice as far off as an ordinary one, which is common practice, no source.
ORDINARY_MICRO = {EquipmentKind.THERMOMETER: MICRO // 2, EquipmentKind.PH_METER: MICRO // 10}
NEVER_CHECKED = 2


def stops(kind: EquipmentKind, fault: FaultKind) -> bool:
    """Whether a fault closes what a piece serves until it is cleared."""
    return kind in PROTECTS and fault in STOPS


class EquipmentRefused(Refused):
    """The equipment, a check or a fault cannot be so; the message says why and what to do."""


@dataclass(frozen=True)
class Period:
    """How often something is checked, by whose rule, and whether a look is all it takes."""

    kind: EquipmentKind
    check: CheckKind
    number: int
    unit: str
    is_by_law: bool
    at_a_touch: bool
    source: str

    @property
    def every(self) -> str:
        if (self.number, self.unit) == (7, "days"):
            return "every week"
        if self.number % 12 == 0:
            years = self.number // 12
            return "every year" if years == 1 else f"every {years} years"
        return "every month" if self.number == 1 else f"every {self.number} {self.unit}"


@cache
def periods() -> Mapping[EquipmentKind, tuple[Period, ...]]:
    """How often each kind is checked, with the source of each period."""
    text = files("labsys.equipment").joinpath("data/checks.csv").read_text(encoding="utf-8")
    read = (
        Period(
            EquipmentKind(row["kind"]),
            CheckKind(row["check"]),
            int(row["number"]),
            row["unit"],
            row["by_law"] == "yes",
            row["at_a_touch"] == "yes",
            row["source"],
        )
        for row in csv.DictReader(text.splitlines())
    )
    return {kind: tuple(rows) for kind, rows in groupby(read, key=lambda period: period.kind)}


def period_of(kind: EquipmentKind, check: CheckKind) -> Period:
    """The period of a check. Raises EquipmentRefused where this kind is not checked so."""
    period = next((period for period in periods()[kind] if period.check is check), None)
    if period is None:
        raise EquipmentRefused(f"A {kind} has no {check}. Open its page and choose from there.")
    return period


def due_after(period: Period, done_on: date) -> date:
    """Return the last day by which a check is done again.

    >>> due_after(period_of(EquipmentKind.EYEWASH, CheckKind.RUN), date(2026, 2, 25)).isoformat()
    '2026-03-04'
    >>> due_after(period_of(EquipmentKind.BALANCE, CheckKind.READING), date(2024, 2, 29)).isoformat()
    '2025-02-28'
    """
    if period.check is CheckKind.EXAMINATION:
        return next_extraction_test(done_on)
    if period.unit == "days":
        return done_on + timedelta(days=period.number)
    month = done_on.month - 1 + period.number
    year, month = done_on.year + month // 12, month % 12 + 1
    return date(year, month, min(done_on.day, monthrange(year, month)[1]))


@dataclass(frozen=True)
class Due:
    """One check of one piece: when it was last done, with what outcome, and by when it is done next."""

    period: Period
    done_on: date | None
    has_passed: bool
    due_on: date

    @property
    def is_failed(self) -> bool:
        return self.done_on is not None and not self.has_passed

    def closes_on(self, grace_days: int | None) -> date:
        """The first day on which being overdue closes; a period of the law has no grace, nor one nobody set."""
        grace = 0 if self.period.is_by_law else grace_days or 0
        return self.due_on + timedelta(days=grace + 1)


def due(period: Period, *, done_on: date | None, has_passed: bool, added_on: date) -> Due:
    """A check as it stands; what was never done is due since the equipment was entered."""
    return Due(period, done_on, has_passed, added_on if done_on is None else due_after(period, done_on))


@dataclass(frozen=True)
class Counted:
    """How far off an instrument counts in sums, and why, in words."""

    off: float
    said: str


@dataclass(frozen=True)
class Instruments:
    """How far off the instruments of a lab count; None where none of a kind is entered."""

    thermometer: Counted | None = None
    balance: Counted | None = None
    step_g: float | None = None  # of the coarsest balance
    ph_meter: Counted | None = None


def off_micro(*, error_micro: int, doubt_micro: int) -> int:
    """How far off an instrument counts after a check: the error found, and what it was held against may be off."""
    return abs(error_micro) + doubt_micro


def counted(kind: EquipmentKind, offs: Sequence[int | None], *, never_micro: int) -> Counted | None:
    """How far off the lab's instruments of a kind count, when nobody says which is taken: as the worst of them.

    Parameters:
        kind: What they are. [-]
        offs: Of each in use, by its last check; None where it was never checked. [10⁻⁶ of its unit]
        never_micro: What one that was never checked counts for. [10⁻⁶ of its unit]
    Returns:
        The worst, and why; None where there is none. [its unit]
    Source:
        House rule: not known is never the better side.
    """
    if not offs:
        return None
    worst = max(never_micro if off is None else off for off in offs)
    unit = f" {INSTRUMENTS[kind]}".rstrip()
    plus_minus = f"± {worst / MICRO:g}{unit}"
    if None in offs and worst == never_micro:
        which = f"This {kind} was" if len(offs) == 1 else f"{offs.count(None)} of the lab's {len(offs)} {kind}s were"
        return Counted(
            worst / MICRO,
            f"{which} never checked, so how far off is not known: {plus_minus} counts, twice an ordinary one (house "
            "rule).",
        )
    whose = f"the lab's {kind}" if len(offs) == 1 else f"the worst of the lab's {len(offs)} {kind}s"
    return Counted(worst / MICRO, f"{plus_minus} by the last check of {whose}.")
