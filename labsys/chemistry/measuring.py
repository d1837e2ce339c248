"""Measuring cylinders: which to use, what to read, and how far off the strength of the mix may be."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from labsys.chemistry.dilution import LARGEST_ML
from labsys.chemistry.errors import CalculationError, check_above, check_between


class Standard(StrEnum):
    """Whose limits of error a cylinder keeps to."""

    ISO_4788 = "iso_4788"
    ASTM_E1272 = "astm_e1272"


class CylinderClass(StrEnum):
    """Accuracy class of a cylinder; UNMARKED is a graduate or jug that states none."""

    A = "a"
    B = "b"
    UNMARKED = "unmarked"


@dataclass(frozen=True, slots=True)
class Limits:
    """A row of a standard: scale divisions in use, and the largest error allowed at any point of the scale. [mL]"""

    divisions_ml: tuple[float, ...]
    class_a_ml: float
    class_b_ml: float


# ISO 4788 from memory; the pattern (B one division, A half of it) agrees with ASTM E1272 up to 250 mL. ASTM E1272-02
# (2012), Table 1, as read up to 500 mL; the limits for 1000 and 2000 mL and the 2000 mL division are from memory.
LIMITS: dict[Standard, dict[int, Limits]] = {
    Standard.ISO_4788: {
        10: Limits((0.2,), 0.1, 0.2),
        25: Limits((0.5,), 0.25, 0.5),
        50: Limits((1,), 0.5, 1),
        100: Limits((1,), 0.5, 1),
        250: Limits((2,), 1, 2),
        500: Limits((5,), 2.5, 5),
        1000: Limits((10,), 5, 10),
        2000: Limits((20,), 10, 20),
    },
    Standard.ASTM_E1272: {
        10: Limits((0.1, 0.2), 0.10, 0.20),
        25: Limits((0.2, 0.5), 0.17, 0.34),
        50: Limits((1,), 0.25, 0.50),
        100: Limits((1,), 0.50, 1.00),
        250: Limits((2,), 1.00, 2.00),
        500: Limits((5,), 2.00, 4.00),
        1000: Limits((10,), 3.0, 6.0),
        2000: Limits((20,), 6.0, 12.0),
    },
}
LOWEST_MARK_SHARE = 0.1  # the lowest line stands at a tenth of the capacity: ISO 4788, from memory
UNMARKED_DIVISIONS = 2  # an unmarked graduate is trusted to two of its divisions (common practice, no source)


@dataclass(eq=False)
class NotInStandard(CalculationError):
    """The standard has no cylinder of this capacity; describe it as unmarked."""

    nominal_ml: float
    standard: Standard

    def __str__(self) -> str:
        return f"{self.standard} gives no limits for a {self.nominal_ml:g} mL cylinder"


@dataclass(eq=False)
class CannotMeasure(CalculationError):
    """No cylinder at hand can measure this volume: none is owned, or it lies on the scale of none that is."""

    volume_ml: float
    lowest_ml: float | None

    def __str__(self) -> str:
        if self.lowest_ml is None:
            return f"no measuring cylinder is entered to measure {self.volume_ml:g} mL with"
        if self.volume_ml >= self.lowest_ml:
            return f"{self.volume_ml:.4g} mL cannot be read on the cylinders here: take another one"
        return (
            f"{self.volume_ml:.4g} mL is under the lowest mark of the cylinders here, {self.lowest_ml:g} mL: "
            "take a pipette or a syringe"
        )


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A measuring cylinder somebody owns; `least_ml` is the lowest mark of its scale, where that was looked at. [mL]

    `is_kept` says that it is kept for the kind of solution that is to be measured. `off_ml` is how far off it counts
    where its owner checked it, or knows that nobody did; without it, what its class allows.
    """

    nominal_ml: float
    division_ml: float
    accuracy_class: CylinderClass
    standard: Standard = Standard.ISO_4788
    least_ml: float | None = None
    is_kept: bool = False
    off_ml: float | None = None

    def __post_init__(self) -> None:
        check_above("nominal_ml", self.nominal_ml, 0, 10_000, "mL")
        check_above("division_ml", self.division_ml, 0, self.nominal_ml, "mL")
        if self.least_ml is not None:
            check_above("least_ml", self.least_ml, 0, self.nominal_ml, "mL")
        if self.off_ml is not None:
            check_between("off_ml", self.off_ml, 0, self.nominal_ml, "mL")
        if self.accuracy_class is not CylinderClass.UNMARKED and self.nominal_ml not in LIMITS[self.standard]:
            raise NotInStandard(self.nominal_ml, self.standard)

    @property
    def limit_ml(self) -> float:
        """Largest error at any point of the scale. [mL]"""
        if self.off_ml is not None:
            return self.off_ml
        if self.accuracy_class is CylinderClass.UNMARKED:
            return UNMARKED_DIVISIONS * self.division_ml
        row = LIMITS[self.standard][int(self.nominal_ml)]
        return row.class_a_ml if self.accuracy_class is CylinderClass.A else row.class_b_ml

    @property
    def lowest_ml(self) -> float:
        """The lowest mark of its scale; nothing under it can be read. [mL]"""
        return LOWEST_MARK_SHARE * self.nominal_ml if self.least_ml is None else self.least_ml

    def takes(self, volume_ml: float) -> bool:
        """Return whether a volume lies on its scale.

        Parameters:
            volume_ml: Volume, 0 or more. [mL]
        Returns:
            True from the lowest mark to the highest. [-]
        Source:
            A tenth of the capacity as the lowest mark: ISO 4788, from memory.

        >>> Cylinder(100, 1, CylinderClass.B).takes(9), Cylinder(100, 1, CylinderClass.B).takes(10)
        (False, True)
        """
        return self.lowest_ml <= volume_ml <= self.nominal_ml

    def nearest_reading_ml(self, volume_ml: float) -> float:
        """Return the graduation nearest to a volume, which is all a hand can aim for.

        Parameters:
            volume_ml: Volume wanted, from 0 to the nominal capacity. [mL]
        Returns:
            A whole number of divisions, never under the lowest mark; a volume half-way goes to the even one. [mL]
        Raises:
            OutOfRange: The volume does not fit.
        Source:
            Common practice, no source: read to the nearest graduation, bottom of the meniscus at eye level.

        >>> Cylinder(500, 5, CylinderClass.B).nearest_reading_ml(357.14)
        355
        """
        check_between("volume_ml", volume_ml, 0, self.nominal_ml, "mL")
        return max(self.lowest_ml, round(round(volume_ml / self.division_ml) * self.division_ml, 3))


@dataclass(frozen=True, slots=True)
class Fill:
    """One cylinder filled to one graduation, a number of times. [mL]"""

    cylinder: Cylinder
    times: int
    reading_ml: float


@dataclass(frozen=True, slots=True)
class Reading:
    """What to pour, and how far the result may be from the volume wanted. [mL]"""

    wanted_ml: float
    fills: tuple[Fill, ...]

    @property
    def reading_ml(self) -> float:
        """What the graduations read in all. [mL]"""
        return round(sum(fill.times * fill.reading_ml for fill in self.fills), 3)

    @property
    def rounding_ml(self) -> float:
        """How far the nearest graduations are from the volume wanted; known, and the same each time. [mL]"""
        return abs(self.reading_ml - self.wanted_ml)

    @property
    def worst_error_ml(self) -> float:
        """Every fill off by its limit in the same direction, and the rounding on top. [mL]"""
        return sum(fill.times * fill.cylinder.limit_ml for fill in self.fills) + self.rounding_ml

    @property
    def likely_error_ml(self) -> float:
        """Root-sum-square of the limits of all fills, and the rounding on top. [mL]"""
        return math.sqrt(sum(fill.times * fill.cylinder.limit_ml**2 for fill in self.fills)) + self.rounding_ml

    @property
    def worst_share(self) -> float:
        """Worst error as a share of the volume wanted. [-]"""
        return self.worst_error_ml / self.wanted_ml

    @property
    def in_words(self) -> str:
        """Say how often to fill which cylinder to which mark."""
        parts = [
            f"{f'{fill.times} times ' if fill.times > 1 else ''}the {fill.cylinder.nominal_ml:g} mL cylinder "
            f"to {fill.reading_ml:g} mL"
            for fill in self.fills
        ]
        return f"Fill {', then '.join(parts)}."

    @property
    def likely_share(self) -> float:
        """Likely error as a share of the volume wanted. [-]"""
        return self.likely_error_ml / self.wanted_ml


def choose_cylinder(*, volume_ml: float, owned: Sequence[Cylinder]) -> Reading:
    """Choose from the cylinders owned, and say what to read.

    Of those that hold the volume, the one with the narrowest limit is taken, the smaller of equals: with standard
    cylinders that is the smallest that holds it. A volume larger than any is measured in full fills of the largest,
    and the rest in whichever suits it; where the rest is under every lowest mark, it goes with the last full fill into
    two equal ones. What falls between two cylinders is measured in fills of the smaller. No cylinder is asked for less
    than its lowest mark. Cylinders kept for the kind are taken alone, unless all of those at hand err less.

    Parameters:
        volume_ml: Volume wanted, a scalar above 0, at most 1 000 000. [mL]
        owned: The cylinders at hand, in any order. [mL]
    Returns:
        Cylinders, number of fills, graduations and errors. [mL]
    Raises:
        OutOfRange: The volume is out of range.
        CannotMeasure: No cylinder is owned, or the volume lies on the scale of none.
    Source:
        That the limit is the same at any point of the scale: ISO 4788:2005, clause on accuracy (read in extract).
        Smallest cylinder that holds the volume: common practice, no source.

    >>> shelf = [Cylinder(25, 0.5, CylinderClass.B), Cylinder(250, 2, CylinderClass.B)]
    >>> reading = choose_cylinder(volume_ml=120, owned=shelf)
    >>> reading.fills[0].cylinder.nominal_ml, reading.reading_ml, round(100 * reading.worst_share, 2)
    (250, 120, 1.67)
    """
    check_above("volume_ml", volume_ml, 0, LARGEST_ML, "mL")
    if not owned:
        raise CannotMeasure(volume_ml, None)
    kept = [cylinder for cylinder in owned if cylinder.is_kept]
    readings = [reading for shelf in (kept, owned) if (reading := _from_shelf(volume_ml, shelf))]
    if not readings:
        raise CannotMeasure(volume_ml, min(cylinder.lowest_ml for cylinder in owned))
    return min(readings, key=lambda reading: reading.worst_error_ml)  # the first of equals: that of the kept ones


def _from_shelf(volume_ml: float, owned: Sequence[Cylinder]) -> Reading | None:
    """What to read on these cylinders; without the largest where its scale begins too high."""
    if not owned:
        return None
    largest = max(owned, key=lambda cylinder: (cylinder.nominal_ml, -cylinder.limit_ml))
    full_fills = max(0, math.ceil(volume_ml / largest.nominal_ml) - 1)
    rest_ml = volume_ml - full_fills * largest.nominal_ml
    if best := _best(owned, rest_ml):
        rest = best.nearest_reading_ml(rest_ml)
        if full_fills and best == largest and rest == largest.nominal_ml:
            return Reading(volume_ml, (Fill(largest, full_fills + 1, rest),))
        full = (Fill(largest, full_fills, largest.nominal_ml),) if full_fills else ()
        return Reading(volume_ml, (*full, Fill(best, 1, rest)))
    if full_fills and rest_ml <= largest.division_ml / 2:  # what nobody reads is no reason to fill twice
        return Reading(volume_ml, (Fill(largest, full_fills, largest.nominal_ml),))
    half_ml = (largest.nominal_ml + rest_ml) / 2
    if not full_fills or not (best := _best(owned, half_ml)):
        return _from_shelf(volume_ml, [cylinder for cylinder in owned if cylinder.nominal_ml < largest.nominal_ml])
    full = (Fill(largest, full_fills - 1, largest.nominal_ml),) if full_fills > 1 else ()
    return Reading(volume_ml, (*full, Fill(best, 2, best.nearest_reading_ml(half_ml))))


def _best(owned: Sequence[Cylinder], volume_ml: float) -> Cylinder | None:
    """The cylinder with the narrowest limit of those on whose scale a volume lies."""
    fitting = [cylinder for cylinder in owned if cylinder.takes(volume_ml)]
    return min(
        fitting, key=lambda cylinder: (cylinder.limit_ml, cylinder.nominal_ml, not cylinder.is_kept), default=None
    )


@dataclass(frozen=True, slots=True)
class StrengthError:
    """How far the strength of a mix may be from the one wanted, as shares of it. [-]"""

    worst: float
    likely: float


def strength_error(
    *, concentrate_ml: float, concentrate_error_ml: float, water_ml: float, water_error_ml: float
) -> StrengthError:
    """Return the error in strength when concentrate and water are measured apart and poured together.

    dS/S = (1-S) * (ec/Vc + ew/Vw) at worst; root-sum-square of the same two terms is the likely error.

    Parameters:
        concentrate_ml: Concentrate measured, above 0. [mL]
        concentrate_error_ml: Limit of error of that measurement, 0 or more. [mL]
        water_ml: Water measured, above 0. [mL]
        water_error_ml: Limit of error of that measurement, 0 or more. [mL]
    Returns:
        Worst and likely share. [-]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        First-order error propagation of S = Vc / (Vc + Vw).

    >>> error = strength_error(concentrate_ml=20, concentrate_error_ml=0.5, water_ml=480, water_error_ml=5)
    >>> round(error.worst, 4), round(error.likely, 4)
    (0.034, 0.026)
    """
    for name, value in (("concentrate_ml", concentrate_ml), ("water_ml", water_ml)):
        check_above(name, value, 0, LARGEST_ML, "mL")
    for name, value in (("concentrate_error_ml", concentrate_error_ml), ("water_error_ml", water_error_ml)):
        check_between(name, value, 0, LARGEST_ML, "mL")
    water_share = water_ml / (concentrate_ml + water_ml)
    from_concentrate = water_share * concentrate_error_ml / concentrate_ml
    from_water = water_share * water_error_ml / water_ml
    return StrengthError(worst=from_concentrate + from_water, likely=math.hypot(from_concentrate, from_water))
