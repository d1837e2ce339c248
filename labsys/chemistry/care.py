"""How exactly a solution has to be measured, whether a measurement is good enough, and what to do if it is not."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import dropwhile

from labsys.chemistry.dilution import Dilution, Parts, split
from labsys.chemistry.errors import check_between
from labsys.chemistry.measuring import CannotMeasure, Cylinder, Reading, StrengthError, choose_cylinder, strength_error


class SolutionKind(StrEnum):
    """What a solution does in the process."""

    DEVELOPER = "developer"
    STOP = "stop"
    FIXER = "fixer"
    WASH_AID = "wash_aid"
    WETTING_AGENT = "wetting_agent"
    TONER = "toner"
    BLEACH = "bleach"
    BLEACH_FIX = "bleach_fix"
    STABILISER = "stabiliser"
    COATING = "coating"


KIND_NAMES = {
    SolutionKind.DEVELOPER: "developer",
    SolutionKind.STOP: "stop bath",
    SolutionKind.FIXER: "fixer",
    SolutionKind.WASH_AID: "wash aid",
    SolutionKind.WETTING_AGENT: "wetting agent",
    SolutionKind.TONER: "toner",
    SolutionKind.BLEACH: "bleach",
    SolutionKind.BLEACH_FIX: "bleach-fix",
    SolutionKind.STABILISER: "stabiliser",
    SolutionKind.COATING: "light-sensitive coating",
}


class Need(StrEnum):
    """How exactly the strength of a solution has to be right."""

    EXACT = "exact"
    REASONABLE = "reasonable"
    ROUGH = "rough"


# All common practice, no source: developer strength acts on contrast; fixer, toner, bleach and a brushed-on coating are
# used to a test or by eye; stop, rinse and wetting agent work over a wide range.
NEED_OF = {
    SolutionKind.DEVELOPER: Need.EXACT,
    SolutionKind.STOP: Need.ROUGH,
    SolutionKind.FIXER: Need.REASONABLE,
    SolutionKind.WASH_AID: Need.ROUGH,
    SolutionKind.WETTING_AGENT: Need.ROUGH,
    SolutionKind.TONER: Need.REASONABLE,
    SolutionKind.BLEACH: Need.REASONABLE,
    SolutionKind.BLEACH_FIX: Need.REASONABLE,
    SolutionKind.STABILISER: Need.REASONABLE,
    SolutionKind.COATING: Need.REASONABLE,
}
ALLOWED_SHARE = {Need.EXACT: 0.05, Need.REASONABLE: 0.10, Need.ROUGH: 0.20}


def is_good_enough(*, error_share: float, need: Need) -> bool:
    """Return whether an error in strength is within what the solution needs.

    Parameters:
        error_share: Error as a share of the strength wanted, 0 or more (0.05 is 5 %). [-]
        need: How exactly the solution has to be right. [-]
    Returns:
        True up to and including 5, 10 and 20 % for exact, reasonable and rough. [-]
    Raises:
        OutOfRange: The share is negative or not finite.
    Source:
        Common practice, no source.

    >>> is_good_enough(error_share=0.034, need=Need.EXACT)
    True
    """
    check_between("error_share", error_share, 0, None)
    return error_share <= ALLOWED_SHARE[need]


@dataclass(frozen=True, slots=True)
class MeasuredMix:
    """How to measure a mix with the cylinders at hand, and how right it will be."""

    parts: Parts
    need: Need
    concentrates: tuple[Reading, ...]
    water: Reading | None
    error: StrengthError

    @property
    def concentrate(self) -> Reading:
        """The concentrate, or A of a solution in two parts."""
        return self.concentrates[0]

    @property
    def is_good_enough(self) -> bool:
        """Whether even the worst error is within what the solution needs."""
        return is_good_enough(error_share=self.error.worst, need=self.need)


def measure_mix(
    *,
    dilution: Dilution,
    working_ml: float | Fraction,
    owned: Sequence[Cylinder],
    need: Need,
    for_water: Sequence[Cylinder] = (),
) -> MeasuredMix:
    """Say how to measure concentrate and water for a mix, and judge the result.

    The rounding to graduations counts as part of the error of each measurement.

    Parameters:
        dilution: How the concentrate is diluted. [-]
        working_ml: Volume of working solution, a scalar above 0, at most 1 000 000. [mL]
        owned: The cylinders at hand. [mL]
        need: How exactly the solution has to be right. [-]
        for_water: Cylinders to measure the water with, where they are others. [mL]
    Returns:
        Readings for each concentrate and water (None without any), and worst and likely error in strength. [mL, -]
    Raises:
        OutOfRange: The volume is out of range.
        CannotMeasure: The cylinders at hand cannot measure it.
    Source:
        `strength_error` on the readings of `choose_cylinder`.
    """
    parts = split(dilution=dilution, working_ml=working_ml)
    concentrates = tuple(
        choose_cylinder(volume_ml=float(volume_ml), owned=owned) for volume_ml in dilution.each(parts.concentrate_ml)
    )
    if dilution.is_stock:
        return MeasuredMix(parts, need, concentrates, None, StrengthError(worst=0.0, likely=0.0))
    water = choose_cylinder(volume_ml=float(parts.water_ml), owned=for_water or owned)
    worst_ml = sum(reading.worst_error_ml for reading in concentrates)
    likely_ml = math.hypot(*(reading.likely_error_ml for reading in concentrates))
    water_share = float(1 - dilution.strength)
    terms = (water_share * likely_ml / float(parts.concentrate_ml), water_share * water.likely_share)
    worst = strength_error(
        concentrate_ml=float(parts.concentrate_ml),
        concentrate_error_ml=worst_ml,
        water_ml=water.wanted_ml,
        water_error_ml=water.worst_error_ml,
    ).worst
    return MeasuredMix(parts, need, concentrates, water, StrengthError(worst=worst, likely=math.hypot(*terms)))


_BATCHES_ML = (*range(10, 500, 10), *range(500, 2_000, 50), *range(2_000, 10_000, 500), *range(10_000, 100_001, 1_000))


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch that can be measured well enough; `larger_too` says whether every larger one can. [mL]"""

    ml: int
    larger_too: bool


def least_batch(
    *,
    dilution: Dilution,
    owned: Sequence[Cylinder],
    need: Need,
    for_water: Sequence[Cylinder] = (),
    above_ml: float = 0,
) -> Batch | None:
    """Return the smallest batch that can be measured within a need, to offer when a small mix fails.

    Every part that is measured counts, the water as well, each with its rounding. Looked at are batches as a hand
    fills them, up to 100 L. A larger one may fail again, where a part of it no longer fits the finer cylinder.

    Parameters:
        dilution: How the concentrate is diluted. [-]
        owned: The cylinders at hand, at least one. [mL]
        need: How exactly the solution has to be right. [-]
        for_water: Cylinders to measure the water with, where they are others. [mL]
        above_ml: The batch that failed; what is offered is larger. [mL]
    Returns:
        The batch, or None where these cylinders serve no larger one. [mL]
    Raises:
        CannotMeasure: No cylinder is owned.
    Source:
        As `measure_mix`. The steps of the batches: common practice, no source.
    """
    if not owned:
        raise CannotMeasure(0, None)

    def is_measured(batch_ml: int) -> bool:
        try:
            mix = measure_mix(dilution=dilution, working_ml=batch_ml, owned=owned, need=need, for_water=for_water)
        except CannotMeasure:
            return False
        return mix.is_good_enough

    larger = dropwhile(lambda batch_ml: not is_measured(batch_ml), (ml for ml in _BATCHES_ML if ml > above_ml))
    least_ml = next(larger, None)
    return None if least_ml is None else Batch(least_ml, all(map(is_measured, larger)))
