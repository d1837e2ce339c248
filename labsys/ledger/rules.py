"""What makes a movement: lines that sum to zero per unit."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from labsys.ledger.models import Account, Unit, Vessel
from labsys.quantities import show_mass, show_volume
from labsys.records.errors import Refused


class Unbalanced(ValueError):
    """The lines of a movement do not sum to zero; a fault of the caller, never of a person."""


class LevelRefused(Refused):
    """The vessel holds too little for this, or has too little room."""

    def __init__(self, *, vessel_id: int, unit: Unit, change: int, level: int, capacity: int):
        moved = show(abs(change), unit)
        if change < 0:
            message = f"It holds {show(level, unit)}: less than the {moved} to be taken out."
        else:
            message = f"It has room for {show(capacity - level, unit)}: less than the {moved} to go in."
        super().__init__(message)
        self.vessel_id = vessel_id
        self.unit = unit
        self.change = change
        self.level = level
        self.capacity = capacity


@dataclass(frozen=True)
class MovementLine:
    """One amount into (above zero) or out of (below zero) a vessel or an account."""

    where: Vessel | Account
    amount: int
    unit: Unit = Unit.UL


def check_lines(lines: Iterable[MovementLine]) -> None:
    """Raise Unbalanced unless the lines sum to zero in each unit and each vessel is spoken of in its own unit."""
    sums: Counter[Unit] = Counter()
    for line in lines:
        if isinstance(line.where, Vessel) and line.where.unit != line.unit:
            raise Unbalanced(f"vessel {line.where.id} is counted in {line.where.unit}, not in {line.unit}")
        sums[line.unit] += line.amount
    if any(sums.values()):
        raise Unbalanced(f"the lines sum to {dict(sums)}")


def show(amount: int, unit: Unit) -> str:
    return show_volume(amount) if unit is Unit.UL else show_mass(amount)
