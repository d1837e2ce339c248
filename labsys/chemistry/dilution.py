"""Trade dilutions: reading them, and splitting a volume into concentrate and water without a rounding loss.

The one stored notation is `1+N`: one part of concentrate plus N parts of water. Volumes are taken as additive; the
contraction when photographic concentrates meet water is below the limits of a measuring cylinder (common practice).
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from labsys.chemistry.errors import CalculationError, Number, OutOfRange, check_above, check_between

MOST_WATER_PARTS = 1000  # weaker than this is a slip of the pen, not a photographic solution (common practice)
MOST_CONCENTRATES = 3
LARGEST_ML = 1_000_000  # a cubic metre in one mix is a slip of the pen, too


@dataclass(frozen=True, slots=True)
class Dilution:
    """One part of concentrate plus `water_parts` parts of water, held exactly; 0 is undiluted stock.

    A solution in two parts has two concentrates: `concentrates` holds the share of each in all of the concentrate.
    """

    water_parts: Fraction
    concentrates: tuple[Fraction, ...]

    def __init__(self, water_parts: Fraction | Decimal | int, concentrates: Sequence[Fraction | int] = (1,)) -> None:
        if isinstance(water_parts, float):
            raise TypeError("a dilution is exact: give an int, Decimal or Fraction, not a float")
        if isinstance(water_parts, Decimal) and not water_parts.is_finite():
            raise OutOfRange("water_parts", float(water_parts), 0, MOST_WATER_PARTS)
        exact = Fraction(water_parts)
        check_between("water_parts", exact, 0, MOST_WATER_PARTS)
        object.__setattr__(self, "water_parts", exact)
        whole = Fraction(sum(concentrates))
        object.__setattr__(self, "concentrates", tuple(part / whole for part in concentrates))

    @property
    def total_parts(self) -> Fraction:
        """All parts together, N+1. [-]"""
        return self.water_parts + 1

    @property
    def strength(self) -> Fraction:
        """Volume fraction of concentrate in the working solution, 1/(N+1). [-]"""
        return 1 / self.total_parts

    @property
    def is_stock(self) -> bool:
        """Whether no water is added."""
        return self.water_parts == 0

    @property
    def is_in_parts(self) -> bool:
        """Whether there is more than one concentrate."""
        return len(self.concentrates) > 1

    def each(self, concentrate_ml: Fraction) -> tuple[Fraction, ...]:
        """Return how much of each concentrate makes up an amount of all of them.

        Parameters:
            concentrate_ml: All of the concentrate. [mL]
        Returns:
            A, B and so on; the amount itself where there is one. [mL]
        Source:
            A = B = V/(N+2) for 1+1+N: common practice, no source.
        """
        return tuple(share * concentrate_ml for share in self.concentrates)

    def __str__(self) -> str:
        """Unambiguous notation that reads back as the same dilution: "stock", "1+6", "1+1.5", "3+97" or "1+1+100"."""
        if self.is_in_parts:
            first = self.concentrates[0]
            parts = (*(share / first for share in self.concentrates), self.water_parts / first)
            scale = math.lcm(*(1 if _ends(part) else part.denominator for part in parts))
            return "+".join(_decimal(part * scale) for part in parts)
        if self.is_stock:
            return "stock"
        water, concentrate = self.water_parts.as_integer_ratio()
        if not _ends(self.water_parts):  # 1+32.333... never ends; 3+97 says the same exactly
            return f"{concentrate}+{water}"
        return f"1+{_decimal(self.water_parts)}"


def _ends(part: Fraction) -> bool:
    """Whether a number ends when it is written as a decimal."""
    without_twos_and_fives = part.denominator
    for prime in (2, 5):
        while without_twos_and_fives % prime == 0:
            without_twos_and_fives //= prime
    return without_twos_and_fives == 1


def _decimal(part: Fraction) -> str:
    return f"{(Decimal(part.numerator) / Decimal(part.denominator)).normalize():f}"


@dataclass(eq=False)
class UnreadableDilution(CalculationError):
    """The text is none of the notations known here."""

    text: str

    def __str__(self) -> str:
        return f'cannot read "{self.text}" as a dilution; write 1+N, 1+1+N, stock, or an amount such as 10 mL/L or 5 %'


@dataclass(eq=False)
class AmbiguousDilution(CalculationError):
    """The text is `1:N`, which means 1+N in most darkrooms and 1 in N in a pharmacy; someone has to choose.

    `plus` reads it as parts of water, `made_up_to` as total parts.
    """

    text: str
    plus: Dilution
    made_up_to: Dilution

    @property
    def strength_ratio(self) -> Fraction:
        """How many times stronger the second reading is than the first, (N+1)/N. [-]"""
        return self.made_up_to.strength / self.plus.strength

    def at(self, *, working_ml: Number) -> tuple["Parts", "Parts"]:
        """Return what each reading gives for one volume: parts of water first, total parts second.

        Parameters:
            working_ml: Volume of working solution, above 0, at most 1 000 000. [mL]
        Returns:
            The two splits. [mL]
        Raises:
            OutOfRange: The volume is out of range.
        Source:
            As `split`.
        """
        return split(dilution=self.plus, working_ml=working_ml), split(dilution=self.made_up_to, working_ml=working_ml)

    def __str__(self) -> str:
        return (
            f'"{self.text}" can be read two ways: {self.plus} ({_percent(self.plus)} concentrate) or {self.made_up_to} '
            f"({_percent(self.made_up_to)} concentrate); write the one meant"
        )


@dataclass(frozen=True, slots=True)
class Parts:
    """Concentrate and water that make a working volume; exact, so the two always add up to the third. [mL]"""

    concentrate_ml: Fraction
    water_ml: Fraction
    working_ml: Fraction


_NUMBER = r"(\d{1,9}(?:\.\d{1,9})?)"
_PLUS = re.compile(rf"{_NUMBER}\s*\+\s*{_NUMBER}")
_PARTS = re.compile(rf"{_NUMBER}(?:\s*([+:])\s*{_NUMBER})(?:\s*\2\s*{_NUMBER})+")
_RATIO = re.compile(rf"{_NUMBER}\s*(?::|/|to)\s*{_NUMBER}", re.IGNORECASE)
_IN = re.compile(rf"{_NUMBER}\s+in\s+{_NUMBER}", re.IGNORECASE)
_PER_LITRE = re.compile(rf"{_NUMBER}\s*ml\s*(?:/|per)\s*(?:l|litres?|liters?)", re.IGNORECASE)
_PERCENT = re.compile(rf"{_NUMBER}\s*%(?:\s*v/v)?", re.IGNORECASE)
_UNDILUTED = frozenset({"stock", "undiluted", "neat", "full strength"})


def parse_dilution(text: str) -> Dilution:
    """Read a dilution as the trade writes it.

    Read are `1+6` and other parts of concentrate plus water (`3+97`), `stock` or `undiluted`, `10 mL/L`, `5 %` by
    volume, `1 in 10` (one part made up to ten), and `1+1+100` for concentrates A and B and water, which `1:1:100` says
    as well. `1:4` is never read silently.

    Parameters:
        text: What a person typed, at most 40 characters. [-]
    Returns:
        The dilution. [-]
    Raises:
        AmbiguousDilution: For `1:N`, `1/N` and `1 to N`, with both readings.
        UnreadableDilution: For anything else that is not one of the notations above.
        OutOfRange: A readable dilution with more than 1000 parts of water to one of concentrate, or with more
            concentrate than solution.
    Source:
        `1+N` and mL/L: common practice, no source. "1 in 10" as one part made up to ten: United States Pharmacopeia
        37, General Notices 6.50.20, which reads "(20:5:2)" as parts mixed. That `1:N` must not be computed: the two
        readings differ by (N+1)/N in strength.

    >>> str(parse_dilution("10 ml/L"))
    '1+99'
    >>> parse_dilution("1:4")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    labsys.chemistry.dilution.AmbiguousDilution: "1:4" can be read two ways: 1+4 (20 % concentrate) or 1+3 (25 % ...
    """
    cleaned = " ".join(text.split())
    if len(cleaned) > 40:
        raise UnreadableDilution(text)
    if cleaned.lower() in _UNDILUTED:
        return Dilution(0)
    if match := _PLUS.fullmatch(cleaned):
        return Dilution(_water_per_concentrate(text, *match.groups()))
    if _PARTS.fullmatch(cleaned):
        return _in_parts(text, [Fraction(part) for part in re.split(r"\s*[+:]\s*", cleaned)])
    if match := _IN.fullmatch(cleaned):
        return Dilution(_water_per_concentrate(text, *match.groups()) - 1)
    if match := _PER_LITRE.fullmatch(cleaned):
        return Dilution(_water_per_concentrate(text, match[1], "1000") - 1)
    if match := _PERCENT.fullmatch(cleaned):
        return Dilution(_water_per_concentrate(text, match[1], "100") - 1)
    if match := _RATIO.fullmatch(cleaned):
        ratio = _water_per_concentrate(text, *match.groups())
        if ratio >= 1:
            raise AmbiguousDilution(cleaned, Dilution(ratio), Dilution(ratio - 1))
    raise UnreadableDilution(text)


def _in_parts(text: str, parts: Sequence[Fraction]) -> Dilution:
    *concentrates, water = parts
    if not all(concentrates) or len(concentrates) > MOST_CONCENTRATES:
        raise UnreadableDilution(text)
    return Dilution(water / sum(concentrates), concentrates)


def _water_per_concentrate(text: str, concentrate: str, other: str) -> Fraction:
    if Fraction(concentrate) == 0:
        raise UnreadableDilution(text)
    return Fraction(other) / Fraction(concentrate)


def split(*, dilution: Dilution, working_ml: Number) -> Parts:
    """Split a volume of working solution into concentrate and water.

    concentrate = V/(N+1), water = V - concentrate. The result is exact: the parts add up to the volume asked for.

    Parameters:
        dilution: How the concentrate is diluted. [-]
        working_ml: Volume of working solution, a scalar above 0, at most 1 000 000. [mL]
    Returns:
        Concentrate, water and working volume. [mL]
    Raises:
        OutOfRange: The volume is out of range.
    Source:
        Arithmetic of the notation; additive volumes are common practice, no source.

    >>> parts = split(dilution=parse_dilution("1+4"), working_ml=2500)
    >>> float(parts.concentrate_ml), float(parts.water_ml)
    (500.0, 2000.0)
    """
    check_above("working_ml", working_ml, 0, LARGEST_ML, "mL")
    working = Fraction(working_ml)
    concentrate = working / dilution.total_parts
    return Parts(concentrate_ml=concentrate, water_ml=working - concentrate, working_ml=working)


def split_ul(*, dilution: Dilution, working_ul: int) -> tuple[int, int]:
    """Split a volume into whole microlitres of concentrate and water that add up to it.

    The concentrate is rounded to the nearest microlitre, a half to the even one; the water is the rest.

    Parameters:
        dilution: How the concentrate is diluted. [-]
        working_ul: Volume of working solution, a whole number above 0. [µL]
    Returns:
        Concentrate and water. [µL]
    Raises:
        OutOfRange: The volume is out of range.
    Source:
        As `split`.

    >>> split_ul(dilution=parse_dilution("1+6"), working_ul=2_500_000)
    (357143, 2142857)
    """
    check_above("working_ul", working_ul, 0, LARGEST_ML * 1000, "µL")
    concentrate = round(Fraction(working_ul) / dilution.total_parts)
    return concentrate, working_ul - concentrate


def working_from_concentrate(*, dilution: Dilution, concentrate_ml: Number) -> Parts:
    """Return the working solution that an amount of concentrate makes, V = concentrate * (N+1).

    Parameters:
        dilution: How the concentrate is diluted. [-]
        concentrate_ml: Concentrate at hand, a scalar above 0, at most 1 000 000. [mL]
    Returns:
        Concentrate, water and working volume. [mL]
    Raises:
        OutOfRange: The amount is out of range.
    Source:
        Inverse of `split`.

    >>> float(working_from_concentrate(dilution=parse_dilution("1+19"), concentrate_ml=125).working_ml)
    2500.0
    """
    check_above("concentrate_ml", concentrate_ml, 0, LARGEST_ML, "mL")
    concentrate = Fraction(concentrate_ml)
    working = concentrate * dilution.total_parts
    return Parts(concentrate_ml=concentrate, water_ml=working - concentrate, working_ml=working)


def in_series(*, steps: Sequence[Dilution]) -> Dilution:
    """Return the one dilution that equals several made one after the other.

    (1 + N) of the whole is the product of (1 + N) of the steps.

    Parameters:
        steps: The dilutions, the one that may have two concentrates first; none at all is stock. [-]
    Returns:
        The dilution from the first concentrate to the last solution. [-]
    Raises:
        OutOfRange: The whole has more than 1000 parts of water.
    Source:
        Arithmetic of the notation.

    >>> str(in_series(steps=[parse_dilution("1+1"), parse_dilution("1+3")]))
    '1+7'
    """
    total = Fraction(1)
    for step in steps:
        total *= step.total_parts
    return Dilution(total - 1, steps[0].concentrates if steps else (1,))


def split_to_percent(*, from_percent: Number, to_percent: Number, working_ml: Number) -> Parts:
    """Weaken a solution from one percentage to another of the same kind, C1*V1 = C2*V2.

    Both percentages must be of the same kind (by volume, or mass in volume); volumes are taken as additive.

    Parameters:
        from_percent: Strength of the solution at hand, above 0, at most 200 (mass in volume may pass 100). [%]
        to_percent: Strength wanted, above 0, at most `from_percent`. [%]
        working_ml: Volume wanted, a scalar above 0, at most 1 000 000. [mL]
    Returns:
        The stronger solution, water, and their sum. [mL]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        US Army subcourse SS0513, Photographic Quality Control, ed. 9 (1988): 32 fl oz of 28 % acid from 99.5 %.

    >>> round(float(split_to_percent(from_percent=99.5, to_percent=28, working_ml=1000).concentrate_ml), 1)
    281.4
    """
    check_above("from_percent", from_percent, 0, 200, "%")
    check_above("to_percent", to_percent, 0, from_percent, "%")
    return split(dilution=Dilution(Fraction(from_percent) / Fraction(to_percent) - 1), working_ml=working_ml)


def _percent(dilution: Dilution) -> str:
    return f"{float(100 * dilution.strength):.3g} %"
