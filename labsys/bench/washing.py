"""Washing at the bench: what two ways to wash leave in the film, and what they cost in water and time."""

from labsys.bench.results import Answer, Figure, Rows, number, source_of, trace
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.sizes import Material, Size
from labsys.chemistry.wash_plans import FillPlan, RunningPlan, WashLoad, compare_washes
from labsys.chemistry.washing import (
    HALF_TIME_SECONDS,
    Keeping,
    after_fills_g_per_l,
    fills_to,
    in_running_water_g_per_m2,
    limit_g_per_m2,
    residue_g_per_m2,
    running_minutes_to,
)
from labsys.planning.warmth import cold_water_warning

HELD_ML_PER_UNIT = 2.0  # in the emulsion of one 135-36: M. Torzynski, note on film-washing arithmetic, 2004
KEEPING_NAMES = {
    Keeping.PERMANENT_FILM: "film for permanent keeping",
    Keeping.PERMANENT_RADIOGRAPH: "radiographs for permanent keeping",
}


def held_ml(*, size: Size, count: int) -> float:
    """Water that the emulsion of some film holds. [mL]"""
    return HELD_ML_PER_UNIT * float(size.units) * count


def wash(
    *,
    size: Size,
    count: int,
    fills: int,
    fill_ml: float,
    left_ml: float,
    minutes_per_fill: float,
    running_minutes: float,
    flow_ml_per_min: float,
    water_celsius: float | None,
    keeping: Keeping,
) -> Answer:
    """Compare filling and dumping with running water for film, against a published limit.

    Raises OutOfRange; and for a size that is not film, since no limit is published for paper.
    """
    surface, held = size.surface_mm2 * count, held_ml(size=size, count=count)
    if left_ml < held:
        raise OutOfRange("what is left in tank and film", left_ml, held, None, "mL")
    load = WashLoad(absorbed_ml=held, surface_mm2=surface)
    limit = limit_g_per_m2(material=Material.FILM, keeping=keeping)
    dumped = FillPlan(f"{fills} fills of {number(fill_ml)} mL", fills, fill_ml, left_ml, minutes_per_fill)
    running = RunningPlan(f"running for {number(running_minutes)} min", running_minutes, flow_ml_per_min)
    results = compare_washes(plans=(dumped, running), load=load, limit_g_per_m2=limit)
    start = residue_g_per_m2(water_g_per_l=load.start_g_per_l, absorbed_ml=held, area_mm2=surface)
    allowed_water = limit * surface / 1e6 / (held / 1000)
    least_fills = fills_to(
        start_g_per_l=load.start_g_per_l, end_g_per_l=allowed_water, left_ml=left_ml, fill_ml=fill_ml
    )
    least_minutes = running_minutes_to(start_g_per_m2=start, limit_g_per_m2=limit)
    water = after_fills_g_per_l(start_g_per_l=load.start_g_per_l, left_ml=left_ml, fill_ml=fill_ml, fills=fills)
    best = results[0]
    passes = best.passes(limit_g_per_m2=limit)
    cold = cold_water_warning(water_celsius)
    return Answer(
        figures=(
            Figure(str(least_fills), "fills at least", f"of {number(fill_ml)} mL"),
            Figure(f"{least_minutes:.1f} min", "running at least"),
        ),
        formula=(
            f"Fills: {number(load.start_g_per_l)} g/L × ({number(left_ml)} ÷ ({number(left_ml)} + "
            f"{number(fill_ml)}))^{fills} = {trace(water)} g/L in the last water",
            f"Running: {start:.2f} g/m² × 2^(−{number(running_minutes)} × 60 ÷ {number(HALF_TIME_SECONDS)}) = "
            f"{trace(in_running_water_g_per_m2(start_g_per_m2=start, minutes=running_minutes))} g/m²",
            f"Limit: {number(limit)} g/m² for {KEEPING_NAMES[keeping]}",
        ),
        source=(source_of(after_fills_g_per_l), source_of(in_running_water_g_per_m2), source_of(limit_g_per_m2)),
        warnings=(() if passes else ("Neither of these washes enough.",)) + ((cold,) if cold else ()),
        remarks=(
            "An estimate: let each fill stand, moved, until the emulsion is in balance, up to about 5 min. Fibre paper "
            "holds on to the last of it; test the print itself.",
        ),
        tables=(
            Rows(
                "The two side by side",
                ("Plan", "Left in the film", "Against the limit", "Water", "Time"),
                tuple(
                    (
                        one.plan.name,
                        f"{trace(one.residue_g_per_m2)} g/m²",
                        "within" if one.passes(limit_g_per_m2=limit) else "over",
                        f"{one.water_litres:.3g} L",
                        f"{number(one.minutes)} min",
                    )
                    for one in results
                ),
            ),
        ),
    )
