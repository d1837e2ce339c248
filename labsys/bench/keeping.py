"""Baths at the bench: capacity used, the clearing test, two fixing baths in turn, and replenishing."""

from fractions import Fraction

from labsys.bench.results import Answer, Figure, Rows, ml, number, percent, source_of
from labsys.chemistry.bath_rules import AreaCapacity, BathFacts, ClearingTest
from labsys.chemistry.fixing import MOST_TURNS, fixing_seconds, two_baths
from labsys.chemistry.life import State, life_of
from labsys.chemistry.published_limits import CAPACITIES
from labsys.chemistry.replenishment import (
    after_batches_g_per_l,
    after_units_g_per_l,
    rate_ml_per_unit,
    settles_at_g_per_l,
    turnover_share,
)
from labsys.chemistry.sizes import MATERIAL_NAMES, Material, Size, area_of_units_mm2, load_of
from labsys.quantities import counted, duration

STATES = {
    State.PLENTY: "Plenty",
    State.NEAR_ITS_END: "Near its end",
    State.EXHAUSTED: "Exhausted",
    State.NOT_KNOWN: "Not known",
}


def capacity(*, bath_ml: float, units_per_litre: float, size: Size, material: Material, count: int) -> Answer:
    """What a load does to a bath of a known capacity.

    Raises WrongMaterial for a size that is not made in this material, and OutOfRange.
    """
    rule = AreaCapacity(material, area_of_units_mm2(units=Fraction(units_per_litre)), "as entered here")
    load = load_of(size=size, material=material, count=count)
    life = life_of(
        facts=BathFacts(materials=frozenset({material}), total_ul=round(bath_ml * 1000), used=load, areas=(rule,))
    )
    used, whole = load.area_mm2(material) / 1e6, rule.mm2_per_litre * bath_ml / 1000 / 1e6
    left = life.remaining_pieces(size=size, material=material)
    return Answer(
        figures=(
            Figure(f"{100 * used / whole:.0f} %", "of its life used", STATES[life.state]),
            Figure(str(max(0, left or 0)), f"more of {size.key}"),
        ),
        formula=(
            f"{count} × {size.area_mm2 / 1e6:.4f} m² = {used:.3f} m², of {number(units_per_litre)} × 0.0516 m² × "
            f"{number(bath_ml / 1000)} L = {whole:.3f} m²",
        ),
        source=(source_of(area_of_units_mm2), source_of(load_of)),
        warnings=("That is more than it takes: some of it was not fixed or developed to the end.",)
        if life.state is State.EXHAUSTED and used > whole
        else (),
        remarks=(
            f"One unit is a 135-36, a 120 or a sheet of 8x10 in, here of {MATERIAL_NAMES[material]}. "
            "The maker's data sheet comes first.",
        ),
        tables=(
            Rows(
                "Capacities as published",
                ("Bath", "Per litre", "Source"),
                tuple((one.bath, number(one.units_per_litre), one.source) for one in CAPACITIES),
            ),
        ),
    )


def clearing(*, fresh_seconds: float, now_seconds: float) -> Answer:
    """What a clearing test says of a film fixer, and how long to fix in it."""
    test = ClearingTest(fresh_seconds, now_seconds)
    life = life_of(facts=BathFacts(materials=frozenset({Material.FILM}), total_ul=1, checks=(test,)))
    least = fixing_seconds(clearing_seconds=now_seconds)
    spent = now_seconds >= 2 * fresh_seconds
    return Answer(
        figures=(
            Figure(
                "Exhausted" if spent else STATES[life.state],
                f"{now_seconds / fresh_seconds:.1f} times as slow as fresh",
            ),
            *(() if spent else (Figure(duration(round(least)), "least fixing time"),)),
        ),
        formula=(
            f"Exhausted at 2 × {number(fresh_seconds)} s = {number(2 * fresh_seconds)} s; now {number(now_seconds)} s",
            f"Fix for 2 × {number(now_seconds)} s = {number(least)} s or more",
        ),
        source=(test.source, source_of(fixing_seconds)),
        warnings=("Discard it: film fixed in it would not keep.",) if spent else (),
        remarks=("Test with the film in use. For prints clearing cannot be seen: count them.",),
    )


def two_bath_fixing(*, sheets: int, first_bath_ml: float, sheets_per_litre: float) -> Answer:
    """Where a pair of fixing baths stands, and what to do next."""
    stand = two_baths(sheets=sheets, first_bath_ml=first_bath_ml, sheets_per_litre=sheets_per_litre)
    holds = first_bath_ml / 1000 * sheets_per_litre
    if stand.renew_both:
        figures: tuple[Figure, ...] = (Figure("Renew both", "the pair has had its three turns"),)
    else:
        figures = (
            Figure(str(stand.left_in_first), "more sheets before the next turn"),
            Figure(f"{stand.turns} of {MOST_TURNS}", "turns taken"),
        )
    return Answer(
        figures=figures,
        formula=(
            f"{number(first_bath_ml / 1000)} L × {number(sheets_per_litre)} = {number(holds)} sheets of 8x10 in a turn",
            f"{counted(sheets, 'sheet')} = {counted(stand.turns, 'turn')}, and {stand.left_in_first} left to the next",
        ),
        source=(source_of(two_baths),),
        remarks=(
            "At each turn discard the first bath, move the second to its place, and mix a fresh second.",
            "Half the fixing time in each. Sizes count by area: four of 4x5 in are one of 8x10 in.",
        ),
    )


def replenish(*, rate_ml: float, rate_for: float, tank_ml: float, units: int, release_mg: float | None) -> Answer:
    """Replenisher for a number of units, and how far the tank has turned over."""
    per_unit = rate_ml_per_unit(volume_ml=rate_ml, area_mm2=rate_for * float(area_of_units_mm2(units=1)))
    total = per_unit * units
    share = turnover_share(rate_ml=per_unit, tank_ml=tank_ml, units=units)
    figures = [Figure(ml(total), f"replenisher for {units}"), Figure(percent(share), "of the way to a steady state")]
    formula = [
        f"{number(rate_ml)} mL ÷ {number(rate_for)} × {units} = {ml(total)}",
        f"1 − exp(−{ml(total)} ÷ {ml(tank_ml)}) = {percent(share)}",
    ]
    if release_mg is not None:
        end = settles_at_g_per_l(release_mg=release_mg, rate_ml=per_unit)
        now = after_batches_g_per_l(
            start_g_per_l=0, release_mg=release_mg, rate_ml=per_unit, tank_ml=tank_ml, units=units
        )
        figures.append(Figure(f"{now:.2f} g/L", "bromide now", f"Settles at {end:.2f} g/L."))
        formula.append(f"{number(release_mg)} mg ÷ {per_unit:.1f} mL = {end:.2f} g/L in the end")
    return Answer(
        figures=tuple(figures),
        formula=tuple(formula),
        source=(source_of(after_units_g_per_l), source_of(settles_at_g_per_l)),
        warnings=("That is more than the tank holds at once: replenish in smaller steps.",) if total > tank_ml else (),
        remarks=("An estimate for a well-mixed tank. The maker's rate and a control strip come first.",),
    )
