"""Figures as suppliers' sheets state them: one figure, or a range with both its ends.

Kept as whole thousandths. Where only one end is given, the other is the end of what the figure can be at all.
"""

import re
from dataclasses import dataclass
from decimal import Decimal

from .errors import UnreadableFigure

_NUMBER = r"(\d{1,6}(?:[.,]\d{1,3})?)"
_SINGLE = re.compile(rf"(<=|>=|<|>|)({_NUMBER})")
_RANGE = re.compile(rf"(?:>=|>|){_NUMBER}-(?:<=|<|){_NUMBER}")
_ABOUT = re.compile(r"^(?:~|≈|ca\.?|approx\.?|about)\s*", re.IGNORECASE)
_MILLI = 1_000


@dataclass(frozen=True, order=True)
class Span:
    """A figure between two ends, both included; one figure has both the same."""

    low: float
    high: float

    @property
    def ends(self) -> tuple[float, ...]:
        """The ends to work, once where they are one."""
        return (self.low,) if self.low == self.high else (self.low, self.high)

    def __str__(self) -> str:
        return " to ".join(f"{end:.4g}" for end in self.ends)


def parse_span(text: str, *, lowest: float, highest: float, may_be_open: bool) -> tuple[int, int]:
    """Read a figure or a range of figures: `"10.2"`, `"10-11"`, `"> 12"`, `"ca. 1,05"`.

    Parameters:
        text: The figure as typed. [-]
        lowest: The least it can be; an open lower end ends there. [-]
        highest: The most it can be; an open upper end ends there. [-]
        may_be_open: Whether one end may be left out. [-]
    Returns:
        The lowest and the highest, in thousandths. [-]
    Raises:
        UnreadableFigure: Not a figure or a range, typed backwards, or beyond what it can be; the reason says which.

    >>> parse_span("10-11.5", lowest=0, highest=14, may_be_open=True)
    (10000, 11500)
    >>> parse_span("> 12", lowest=0, highest=14, may_be_open=True)
    (12000, 14000)
    """
    plain = _ABOUT.sub("", text.strip()).replace("≤", "<=").replace("≥", ">=")
    for dash in ("–", "—", "−", " to ", "…"):
        plain = plain.replace(dash, "-")
    plain = re.sub(r"\s", "", plain)
    bounds = round(lowest * _MILLI), round(highest * _MILLI)
    if both := _RANGE.fullmatch(plain):
        low, high = _milli(both[1]), _milli(both[2])
    elif single := _SINGLE.fullmatch(plain):
        sign, stated = single[1], _milli(single[2])
        if sign and not may_be_open:
            raise UnreadableFigure(text, "give both ends of the range")
        low = bounds[0] if sign.startswith("<") and stated >= bounds[0] else stated
        high = bounds[1] if sign.startswith(">") and stated <= bounds[1] else stated
    else:
        raise UnreadableFigure(text, "write a figure, or a range such as 10-11")
    if low > high:
        raise UnreadableFigure(text, "the range is typed backwards: the low end comes first")
    if low < bounds[0] or high > bounds[1]:
        raise UnreadableFigure(text, f"it lies between {lowest:g} and {highest:g}")
    return low, high


def _milli(figure: str) -> int:
    return int(Decimal(figure.replace(",", ".")) * _MILLI)
