"""A fresh mix on a student's sheet: what to pour, in which cylinder, and how exact in words, never in per cent."""

from dataclasses import dataclass

from labsys.chemistry.care import KIND_NAMES, NEED_OF, Need, least_batch, measure_mix
from labsys.chemistry.dilution import split
from labsys.chemistry.measuring import CannotMeasure, Reading
from labsys.ledger.models import Unit
from labsys.planning.facts import Conditions, Solution
from labsys.planning.warmth import Tempered, temper_mix
from labsys.products.rules import amounts
from labsys.quantities import UL_PER_L, UL_PER_ML, show_mass, show_volume

HOW_EXACT = {
    Need.EXACT: "Exactly: eye level with the mark, read the bottom of the curve.",
    Need.REASONABLE: "With care, to the nearest mark.",
    Need.ROUGH: "Roughly is good enough.",
}
_HALF_A_LITRE = UL_PER_L // 2
WEIGHED = "Weigh it. Dissolve it in three quarters of the water, then make up to the mark."


@dataclass(frozen=True, slots=True)
class AmountToPour:
    """One amount to measure out; `cylinder` says with what, empty where that cannot be said."""

    what: str
    amount: int
    unit: Unit
    cylinder: str = ""

    @property
    def words(self) -> str:
        """The amount, as finely as a hand measures it: whole millilitres where litres would round them off."""
        if self.unit is Unit.MG:
            return show_mass(self.amount)
        if 100 * UL_PER_ML <= self.amount < 10 * UL_PER_L and self.amount % _HALF_A_LITRE:
            return f"{self.amount / UL_PER_ML:.0f} mL"
        return show_volume(self.amount)


@dataclass(frozen=True, slots=True)
class FreshMix:
    """What a step needs where no shared bath serves: the pours add up to the working volume. [µL]

    A powder is made up to the working volume. `trouble` says why the measuring is not exact enough, where it is not.
    """

    working_ul: int
    pours: tuple[AmountToPour, ...]
    how_exact: str
    trouble: str = ""
    tempered: Tempered | None = None


def fresh_mix(*, solution: Solution, working_ul: int, celsius: float | None, conditions: Conditions) -> FreshMix:
    """Work out a fresh mix of a solution.

    Parameters:
        solution: Product, dilution, and the cylinders to measure it with. [-]
        working_ul: Volume of working solution. [µL]
        celsius: Temperature it shall have, or None where any will do. [°C]
        conditions: Temperatures of room and taps, where they are known. [°C]
    Returns:
        Pours that add up to the volume, with cylinders and, where the taps are known, hot and cold water. [µL or mg]
    Raises:
        OutOfRange: The volume or a temperature is out of range.
    Source:
        `labsys.chemistry`: dilution, measuring, care and temperature.
    """
    wanted = amounts(dilution=solution.dilution, working_ul=working_ul, powder_mg_per_l=solution.powder_mg_per_l)
    parts = split(dilution=solution.dilution, working_ml=working_ul / UL_PER_ML)
    tempered = None if celsius is None else temper_mix(parts=parts, celsius=celsius, conditions=conditions)
    pours: tuple[AmountToPour, ...]
    if wanted.unit is Unit.MG:
        pours = (
            AmountToPour("powder", wanted.from_bottle, Unit.MG),
            AmountToPour("water, made up to", wanted.water_ul, Unit.UL),
        )
        return FreshMix(working_ul, pours, WEIGHED, tempered=tempered)
    need = NEED_OF[solution.kind]
    concentrate, water, trouble = _measured(solution, working_ul=working_ul, need=need)
    if solution.dilution.is_stock:
        pours = (AmountToPour("undiluted", wanted.from_bottle, Unit.UL, concentrate),)
    else:
        pours = (
            AmountToPour("concentrate", wanted.from_bottle, Unit.UL, concentrate),
            AmountToPour("water", wanted.water_ul, Unit.UL, water),
        )
    return FreshMix(working_ul, pours, HOW_EXACT[need], trouble, tempered)


def _measured(solution: Solution, *, working_ul: int, need: Need) -> tuple[str, str, str]:
    """Which cylinders to use for concentrate and water, and why they will not do, where they do not."""
    try:
        mix = measure_mix(
            dilution=solution.dilution,
            working_ml=working_ul / UL_PER_ML,
            owned=solution.cylinders,
            need=need,
            for_water=solution.water_cylinders,
        )
    except CannotMeasure as refusal:
        return "", "", _cannot(refusal, solution, working_ul)
    trouble = "" if mix.is_good_enough else f"These cylinders are too coarse for it. {_finer(solution, working_ul)}"
    return _cylinder(mix.concentrate), _cylinder(mix.water) if mix.water else "", trouble


def _cylinder(reading: Reading) -> str:
    """Say which cylinder to fill, and to which mark where that is not the amount itself.

    >>> from labsys.chemistry.measuring import Cylinder, CylinderClass, choose_cylinder
    >>> shelf = [Cylinder(500, 5, CylinderClass.B), Cylinder(1000, 10, CylinderClass.B)]
    >>> _cylinder(choose_cylinder(volume_ml=357, owned=shelf)), _cylinder(choose_cylinder(volume_ml=2145, owned=shelf))
    ('500 mL cylinder, mark 355', '2 × 1 L, then 500 mL cylinder to 145')
    """
    if len(reading.fills) == 1 and reading.fills[0].times == 1:
        fill = reading.fills[0]
        exact = abs(fill.reading_ml - reading.wanted_ml) < 0.5  # what the amount in whole millilitres says already
        mark = "" if exact else f", mark {fill.reading_ml:g}"
        return f"{_named(fill.cylinder.nominal_ml)} cylinder{mark}"
    *full, last = reading.fills
    parts = [f"{fill.times} × {_named(fill.cylinder.nominal_ml)}" for fill in full]
    if last.reading_ml == last.cylinder.nominal_ml:
        parts.append(f"{last.times} × {_named(last.cylinder.nominal_ml)} cylinder")
    else:
        parts.append(f"{_named(last.cylinder.nominal_ml)} cylinder to {last.reading_ml:g}")
    return ", then ".join(parts)


def _named(nominal_ml: float) -> str:
    return show_volume(round(nominal_ml * UL_PER_ML))


def _cannot(refusal: CannotMeasure, solution: Solution, working_ul: int) -> str:
    if refusal.lowest_ml is None:
        return "No measuring cylinder is entered: ask the technician which to use."
    return f"It is too little for the cylinders here. {_finer(solution, working_ul)}"


def _finer(solution: Solution, working_ul: int) -> str:
    least = least_batch(
        dilution=solution.dilution,
        owned=solution.cylinders,
        need=NEED_OF[solution.kind],
        for_water=solution.water_cylinders,
        above_ml=working_ul / UL_PER_ML,
    )
    if least is None:
        return f"Ask the technician for a finer one for {KIND_NAMES[solution.kind]}."
    more = " or more" if least.larger_too else ""
    return f"Use a finer one, or mix {show_volume(least.ml * UL_PER_ML)}{more}."
