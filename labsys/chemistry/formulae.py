"""Solutions from dry chemicals: scaling a formula, exchanging hydrates, and what a balance can weigh."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType

from labsys.chemistry.dilution import LARGEST_ML
from labsys.chemistry.errors import CalculationError, check_above

# IUPAC abridged standard atomic weights 2021. [g/mol]
_ATOMIC_WEIGHTS = {
    "H": 1.008,
    "B": 10.81,
    "C": 12.011,
    "O": 15.999,
    "Na": 22.990,
    "Al": 26.982,
    "S": 32.06,
    "K": 39.098,
}
_WATER = 2 * _ATOMIC_WEIGHTS["H"] + _ATOMIC_WEIGHTS["O"]


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
    """Ingredients in mixing order for a volume, with what is poured first and how warm. [mL, °C]"""

    name: str
    ingredients: tuple[Ingredient, ...]
    source: str
    makes_ml: float = 1000.0
    first_water_ml: float | None = None
    water_celsius: float | None = None

    def __post_init__(self) -> None:
        check_above("makes_ml", self.makes_ml, 0, LARGEST_ML, "mL")


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
class Salt:
    """A salt without its water of crystallisation, as atoms to the formula unit, and the hydrates that are sold."""

    name: str
    atoms: Mapping[str, int]
    hydrates: tuple[int, ...]

    def grams_per_mole(self, *, waters: int) -> float:
        """Return the molar mass with some water of crystallisation.

        Parameters:
            waters: Molecules of water to the formula unit, one of those sold. [-]
        Returns:
            Molar mass. [g/mol]
        Raises:
            NoSuchHydrate: This hydrate is not listed.
        Source:
            IUPAC abridged standard atomic weights 2021.
        """
        if waters not in self.hydrates:
            raise NoSuchHydrate(self.name, waters)
        return sum(_ATOMIC_WEIGHTS[atom] * count for atom, count in self.atoms.items()) + waters * _WATER


@dataclass(eq=False)
class NoSuchHydrate(CalculationError):
    """The salt is not listed with this much water of crystallisation."""

    salt: str
    waters: int

    def __str__(self) -> str:
        return f"{self.salt} is not listed with {self.waters} water"


def _salt(name: str, hydrates: tuple[int, ...], **atoms: int) -> Salt:
    return Salt(name, MappingProxyType(atoms), hydrates)


SALTS = {
    salt.name: salt
    for salt in (
        _salt("sodium carbonate", (0, 1, 10), Na=2, C=1, O=3),
        _salt("sodium sulfite", (0, 7), Na=2, S=1, O=3),
        _salt("sodium thiosulfate", (0, 5), Na=2, S=2, O=3),
        _salt("sodium sulfate", (0, 10), Na=2, S=1, O=4),
        _salt("borax", (0, 5, 10), Na=2, B=4, O=7),
        _salt("sodium metaborate", (0, 4, 8), Na=1, B=1, O=2),
        _salt("citric acid", (0, 1), C=6, H=8, O=7),
        _salt("sodium sulfide", (0, 9), Na=2, S=1),
        _salt("potassium alum", (0, 12), K=1, Al=1, S=2, O=8),
    )
}


def hydrate_factor(*, salt: Salt, from_waters: int, to_waters: int) -> float:
    """Return the factor on the mass when one hydrate of a salt takes the place of another.

    Parameters:
        salt: The salt. [-]
        from_waters: Water of crystallisation in the formula, 0 for anhydrous. [-]
        to_waters: Water of crystallisation of what is at hand. [-]
    Returns:
        Factor. [-]
    Raises:
        NoSuchHydrate: One of the hydrates is not listed.
    Source:
        Ratio of molar masses, IUPAC abridged standard atomic weights 2021.

    >>> round(hydrate_factor(salt=SALTS["sodium carbonate"], from_waters=0, to_waters=1), 3)
    1.17
    """
    return salt.grams_per_mole(waters=to_waters) / salt.grams_per_mole(waters=from_waters)


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


def weigh(*, wanted_g: float, step_g: float) -> Weighing:
    """Return what to weigh on a balance, and how far off the mass may be.

    The balance is trusted to one step of its display; the rounding to a step comes on top.

    Parameters:
        wanted_g: Mass wanted, above 0, at most 100 000. [g]
        step_g: Smallest step the balance shows, above 0, at most 100. [g]
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
    steps = round(wanted_g / step_g)
    if steps == 0:
        raise TooLittleToWeigh(wanted_g, step_g)
    reading = round(steps * step_g, 6)
    return Weighing(wanted_g, reading, (step_g + abs(reading - wanted_g)) / wanted_g)


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
