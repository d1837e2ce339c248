"""How much to mix afresh: what covers the load, a developer with enough concentrate in it, a coating by area."""

import math
from fractions import Fraction

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.dilution import LARGEST_ML
from labsys.chemistry.least_concentrate import Forced, TankTooSmall, fill_for_films
from labsys.chemistry.sizes import Material
from labsys.chemistry.volumes import coating_ml
from labsys.labware.rules import for_a_hand
from labsys.planning.facts import PlannedLoad, Solution
from labsys.planning.loads import PlanRefused
from labsys.quantities import UL_PER_ML, show_volume


def volume_to_mix(*, solution: Solution, load: PlannedLoad) -> tuple[int, str]:
    """Return the volume to mix for a load, and why it is not the volume that covers it.

    Parameters:
        solution: What is mixed. [-]
        load: What is processed; the most that can be mixed for it, where that is known. [µL]
    Returns:
        Volume to mix, and a sentence, empty where the volume that covers the film will do. [µL, -]
    Raises:
        PlanRefused: The vessel holds too little concentrate for so many, or for even one; it says how many it takes.
    Source:
        `labsys.chemistry.least_concentrate` with the least amount of the developer's data sheet; `coating_ml`.
    """
    if solution.kind is SolutionKind.COATING:
        brushed_ml = math.ceil(coating_ml(area_mm2=load.size.surface_mm2 * load.count))
        return brushed_ml * UL_PER_ML, "About 4 mL for an 8x10 in sheet, brushed on: common practice, no source."
    least_ml = solution.developing.least_concentrate_ml
    if least_ml is None or solution.kind is not SolutionKind.DEVELOPER or load.material is not Material.FILM:
        return load.working_ul, ""
    sheet = f"{least_ml:g} mL for each roll ({solution.developing.source})"
    largest_ml = Fraction(load.largest_ul, UL_PER_ML) if load.largest_ul is not None else Fraction(LARGEST_ML)
    try:
        fill = fill_for_films(
            dilution=solution.dilution,
            films=load.count,
            least_concentrate_ml=Fraction(str(least_ml)) * load.size.units,
            fill_ml=Fraction(load.working_ul, UL_PER_ML),
            largest_ml=largest_ml,
        )
    except TankTooSmall:
        raise PlanRefused(
            f"{solution.product} {solution.strength} in {show_volume(load.largest_ul or 0)} holds too little for even "
            f"one of {load.size.key}: {sheet}. Take a larger tank, or a stronger dilution.",
            field="dilution",
        ) from None
    if fill.forced is Forced.FEWER_FILMS:
        raise PlanRefused(
            f"Develop {fill.films} of {load.count} at once: {solution.product} {solution.strength} in "
            f"{show_volume(load.largest_ul or 0)} holds too little for more, {sheet}. Or take a larger tank.",
            field="count",
        )
    if fill.forced is Forced.NOTHING:
        return load.working_ul, ""
    needed_ul = round(fill.parts.working_ml * UL_PER_ML)
    working_ul = min(for_a_hand(needed_ul), load.largest_ul or needed_ul * 2)
    return working_ul, (
        f"Mix {show_volume(working_ul)}: {show_volume(load.working_ul)} covers the film, but holds too little "
        f"concentrate, {sheet}."
    )
