"""Washing at the bench: what two ways to wash leave in film or paper, and what they cost in water and time."""

from collections.abc import Iterator, Sequence

from wtforms import Field

from labsys.bench.fields import CelsiusField, MinutesField, NumberField, WrittenVolumeField
from labsys.bench.forms import MINUTES_OF_A_DAY, Question, choice_field, count_field, volume_field
from labsys.bench.results import Answer, Figure, Rows, clock, ml, number, source_of, trace
from labsys.chemistry.carry_over import carried_out_ml
from labsys.chemistry.development import fix_and_wash_factor
from labsys.chemistry.sizes import MATERIAL_NAMES, SIZES, Load, Material, size_of
from labsys.chemistry.spread import spread
from labsys.chemistry.wash_plans import FillPlan, RunningPlan, WashLoad, compare_washes
from labsys.chemistry.washing import (
    HALF_TIME_SECONDS,
    LEAST_CHANGES,
    LEAST_RUNNING_MINUTES,
    QUICK_HALF_TIME_SECONDS,
    Keeping,
    after_fills_g_per_l,
    fills_to,
    in_running_water_g_per_m2,
    least_changes,
    limit_g_per_m2,
    residue_g_per_m2,
    running_minutes_to,
)
from labsys.labware.models import OwnedCylinder
from labsys.planning.warmth import cold_water_warning

HELD_ML_PER_UNIT = 2.0  # in the emulsion of one 135-36: M. Torzynski, note on film-washing arithmetic, 2004
CHANGED_EVERY_MINUTES = 3.0  # a complete change every 3 min: NAVEDTRA 14209, Photography (Basic)
USUAL_CELSIUS = 20.0
KEEPING_NAMES = {
    Keeping.PERMANENT_FILM: "film for permanent keeping",
    Keeping.PERMANENT_RADIOGRAPH: "radiographs for permanent keeping",
}


class Wash(Question):
    """Filling and dumping compared with running water, for film against a published limit, for paper against the same
    as a yardstick: none is published for it."""

    key = "wash"
    title = "Is it washed?"
    material = choice_field("Material", [(str(material), MATERIAL_NAMES[material]) for material in Material])
    size = choice_field("Size", [(key, key) for key in SIZES], default="120")
    count = count_field("Rolls, sheets or prints at once", 1000, default="1")
    fills = count_field("Fills", 100, default="4")
    volume = volume_field("Water of each fill")
    left = WrittenVolumeField(
        "Left after each dump",
        default="",
        description="Left empty: worked out from the load, with 6 mL in a drained tank for film.",
        optional=True,
    )
    each = MinutesField("Each stands", low=0, high=60, default="5", description="At 20 °C.")
    minutes = MinutesField("Or running for", low=0, high=MINUTES_OF_A_DAY, default="10")
    flow = NumberField("At", low=0, high=100, unit="L/min", above_low=True, default="2")
    water = CelsiusField("Water is at", low=1, high=24, default="20")
    keep = choice_field("Kept as, if film", [(str(keeping), name) for keeping, name in KEEPING_NAMES.items()])
    error = NumberField("Volumes good to ±", low=0, high=50, unit="%", default="5")

    @property
    def of_what(self) -> Material:
        return Material(self.material.data)

    @property
    def carried_ml(self) -> float:
        """Water that the load, drained, holds in it and on it. [mL]"""
        area = size_of(key=self.size.data).surface_mm2 * self.count.count
        material = self.of_what
        return carried_out_ml(
            load=Load(**{f"{material}_mm2": area}), tanks_drained=1 if material is Material.FILM else 0
        ).typical

    @property
    def held_ml(self) -> float:
        """Water that dries into the load: what the emulsion of film holds, all that paper carries. [mL]"""
        if self.of_what is not Material.FILM:
            return self.carried_ml
        return HELD_ML_PER_UNIT * float(size_of(key=self.size.data).units) * self.count.count

    @property
    def left_ml(self) -> float:
        """Liquid left after each dump, as it was entered or as the load carries it. [mL]"""
        return self.left.ml if self.left.amount else self.carried_ml

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        size, material = size_of(key=self.size.data), self.of_what
        if not size.is_made_in(material):
            yield self.size, f"{size.key} is not made in {MATERIAL_NAMES[material]}. Choose another."
        elif self.left.amount and self.left.ml < self.held_ml:
            yield self.left, f"{_Named[material]} alone holds {self.held_ml:.4g} mL: enter at least that."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        fills, fill_ml, left_ml, running_minutes = self.fills.count, self.volume.ml, self.left_ml, self.minutes.value
        material, keeping, celsius = self.of_what, Keeping(self.keep.data), self.water.value
        slower = fix_and_wash_factor(celsius=celsius)
        half_time = slower * (QUICK_HALF_TIME_SECONDS if material is Material.RC else HALF_TIME_SECONDS)
        surface = size_of(key=self.size.data).surface_mm2 * self.count.count
        load = WashLoad(absorbed_ml=self.held_ml, surface_mm2=surface)
        limit = limit_g_per_m2(material=Material.FILM, keeping=keeping)
        each = slower * self.each.value
        dumped = FillPlan(f"{fills} fills of {ml(fill_ml)}", fills, fill_ml, left_ml, each)
        running = RunningPlan(
            f"running for {clock(running_minutes)}", running_minutes, 1000 * self.flow.value, half_time
        )
        results = compare_washes(plans=(dumped, running), load=load, limit_g_per_m2=limit)
        start = residue_g_per_m2(water_g_per_l=load.start_g_per_l, absorbed_ml=load.absorbed_ml, area_mm2=surface)
        allowed_water = limit * surface / 1e6 / (load.absorbed_ml / 1000)
        summed = fills_to(start_g_per_l=load.start_g_per_l, end_g_per_l=allowed_water, left_ml=left_ml, fill_ml=fill_ml)
        least = least_changes(material=material, summed=summed)
        running_least = max(
            running_minutes_to(start_g_per_m2=start, limit_g_per_m2=limit, half_time_seconds=half_time),
            slower * LEAST_RUNNING_MINUTES[material],
        )
        water = after_fills_g_per_l(start_g_per_l=load.start_g_per_l, left_ml=left_ml, fill_ml=fill_ml, fills=fills)
        after_running = in_running_water_g_per_m2(
            start_g_per_m2=start, minutes=running_minutes, half_time_seconds=half_time
        )
        passes = {
            result.plan.name: result.passes(limit_g_per_m2=limit)
            and (fills >= least if result.plan == dumped else running_minutes >= running_least)
            for result in results
        }
        residues = [
            residue_g_per_m2(water_g_per_l=end, absorbed_ml=load.absorbed_ml, area_mm2=surface)
            for end in spread(
                lambda left, fill: after_fills_g_per_l(
                    start_g_per_l=load.start_g_per_l, left_ml=left, fill_ml=fill, fills=fills
                ),
                values={"left": left_ml, "fill": fill_ml},
                errors={"left": self.error.value / 100 * left_ml, "fill": self.error.value / 100 * fill_ml},
            )
        ]
        return Answer(
            figures=self._least(least=least, each=each, running_least=running_least),
            formula=(
                f"Fills: {number(load.start_g_per_l)} g/L × ({left_ml:.4g} ÷ ({left_ml:.4g} + "
                f"{number(fill_ml)}))^{fills} = {trace(water)} g/L in the last water",
                f"Running: {start:.2f} g/m² × 2^(−{number(running_minutes)} × 60 ÷ {number(half_time)}) = "
                f"{trace(after_running)} g/m²",
                f"Limit: {number(limit)} g/m² for {KEEPING_NAMES[keeping]}",
                f"At {number(celsius)} °C it takes {slower:.2f} times as long as at {number(USUAL_CELSIUS)} °C",
            ),
            source=(
                source_of(after_fills_g_per_l),
                source_of(in_running_water_g_per_m2),
                source_of(limit_g_per_m2),
                source_of(least_changes),
                source_of(fix_and_wash_factor),
                source_of(carried_out_ml),
            ),
            margin=f"{' to '.join(dict.fromkeys(trace(residue) for residue in residues))} g/m² after {fills} fills, "
            f"for volumes good to ± {number(self.error.value)} %.",
            warnings=tuple(self._warnings(passes=any(passes.values()), running_least=running_least)),
            remarks=tuple(self._remarks(left_ml)),
            tables=(
                Rows(
                    "The two side by side",
                    ("Plan", "Left in it", "Enough", "Water", "Time"),
                    tuple(
                        (
                            result.plan.name,
                            f"{trace(result.residue_g_per_m2)} g/m²",
                            self._verdict(passes=passes[result.plan.name], minutes=result.minutes),
                            f"{result.water_litres:.3g} L",
                            clock(result.minutes),
                        )
                        for result in results
                    ),
                ),
            ),
        )

    def _is_too_long(self, minutes: float) -> bool:
        """Whether the paper would take up water at its edges meanwhile."""
        return self.of_what is Material.RC and minutes > MOST_RC_MINUTES + 1e-9

    def _least(self, *, least: int, each: float, running_least: float) -> tuple[Figure, ...]:
        """The least that washes; for RC paper in water too cold for it, that there is no such wash."""
        celsius = number(self.water.value)
        if self._is_too_long(running_least):
            why = f"At {celsius} °C it takes {clock(running_least)}, and RC paper may lie in water for "
            return (Figure("Too cold", "for RC paper", f"{why}{number(MOST_RC_MINUTES)} min at most."),)
        stands = f"{clock(each)} each"
        if self._is_too_long(least * each):
            stands = f"{clock(MOST_RC_MINUTES / least)} each at most"
        return (
            Figure(str(least), "fills at least", f"of {ml(self.volume.ml)}, {stands}"),
            Figure(clock(running_least), "running at least", f"at {celsius} °C"),
        )

    def _verdict(self, *, passes: bool, minutes: float) -> str:
        if self._is_too_long(minutes):
            return "too long for RC paper"
        return "yes" if passes else "no"

    def _warnings(self, *, passes: bool, running_least: float) -> Iterator[str]:
        if not passes:
            yield "Neither of these washes enough."
        if cold := cold_water_warning(self.water.amount):
            yield cold
        change = self.volume.ml / 1000 / self.flow.value
        if change > CHANGED_EVERY_MINUTES:
            yield (
                f"At {number(self.flow.value)} L/min the water of {ml(self.volume.ml)} changes every {clock(change)}: "
                f"running, it has to change every {number(CHANGED_EVERY_MINUTES)} min."
            )
        if self._is_too_long(running_least):
            yield "No wash for RC paper at this temperature: warm the water first."
        elif self._is_too_long(self.minutes.value):
            yield f"RC paper left over {number(MOST_RC_MINUTES)} min in water takes it up at the edges."

    def _remarks(self, left_ml: float) -> Iterator[str]:
        material = self.of_what
        yield (
            "The sum assumes equilibrium: each fill stands, moved, until the emulsion is in balance with it, up to "
            f"about 5 min. Never fewer than {LEAST_CHANGES[material]} changes, whatever it says."
        )
        if not self.left.amount:
            yield f"{self.count.count} of {self.size.data} and what drains last keep {ml(left_ml)} after each dump."
        if material is not Material.FILM:
            yield (
                "No limit is published for paper: film's is the yardstick here. Fibre holds on to the last of it; "
                "test the print itself."
            )


MOST_RC_MINUTES = 4.0  # 2 to 4 min: common practice, no source
_Named = {Material.FILM: "The film", Material.RC: "The paper", Material.FIBRE: "The paper"}
