"""Control banding: from hazard statements, amount and dust or vapour to one of four ways of controlling a task.

A screen for solids and liquids, not for gases and not above the boiling point. The assessor decides; short tasks do not
lower the answer here. Source: HSE, HSG193 "COSHH essentials: Easy steps to control chemicals" (1999) and "The technical
basis for COSHH essentials": groups, line equations and matrix from memory, the matrix recomputed from the exposure
predictions. Dustiness and the meaning of the four approaches: read in the ILO chemical control toolkit.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from .errors import check_between
from .statements import statement

_SOLID_BOUNDS_G = (1_000.0, 1_000_000.0)
_LIQUID_BOUNDS_ML = (1_000.0, 1_000_000.0)
_VAPOUR_BOUNDS_PA = (500.0, 25_000.0)


class HazardGroup(StrEnum):
    """How toxic it is by breathing, from A (least) to E (special care)."""

    A = "A"
    B = "B"
    C = "C"
    D = "D"
    E = "E"


class Amount(StrEnum):
    """How much is used in one go."""

    SMALL = "small"
    MEDIUM = "medium"
    LARGE = "large"


class Spread(StrEnum):
    """How easily it gets into the air: dustiness of a solid or volatility of a liquid."""

    LOW_DUST = "low dust"
    MEDIUM_DUST = "medium dust"
    HIGH_DUST = "high dust"
    LOW_VAPOUR = "low vapour"
    MEDIUM_VAPOUR = "medium vapour"
    HIGH_VAPOUR = "high vapour"


@dataclass(frozen=True)
class HazardBand:
    """The group that rules breathing, the codes that put it there, and whether skin and eyes need care of their own."""

    group: HazardGroup
    deciding: tuple[str, ...]
    skin_and_eyes: bool


@dataclass(frozen=True)
class Approach:
    """One of the four ways of controlling a task."""

    number: int
    words: str
    skin_and_eyes: bool


_CODES = {  # H360 and H361 with any letters; whatever is not listed falls in group A
    HazardGroup.E: ("H334", "H340", "H341", "H350", "H350i"),
    HazardGroup.D: ("H300", "H310", "H330", "H351", "H360", "H361", "H362", "H372"),
    HazardGroup.C: ("H301", "H311", "H314", "H317", "H318", "H331", "H335", "H370", "H373", "EUH071"),
    HazardGroup.B: ("H302", "H312", "H332", "H371"),
}
_SKIN_CODES = frozenset({"H310", "H311", "H312", "H314", "H315", "H317", "H318", "H319", "EUH066"})
_COLUMNS = (
    (Spread.LOW_DUST, Spread.LOW_VAPOUR),
    (Spread.MEDIUM_VAPOUR,),
    (Spread.MEDIUM_DUST,),
    (Spread.HIGH_DUST, Spread.HIGH_VAPOUR),
)
_MATRIX = {  # one figure per column above
    (HazardGroup.A, Amount.SMALL): (1, 1, 1, 1),
    (HazardGroup.A, Amount.MEDIUM): (1, 1, 1, 2),
    (HazardGroup.A, Amount.LARGE): (1, 1, 2, 2),
    (HazardGroup.B, Amount.SMALL): (1, 1, 1, 1),
    (HazardGroup.B, Amount.MEDIUM): (1, 2, 2, 2),
    (HazardGroup.B, Amount.LARGE): (1, 2, 3, 3),
    (HazardGroup.C, Amount.SMALL): (1, 2, 1, 2),
    (HazardGroup.C, Amount.MEDIUM): (2, 3, 3, 3),
    (HazardGroup.C, Amount.LARGE): (2, 4, 4, 4),
    (HazardGroup.D, Amount.SMALL): (2, 3, 2, 3),
    (HazardGroup.D, Amount.MEDIUM): (3, 4, 4, 4),
    (HazardGroup.D, Amount.LARGE): (3, 4, 4, 4),
    (HazardGroup.E, Amount.SMALL): (4, 4, 4, 4),
    (HazardGroup.E, Amount.MEDIUM): (4, 4, 4, 4),
    (HazardGroup.E, Amount.LARGE): (4, 4, 4, 4),
}
_WORDS = {
    1: "General ventilation and good working practice",
    2: "Extraction at the source",
    3: "Containment: closed handling, small openings",
    4: "Special: look for a substitute and ask a competent adviser",
}


def hazard_band(codes: Iterable[str]) -> HazardBand:
    """Return the hazard group of a set of statements; the worst one rules.

    Parameters:
        codes: H and EUH codes; joined ones are taken apart. [-]
    Returns:
        The group, what decided it, and whether skin and eyes need care of their own. [-]
    Raises:
        UnknownStatement: A code is on no list.

    >>> hazard_band(["H302", "H317"]).group
    <HazardGroup.C: 'C'>
    """
    single = tuple(dict.fromkeys(statement(part).code for joined in codes for part in joined.split("+")))
    groups = {code: _group_of(code) for code in single}
    worst = max(groups.values(), default=HazardGroup.A)
    deciding = tuple(code for code, group in groups.items() if group is worst)
    return HazardBand(worst, deciding, bool(_SKIN_CODES & set(single)))


def _group_of(code: str) -> HazardGroup:
    stem = code[:4] if code.startswith(("H360", "H361")) else code
    return next((group for group, codes in _CODES.items() if stem in codes), HazardGroup.A)


def volatility_from_pressure(*, vapour_pressure_pa: float) -> Spread:
    """Return the volatility of a liquid from its vapour pressure at the temperature of use.

    Parameters:
        vapour_pressure_pa: Vapour pressure, 0 or more. [Pa]
    Returns:
        Low, medium or high vapour. [-]
    Raises:
        OutOfRange: A negative pressure.
    Source:
        HSE technical basis, from memory: below 0.5 kPa low, above 25 kPa high.
    """
    check_between("vapour_pressure_pa", vapour_pressure_pa, 0)
    low, high = _VAPOUR_BOUNDS_PA
    if vapour_pressure_pa < low:
        return Spread.LOW_VAPOUR
    return Spread.MEDIUM_VAPOUR if vapour_pressure_pa <= high else Spread.HIGH_VAPOUR


def amount_of_solid(*, grams: float) -> Amount:
    """Return the amount band of a solid: grams, kilograms, tonnes.

    Parameters:
        grams: Used in one go, 0 or more. [g]
    Returns:
        Small below 1 kg, medium below 1 t, else large. [-]
    Raises:
        OutOfRange: A negative amount.
    """
    return _amount("grams", grams, _SOLID_BOUNDS_G)


def amount_of_liquid(*, total_ml: float) -> Amount:
    """Return the amount band of a liquid: millilitres, litres, cubic metres.

    Parameters:
        total_ml: Used in one go, 0 or more. [mL]
    Returns:
        Small below 1 L, medium below 1 m³, else large. [-]
    Raises:
        OutOfRange: A negative amount.
    """
    return _amount("total_ml", total_ml, _LIQUID_BOUNDS_ML)


def _amount(name: str, value: float, bounds: tuple[float, float]) -> Amount:
    check_between(name, value, 0)
    small, medium = bounds
    return Amount.SMALL if value < small else Amount.MEDIUM if value < medium else Amount.LARGE


def control_approach(*, band: HazardBand, amount: Amount, spread: Spread) -> Approach:
    """Return the way a task is to be controlled.

    Parameters:
        band: The hazard group of the substance or mixture. [-]
        amount: How much is used in one go. [-]
        spread: Dustiness or volatility. [-]
    Returns:
        Approach 1 to 4, with skin and eye care beside it where due. [-]
    Source:
        HSG193 step 3 table, from memory.
    """
    column = next(place for place, spreads in enumerate(_COLUMNS) if spread in spreads)
    number = _MATRIX[band.group, amount][column]
    return Approach(number, _WORDS[number], band.skin_and_eyes)


def approach_in_words(number: int) -> str:
    """Return what one of the four approaches asks for.

    Parameters:
        number: 1 to 4. [-]
    Returns:
        A few words. [-]
    Raises:
        OutOfRange: There is no such approach.

    >>> approach_in_words(2)
    'Extraction at the source'
    """
    check_between("number", number, 1, 4)
    return _WORDS[number]
