"""Contents as suppliers' sheets declare them: one figure, a range, or a limit on one side.

Kept as whole parts per million by mass (10 000 ppm are 1 %), so that "< 1 %" can say what it means: at most 9 999 ppm.
The high end counts in every calculation (a content known only as a range is taken at its upper end).
"""

import re
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from .errors import UnreadableConcentration, check_between

PPM_PER_PERCENT = 10_000
_WHOLE_PPM = 100 * PPM_PER_PERCENT
_NUMBER = r"(\d+(?:[.,]\d+)?)"
_SIGN = r"(<=|>=|<|>)?"
_RANGE = re.compile(rf"{_SIGN}{_NUMBER}%?-{_SIGN}{_NUMBER}%?")
_SINGLE = re.compile(rf"{_SIGN}{_NUMBER}%?")
_WITH_ERROR = re.compile(rf"{_NUMBER}%?(?:±|\+/-|\+-){_NUMBER}%?")
_BASIS = re.compile(r"\(?(?:w/w|m/m|wt\.?|by weight|by mass)\)?")


@dataclass(frozen=True)
class Concentration:
    """A content between two whole numbers of parts per million by mass, both ends included."""

    low_ppm: int
    high_ppm: int

    def __post_init__(self) -> None:
        check_between("low_ppm", self.low_ppm, 0, _WHOLE_PPM)
        check_between("high_ppm", self.high_ppm, self.low_ppm, _WHOLE_PPM)

    @property
    def low_percent(self) -> float:
        """The least content. [% w/w]"""
        return self.low_ppm / PPM_PER_PERCENT

    @property
    def high_percent(self) -> float:
        """The most it can be; this end counts. [% w/w]"""
        return self.high_ppm / PPM_PER_PERCENT

    def __str__(self) -> str:
        if self.low_ppm == self.high_ppm:
            return f"{self.high_percent:g} %"
        tidy_limit = (self.high_ppm + 1) % 100 == 0  # a sheet's "< 1 %" is kept as 9 999 ppm and shown as it came
        high = f"<{(self.high_ppm + 1) / PPM_PER_PERCENT:g} %" if tidy_limit else f"{self.high_percent:g} %"
        return high if tidy_limit and self.low_ppm == 0 else f"{self.low_percent:g}–{high}"


def parse_concentration(text: str) -> Concentration:
    """Read a content as a sheet prints it: `"5-10 %"`, `"< 1 %"`, `">= 25 %"`, `"7 %"`, `"≥ 1 - < 5 % w/w"`,
    `"0.97 ± 0.05 %"`.

    An open end is read to the nearest whole part per million inside it. A figure finer than that is widened outwards.
    A comma is read as a decimal comma. "% w/w" is understood and assumed; other bases are refused.

    Parameters:
        text: The content as typed. [-]
    Returns:
        The lowest and highest content. [ppm by mass]
    Raises:
        UnreadableConcentration: Not a content, typed backwards, or above 100 %; the reason says which.
    Source:
        CLP Article 10 and Annex I work with % by mass; the upper end of a range counts (read in enviprofi.cz 4.8.6.2).

    >>> parse_concentration("5-10 %")
    Concentration(low_ppm=50000, high_ppm=100000)
    >>> parse_concentration("< 1 %").high_ppm
    9999
    >>> parse_concentration("0.97 ± 0.05 %")
    Concentration(low_ppm=9200, high_ppm=10200)
    """
    plain = _plain(text)
    if match := _RANGE.fullmatch(plain):
        low_sign, low, high_sign, high = match.groups()
        if low_sign in ("<", "<=") or high_sign in (">", ">="):
            raise UnreadableConcentration(text, "the signs of the two ends point the wrong way")
        lowest = _least_ppm(low, exclusive=low_sign == ">")
        highest = _most_ppm(high, exclusive=high_sign == "<")
        if _ppm(low) > _ppm(high):
            raise UnreadableConcentration(text, "the range is typed backwards: the low end comes first")
    elif match := _WITH_ERROR.fullmatch(plain):
        middle, error = (Decimal(each.replace(",", ".")) for each in match.groups())
        if error > middle:
            raise UnreadableConcentration(text, "the error is larger than the figure")
        lowest = _least_ppm(str(middle - error), exclusive=False)
        highest = _most_ppm(str(middle + error), exclusive=False)
    elif match := _SINGLE.fullmatch(plain):
        sign, figure = match.groups()
        lowest = 0 if sign in ("<", "<=") else _least_ppm(figure, exclusive=sign == ">")
        highest = _WHOLE_PPM if sign in (">", ">=") else _most_ppm(figure, exclusive=sign == "<")
    else:
        raise UnreadableConcentration(text, 'write a figure or a range in % by mass, such as "5-10 %"')
    if max(lowest, highest) > _WHOLE_PPM:
        raise UnreadableConcentration(text, "nothing holds more than 100 %")
    if lowest > highest:
        raise UnreadableConcentration(text, "no content fits between the two ends")
    return Concentration(lowest, highest)


def _plain(text: str) -> str:
    lowered = text.lower().replace("≤", "<=").replace("≥", ">=")
    if "w/v" in lowered or "v/v" in lowered or "g/l" in lowered:
        raise UnreadableConcentration(text, "give % by mass; divide % w/v by the density in g/mL")
    for dash in ("–", "—", "−", " to ", "…", "..."):
        lowered = lowered.replace(dash, "-")
    return re.sub(r"\s", "", _BASIS.sub("", lowered))


def _least_ppm(figure: str, *, exclusive: bool) -> int:
    whole = int(_ppm(figure).to_integral_value(ROUND_FLOOR))
    return whole + 1 if exclusive else whole


def _most_ppm(figure: str, *, exclusive: bool) -> int:
    whole = int(_ppm(figure).to_integral_value(ROUND_CEILING))
    return whole - 1 if exclusive else whole


def _ppm(figure: str) -> Decimal:
    return Decimal(figure.replace(",", ".")) * PPM_PER_PERCENT
