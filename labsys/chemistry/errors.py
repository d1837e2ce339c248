"""What a calculation may refuse, as errors that carry the facts; the caller finds the words for a page."""

import math
from dataclasses import dataclass, field
from fractions import Fraction

Number = int | float | Fraction


class CalculationError(ValueError):
    """A calculation was asked for something it has no standing to answer.

    Each kind is a dataclass of its facts, given by position so that it survives the way between processes, and compared
    by identity as exceptions are.
    """


@dataclass(eq=False)
class OutOfRange(CalculationError):
    """A value lies outside the range for which the calculation holds.

    `low` or `high` is None where that end is open; `low_included` is False where the value must be above `low`.
    """

    name: str
    value: Number
    low: Number | None
    high: Number | None
    unit: str = "-"
    low_included: bool = field(default=True, kw_only=True)

    def __str__(self) -> str:
        unit = "" if self.unit == "-" else f" {self.unit}"
        bounds = []
        if self.low is not None:
            bounds.append(f"{'at least' if self.low_included else 'above'} {_shown(self.low)}{unit}")
        if self.high is not None:
            bounds.append(f"at most {_shown(self.high)}{unit}")
        wanted = " and ".join(bounds) or "a finite number"
        return f"{self.name} is {_shown(self.value)}{unit}; it must be {wanted}"


def _shown(value: Number) -> str:
    return f"{float(value):g}"


def check_between(name: str, value: Number, low: Number | None, high: Number | None, unit: str = "-") -> None:
    """Raise OutOfRange unless the value is finite and low <= value <= high.

    Parameters:
        name: What the value is called, for the error. [-]
        value: The value, a scalar. [as `unit`]
        low: Least value allowed, or None. [as `unit`]
        high: Greatest value allowed, or None. [as `unit`]
        unit: Unit of value and bounds, "-" for none. [-]
    Returns:
        Nothing. [-]
    Raises:
        OutOfRange: Outside the range, infinite, or not a number.
    Source:
        House rule: out of range raises, never clamps.
    """
    inside = math.isfinite(value) and (low is None or value >= low) and (high is None or value <= high)
    if not inside:
        raise OutOfRange(name, value, low, high, unit)


def check_above(name: str, value: Number, low: Number, high: Number | None, unit: str = "-") -> None:
    """Raise OutOfRange unless the value is finite and low < value <= high.

    Parameters:
        name: What the value is called, for the error. [-]
        value: The value, a scalar. [as `unit`]
        low: The value must be greater than this. [as `unit`]
        high: Greatest value allowed, or None. [as `unit`]
        unit: Unit of value and bounds, "-" for none. [-]
    Returns:
        Nothing. [-]
    Raises:
        OutOfRange: Outside the range, infinite, or not a number.
    Source:
        House rule: out of range raises, never clamps.
    """
    if not (math.isfinite(value) and value > low and (high is None or value <= high)):
        raise OutOfRange(name, value, low, high, unit, low_included=False)
