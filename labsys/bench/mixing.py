"""Dilutions at the bench: forwards, backwards, in series, from one strength to another, and the least concentrate."""

from collections.abc import Iterator, Sequence

from wtforms import Field

from labsys.bench.fields import NumberField
from labsys.bench.forms import Question, choice_field, count_field, dilution_field, volume_field
from labsys.bench.results import Answer, Figure, ml, number, percent, sentence, source_of
from labsys.chemistry.care import (
    ALLOWED_SHARE,
    KIND_NAMES,
    NEED_OF,
    MeasuredMix,
    SolutionKind,
    least_batch_ml,
    measure_mix,
)
from labsys.chemistry.dilution import (
    MOST_WATER_PARTS,
    Dilution,
    in_series,
    split,
    split_to_percent,
    working_from_concentrate,
)
from labsys.chemistry.least_concentrate import Forced, fill_for_films, weakest_dilution
from labsys.chemistry.measuring import LIMITS, CannotMeasure, Cylinder, CylinderClass, Standard, choose_cylinder
from labsys.labware.models import OwnedCylinder
from labsys.labware.queries import cylinders_for

COMMON_CYLINDERS = tuple(
    Cylinder(size, row.divisions_ml[0], CylinderClass.B) for size, row in LIMITS[Standard.ISO_4788].items()
)
NO_CYLINDERS = "No measuring cylinders are entered in the chemical store: common sizes, class B of ISO 4788, are taken."


class Dilute(Question):
    """Concentrate and water for a volume, which cylinders to use, and whether they are exact enough."""

    key = "dilute"
    title = "Mix a volume"
    dilution = dilution_field()
    volume = volume_field("Working solution wanted")
    kind = choice_field(
        "What it is",
        [(str(kind), name) for kind, name in KIND_NAMES.items()],
        description="Decides how exact it has to be, and which cylinders.",
    )

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        dilution, working_ml, kind = self.dilution.value, self.volume.ml, SolutionKind(self.kind.data)
        parts = split(dilution=dilution, working_ml=working_ml)
        concentrate, water = float(parts.concentrate_ml), float(parts.water_ml)
        entered = cylinders_for(owned, kind)
        cylinders = entered or COMMON_CYLINDERS
        try:
            mix = measure_mix(dilution=dilution, working_ml=working_ml, owned=cylinders, need=NEED_OF[kind])
        except CannotMeasure as refusal:
            how, margin = ("", ""), ""
            warnings: tuple[str, ...] = (f"{sentence(refusal)} {_larger(dilution, cylinders, kind)}",)
        else:
            how = (mix.concentrate.in_words, mix.water.in_words if mix.water else "")
            margin, warnings = _judged(mix, dilution, cylinders, kind)
        figures = [Figure(ml(concentrate), "undiluted" if dilution.is_stock else "concentrate", how[0])]
        if water:
            figures.append(Figure(ml(water), "water", how[1]))
        return Answer(
            figures=tuple(figures),
            formula=(
                f"Concentrate = {number(working_ml)} mL ÷ ({number(float(dilution.water_parts))} + 1) = "
                f"{ml(concentrate)}",
                f"Water = {number(working_ml)} mL − {ml(concentrate)} = {ml(water)}",
            ),
            source=(source_of(split), source_of(choose_cylinder)),
            margin=margin,
            warnings=warnings,
            remarks=(f"As {dilution}.", *(() if entered else (NO_CYLINDERS,))),
        )


def _judged(
    mix: MeasuredMix, dilution: Dilution, cylinders: Sequence[Cylinder], kind: SolutionKind
) -> tuple[str, tuple[str, ...]]:
    """How far off the strength may be, and what to do where that is too far."""
    allowed = f"{KIND_NAMES[kind]} allows ± {100 * ALLOWED_SHARE[mix.need]:.0f} %"
    margin = f"Strength ± {percent(mix.error.worst)} at worst, ± {percent(mix.error.likely)} likely; {allowed}"
    if mix.is_good_enough:
        return f"{margin}: good enough.", ()
    return f"{margin}.", (f"Not exact enough for {KIND_NAMES[kind]}. {_larger(dilution, cylinders, kind)}",)


def _larger(dilution: Dilution, cylinders: Sequence[Cylinder], kind: SolutionKind) -> str:
    least = least_batch_ml(dilution=dilution, owned=cylinders, need=NEED_OF[kind])
    if least is None:
        return "None of these cylinders measures finely enough: use a finer one."
    return f"Use a finer cylinder, mix {ml(least)} or more at once, or dilute in two steps."


class MakeFrom(Question):
    """How much working solution what is left in the bottle makes."""

    key = "make-from"
    title = "How much does what is left make?"
    dilution = dilution_field()
    left = volume_field("Concentrate left")

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        dilution, concentrate_ml = self.dilution.value, self.left.ml
        parts = working_from_concentrate(dilution=dilution, concentrate_ml=concentrate_ml)
        working = ml(float(parts.working_ml))
        return Answer(
            figures=(Figure(working, "working solution"), Figure(ml(float(parts.water_ml)), "water to add")),
            formula=(f"{number(concentrate_ml)} mL × ({number(float(dilution.water_parts))} + 1) = {working}",),
            source=(source_of(split),),
            remarks=(f"As {dilution}.",),
        )


class Series(Question):
    """One dilution after another: what it comes to, and what to take of the first solution."""

    key = "series"
    title = "Dilute in two steps"
    first = dilution_field("First dilution")
    second = dilution_field("Then dilute that")
    volume = volume_field("Working solution wanted")

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        first, second, working_ml = self.first.value, self.second.value, self.volume.ml
        whole = in_series(steps=(first, second))
        then = split(dilution=second, working_ml=working_ml)
        take, water = ml(float(then.concentrate_ml)), ml(float(then.water_ml))
        before = split(dilution=first, working_ml=then.concentrate_ml)
        return Answer(
            figures=(
                Figure(str(whole), "from concentrate to working solution"),
                Figure(take, f"of the {first} solution", f"With {water} water."),
            ),
            formula=(
                f"({number(float(first.water_parts))} + 1) × ({number(float(second.water_parts))} + 1) − 1 = "
                f"{number(float(whole.water_parts))} parts of water",
                f"In {number(working_ml)} mL there are {ml(float(before.concentrate_ml))} of the concentrate",
            ),
            source=(source_of(in_series), source_of(split)),
            remarks=(
                f"Make at least {take} of the {first} solution; keep none of it longer than its data sheet says.",
            ),
        )


class Weaken(Question):
    """From one percent strength to a weaker one."""

    key = "weaken"
    title = "From one percentage to another"
    strong = NumberField("Strength at hand", low=0, high=200, unit="%", above_low=True)
    wanted = NumberField("Strength wanted", low=0, high=200, unit="%", above_low=True)
    volume = volume_field("Volume wanted")

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if self.wanted.value > self.strong.value:
            yield self.wanted, f"Water only weakens: enter at most {self.strong.value:g} %."
        elif self.strong.value > (MOST_WATER_PARTS + 1) * self.wanted.value:
            yield self.wanted, f"That is weaker than 1+{MOST_WATER_PARTS}: dilute in two steps."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        strong, wanted, working_ml = self.strong.value, self.wanted.value, self.volume.ml
        parts = split_to_percent(from_percent=strong, to_percent=wanted, working_ml=working_ml)
        take = ml(float(parts.concentrate_ml))
        return Answer(
            figures=(Figure(take, f"of the {number(strong)} % solution"), Figure(ml(float(parts.water_ml)), "water")),
            formula=(f"{number(working_ml)} mL × {number(wanted)} ÷ {number(strong)} = {take}",),
            source=(source_of(split_to_percent),),
            warnings=("Acid into water, never water into acid.",),
            remarks=("Holds where both strengths are by volume; the bottle and its SDS come first.",),
        )


class LeastConcentrate(Question):
    """Whether a very dilute developer holds enough concentrate for the film, and what to do if not."""

    key = "least"
    title = "Enough concentrate for the film?"
    dilution = dilution_field()
    films = count_field("Rolls at once", 1000)
    least = NumberField(
        "Least concentrate for one roll", low=0, high=1000, unit="mL", above_low=True, description="On the data sheet."
    )
    volume = volume_field("Volume that covers the film")
    largest = volume_field("Volume the tank holds")

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if self.largest.ml < self.volume.ml:
            yield self.largest, "The tank holds at least the volume that covers the film."
        if self.least.value * self.films.value > self.volume.ml:
            yield self.least, "Even undiluted, that volume does not hold so much. Check the three of them."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        dilution, films, least_ml, fill_ml = self.dilution.value, self.films.count, self.least.value, self.volume.ml
        fill = fill_for_films(
            dilution=dilution, films=films, least_concentrate_ml=least_ml, fill_ml=fill_ml, largest_ml=self.largest.ml
        )
        needed = films * least_ml * float(dilution.total_parts)
        weakest = weakest_dilution(films=films, least_concentrate_ml=least_ml, working_ml=fill_ml)
        water_parts = int(weakest.water_parts)  # rounded down: never weaker than the film needs
        is_enough = fill.forced is Forced.NOTHING
        return Answer(
            figures=(
                Figure(
                    ml(float(fill.parts.working_ml)), f"for {fill.films} of {films}" if fill.films < films else "to mix"
                ),
                Figure(ml(float(fill.parts.concentrate_ml)), "concentrate"),
                Figure(ml(float(fill.parts.water_ml)), "water"),
            ),
            formula=(
                f"{films} × {number(least_ml)} mL × ({number(float(dilution.water_parts))} + 1) = {ml(needed)}, "
                f"against a fill of {ml(fill_ml)}",
            ),
            source=(source_of(fill_for_films),),
            warnings=() if is_enough else (fill.reason,),
            remarks=(
                *((fill.reason,) if is_enough else ()),
                f"In {ml(fill_ml)}, 1+{water_parts} is the weakest that still feeds {films}.",
                "The maker's sheet gives the least.",
            ),
        )
