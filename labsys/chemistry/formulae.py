"""Solutions from dry chemicals: scaling a formula, whether it can be made, and what a balance can weigh."""

from dataclasses import dataclass, replace
from enum import StrEnum

from labsys.chemistry.dilution import LARGEST_ML
from labsys.chemistry.errors import CalculationError, check_above, check_between

USUAL_FIRST_WATER_SHARE = 0.75  # half to three quarters: NAVEDTRA 14209, Photography (Basic)
MOST_ML_PER_G = 0.6  # thiosulfate crystals, 1.7 g/mL, take the most room of what is used here (from memory)


class Unit(StrEnum):
    """How an ingredient is measured."""

    GRAM = "g"
    MILLILITRE = "mL"


@dataclass(frozen=True, slots=True)
class Ingredient:
    """One line of a formula, for a litre or for whatever the formula makes. [g or mL]"""

    name: str
    amount: float
    unit: Unit = Unit.GRAM

    def __post_init__(self) -> None:
        check_above("amount", self.amount, 0, None, self.unit)


@dataclass(frozen=True, slots=True)
class Formula:
    """Ingredients in mixing order for a volume, with what is poured first and how warm. [mL, °C]

    `mind` says what its mixing has to mind, `water` which water it takes.
    """

    name: str
    ingredients: tuple[Ingredient, ...]
    source: str
    makes_ml: float = 1000.0
    first_water_ml: float | None = None
    water_celsius: float | None = None
    water: str = "water"
    mind: str = ""

    def __post_init__(self) -> None:
        check_above("makes_ml", self.makes_ml, 0, LARGEST_ML, "mL")

    @property
    def room_ml(self) -> float:
        """What liquids leave free for water, with the solids taking their most; below 0 it cannot be made. [mL]"""
        return self.makes_ml - sum(
            line.amount if line.unit is Unit.MILLILITRE else line.amount * MOST_ML_PER_G for line in self.ingredients
        )

    @property
    def begin_with_ml(self) -> float:
        """Water to begin with: as the formula says, else three quarters, and never more than there is room for. [mL]"""
        wanted = USUAL_FIRST_WATER_SHARE * self.makes_ml if self.first_water_ml is None else self.first_water_ml
        return max(0.0, min(wanted, self.room_ml))


def scale(*, formula: Formula, volume_ml: float) -> Formula:
    """Return a formula for another volume, the mixing order kept.

    Parameters:
        formula: The formula. [g, mL]
        volume_ml: Volume wanted, above 0, at most 1 000 000. [mL]
    Returns:
        The same formula for that volume. [g, mL]
    Raises:
        OutOfRange: The volume is out of range.
    Source:
        Proportion.
    """
    check_above("volume_ml", volume_ml, 0, LARGEST_ML, "mL")
    factor = volume_ml / formula.makes_ml
    return replace(
        formula,
        ingredients=tuple(replace(line, amount=line.amount * factor) for line in formula.ingredients),
        makes_ml=volume_ml,
        first_water_ml=None if formula.first_water_ml is None else formula.first_water_ml * factor,
    )


@dataclass(frozen=True, slots=True)
class Weighing:
    """What a balance shows nearest to the mass wanted, and how far off that may be. [g, -]"""

    wanted_g: float
    reading_g: float
    error_share: float


@dataclass(eq=False)
class TooLittleToWeigh(CalculationError):
    """The mass is under half a step of the balance; weigh more into a solution and measure that out."""

    wanted_g: float
    step_g: float

    def __str__(self) -> str:
        return f"{self.wanted_g:g} g is too little for a balance that shows steps of {self.step_g:g} g"


def weigh(*, wanted_g: float, step_g: float, off_g: float = 0.0) -> Weighing:
    """Return what to weigh on a balance, and how far off the mass may be.

    The balance is trusted to one step of its display, or to what a check found where that is more; the rounding to a
    step comes on top.

    Parameters:
        wanted_g: Mass wanted, above 0, at most 100 000. [g]
        step_g: Smallest step the balance shows, above 0, at most 100. [g]
        off_g: How far off it counts by its last check, 0 or more. [g]
    Returns:
        Reading and error. [g, -]
    Raises:
        OutOfRange: A value is out of range.
        TooLittleToWeigh: Under half a step.
    Source:
        Common practice, no source: a balance is good to one step of its display.

    >>> weigh(wanted_g=12.5, step_g=0.1).reading_g
    12.5
    """
    check_above("wanted_g", wanted_g, 0, 100_000, "g")
    check_above("step_g", step_g, 0, 100, "g")
    check_between("off_g", off_g, 0, 100, "g")
    steps = round(wanted_g / step_g)
    if steps == 0:
        raise TooLittleToWeigh(wanted_g, step_g)
    reading = round(steps * step_g, 6)
    return Weighing(wanted_g, reading, (max(step_g, off_g) + abs(reading - wanted_g)) / wanted_g)


def percent_solution_ml(*, grams: float, percent: float) -> float:
    """Return how much of a percent solution (mass in volume) holds a mass too small to weigh.

    Parameters:
        grams: Mass wanted, above 0. [g]
        percent: Grams in 100 mL of the solution, above 0, at most 200. [%]
    Returns:
        Volume of the solution. [mL]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        US Army subcourse SS0513, Photographic Quality Control, ed. 9 (1988): a 10 % solution holds 10 g in 100 mL.

    >>> percent_solution_ml(grams=0.5, percent=10)
    5.0
    """
    check_above("grams", grams, 0, None, "g")
    check_above("percent", percent, 0, 200, "%")
    return grams * 100 / percent
