"""Washing at the bench: what two ways to wash leave in the film, and what they cost in water and time."""

from collections.abc import Iterator, Sequence

from wtforms import Field

from labsys.bench.fields import CelsiusField, MinutesField, NumberField, WrittenVolumeField
from labsys.bench.forms import MINUTES_OF_A_DAY, Question, choice_field, count_field, volume_field
from labsys.bench.results import Answer, Figure, Rows, number, source_of, trace
from labsys.chemistry.sizes import SIZES, Material, size_of
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
from labsys.labware.models import OwnedCylinder
from labsys.planning.warmth import cold_water_warning

HELD_ML_PER_UNIT = 2.0  # in the emulsion of one 135-36: M. Torzynski, note on film-washing arithmetic, 2004
KEEPING_NAMES = {
    Keeping.PERMANENT_FILM: "film for permanent keeping",
    Keeping.PERMANENT_RADIOGRAPH: "radiographs for permanent keeping",
}


class Wash(Question):
    """Filling and dumping compared with running water for film, against a published limit; none is for paper."""

    key = "wash"
    title = "Is the film washed?"
    size = choice_field("Film", [(key, key) for key, size in SIZES.items() if size.is_film], default="120")
    count = count_field("Rolls or sheets", 1000, default="1")
    fills = count_field("Fills", 100, default="4")
    volume = volume_field("Water of each fill")
    left = WrittenVolumeField(
        "Left after each dump", default="10 mL", description="In tank and film; 10 mL with one 135-36 in a small tank."
    )
    each = MinutesField("Each stands", low=0, high=60, default="2")
    minutes = MinutesField("Or running for", low=0, high=MINUTES_OF_A_DAY, default="10")
    flow = NumberField("At", low=0, high=100, unit="L/min", above_low=True, default="2")
    water = CelsiusField("Water is at", low=0, high=45, optional=True)
    keep = choice_field("Kept as", [(str(keeping), name) for keeping, name in KEEPING_NAMES.items()])

    @property
    def held_ml(self) -> float:
        """Water that the emulsion of the film holds. [mL]"""
        return HELD_ML_PER_UNIT * float(size_of(key=self.size.data).units) * self.count.count

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if self.left.ml < self.held_ml:
            yield self.left, f"The film alone holds {self.held_ml:g} mL: enter at least that."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        fills, fill_ml, left_ml, running_minutes = self.fills.count, self.volume.ml, self.left.ml, self.minutes.value
        keeping = Keeping(self.keep.data)
        load = WashLoad(
            absorbed_ml=self.held_ml, surface_mm2=size_of(key=self.size.data).surface_mm2 * self.count.count
        )
        limit = limit_g_per_m2(material=Material.FILM, keeping=keeping)
        dumped = FillPlan(f"{fills} fills of {number(fill_ml)} mL", fills, fill_ml, left_ml, self.each.value)
        running = RunningPlan(f"running for {number(running_minutes)} min", running_minutes, 1000 * self.flow.value)
        results = compare_washes(plans=(dumped, running), load=load, limit_g_per_m2=limit)
        start = residue_g_per_m2(
            water_g_per_l=load.start_g_per_l, absorbed_ml=load.absorbed_ml, area_mm2=load.surface_mm2
        )
        allowed_water = limit * load.surface_mm2 / 1e6 / (load.absorbed_ml / 1000)
        least_fills = fills_to(
            start_g_per_l=load.start_g_per_l, end_g_per_l=allowed_water, left_ml=left_ml, fill_ml=fill_ml
        )
        least_minutes = running_minutes_to(start_g_per_m2=start, limit_g_per_m2=limit)
        water = after_fills_g_per_l(start_g_per_l=load.start_g_per_l, left_ml=left_ml, fill_ml=fill_ml, fills=fills)
        passes = results[0].passes(limit_g_per_m2=limit)
        cold = cold_water_warning(self.water.amount)
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
                "An estimate: let each fill stand, moved, until the emulsion is in balance, up to about 5 min. Fibre "
                "paper holds on to the last of it; test the print itself.",
            ),
            tables=(
                Rows(
                    "The two side by side",
                    ("Plan", "Left in the film", "Against the limit", "Water", "Time"),
                    tuple(
                        (
                            result.plan.name,
                            f"{trace(result.residue_g_per_m2)} g/m²",
                            "within" if result.passes(limit_g_per_m2=limit) else "over",
                            f"{result.water_litres:.3g} L",
                            f"{number(result.minutes)} min",
                        )
                        for result in results
                    ),
                ),
            ),
        )
