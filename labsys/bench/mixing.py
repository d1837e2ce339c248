"""Dilutions at the bench: forwards, backwards, in series, from one strength to another, and the least concentrate."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from wtforms import Field

from labsys.bench.cylinders import to_measure_with
from labsys.bench.fields import NumberField
from labsys.bench.forms import Question, choice_field, count_field, dilution_field, volume_field
from labsys.bench.results import Answer, Figure, ml, number, percent, sentence, source_of
from labsys.chemistry.care import (
    ALLOWED_SHARE,
    KIND_NAMES,
    NEED_OF,
    MeasuredMix,
    SolutionKind,
    least_batch,
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
from labsys.chemistry.measuring import CannotMeasure, Cylinder, choose_cylinder
from labsys.labware.models import OwnedCylinder
from labsys.labware.queries import cylinders_for_water


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
        cylinders, whose = to_measure_with(owned, kind)
        water_cylinders = cylinders_for_water(owned, kind)
        try:
            mix = measure_mix(
                dilution=dilution, working_ml=working_ml, owned=cylinders, need=NEED_OF[kind], for_water=water_cylinders
            )
        except CannotMeasure as refusal:
            how, water_how, margin = [""] * len(dilution.concentrates), "", ""
            larger = _larger(dilution, cylinders, water_cylinders, kind, working_ml)
            warnings: tuple[str, ...] = (f"{sentence(refusal)} {larger}",)
        else:
            how, water_how = [reading.in_words for reading in mix.concentrates], mix.water.in_words if mix.water else ""
            margin, warnings = _judged(mix, dilution, cylinders, water_cylinders, kind)
        figures = [
            Figure.of_ml(float(volume_ml), name, told)
            for name, volume_ml, told in zip(
                concentrate_names(dilution), dilution.each(parts.concentrate_ml), how, strict=True
            )
        ]
        if water:
            figures.append(Figure.of_ml(water, "water", water_how))
        return Answer(
            figures=tuple(figures),
            formula=_split_in_words(dilution, working_ml, concentrate, water),
            source=(source_of(split), source_of(choose_cylinder)),
            margin=margin,
            warnings=warnings,
            remarks=(f"As {dilution}.", *in_turn(dilution), whose),
        )


def concentrate_names(dilution: Dilution) -> list[str]:
    """What to call each concentrate.

    >>> concentrate_names(Dilution(4)), concentrate_names(Dilution(50, (1, 1)))
    (['concentrate'], ['concentrate A', 'concentrate B'])
    """
    if dilution.is_in_parts:
        return [f"concentrate {letter}" for letter, _ in zip("ABC", dilution.concentrates, strict=False)]
    return ["undiluted" if dilution.is_stock else "concentrate"]


def in_turn(dilution: Dilution) -> tuple[str, ...]:
    """How two concentrates go together."""
    if not dilution.is_in_parts:
        return ()
    return ("A into the water, stir, then B: the concentrates do not meet undiluted. The data sheet comes first.",)


def _split_in_words(dilution: Dilution, working_ml: float, concentrate: float, water: float) -> tuple[str, ...]:
    each = dilution.each(Fraction(concentrate))
    if dilution.is_in_parts:
        whole = [Fraction(part) for part in str(dilution).split("+")]
        told = [
            f"{name.removeprefix('concentrate ')} = {number(working_ml)} mL × {number(float(part))} ÷ "
            f"({' + '.join(number(float(one)) for one in whole)}) = {ml(float(volume))}"
            for name, part, volume in zip(concentrate_names(dilution), whole, each, strict=False)
        ]
    else:
        told = [
            f"Concentrate = {number(working_ml)} mL ÷ ({number(float(dilution.water_parts))} + 1) = {ml(concentrate)}"
        ]
    taken = " − ".join(ml(float(volume)) for volume in each)
    return (*told, f"Water = {number(working_ml)} mL − {taken} = {ml(water)}")


def _judged(
    mix: MeasuredMix,
    dilution: Dilution,
    cylinders: Sequence[Cylinder],
    water_cylinders: Sequence[Cylinder],
    kind: SolutionKind,
) -> tuple[str, tuple[str, ...]]:
    """How far off the strength may be, and what to do where that is too far."""
    allowed = f"{KIND_NAMES[kind]} allows ± {100 * ALLOWED_SHARE[mix.need]:.0f} %"
    margin = f"Strength ± {percent(mix.error.worst)} at worst, ± {percent(mix.error.likely)} likely; {allowed}"
    if mix.is_good_enough:
        return f"{margin}: good enough.", ()
    larger = _larger(dilution, cylinders, water_cylinders, kind, float(mix.parts.working_ml))
    return f"{margin}.", (f"Not exact enough for {KIND_NAMES[kind]}. {larger}",)


def _larger(
    dilution: Dilution,
    cylinders: Sequence[Cylinder],
    water_cylinders: Sequence[Cylinder],
    kind: SolutionKind,
    working_ml: float,
) -> str:
    least = least_batch(
        dilution=dilution, owned=cylinders, need=NEED_OF[kind], for_water=water_cylinders, above_ml=working_ml
    )
    if least is None:
        return "None of these cylinders measures finely enough: use a finer one."
    more = " or more" if least.larger_too else ""
    return f"Use a finer cylinder, mix {ml(least.ml)}{more} at once, or dilute in two steps."


class MakeFrom(Question):
    """How much working solution what is left in the bottle makes."""

    key = "make-from"
    title = "How much does what is left make?"
    dilution = dilution_field()
    left = volume_field("Concentrate left")

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        dilution, concentrate_ml = self.dilution.value, self.left.ml
        parts = working_from_concentrate(
            dilution=dilution, concentrate_ml=Fraction(concentrate_ml) / dilution.concentrates[0]
        )
        names, each = concentrate_names(dilution), dilution.each(parts.concentrate_ml)
        working = ml(float(parts.working_ml))
        return Answer(
            figures=(
                Figure.of_ml(float(parts.working_ml), "working solution"),
                *(Figure.of_ml(float(volume_ml), name) for name, volume_ml in zip(names[1:], each[1:], strict=True)),
                Figure.of_ml(float(parts.water_ml), "water to add"),
            ),
            formula=(
                f"{number(concentrate_ml)} mL × {number(float(dilution.total_parts / dilution.concentrates[0]))} = "
                f"{working}",
            ),
            source=(source_of(split),),
            remarks=(
                f"As {dilution}" + (f", with {ml(concentrate_ml)} of {names[0]} left." if each[1:] else "."),
                *in_turn(dilution),
            ),
        )


class Series(Question):
    """One dilution after another: what it comes to, and what to take of the first solution."""

    key = "series"
    title = "Dilute in two steps"
    first = dilution_field("First dilution")
    second = dilution_field("Then dilute that")
    volume = volume_field("Working solution wanted")

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if self.second.dilution and self.second.dilution.is_in_parts:
            yield self.second, "By the second step there is one solution: write it as 1+N."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        first, second, working_ml = self.first.value, self.second.value, self.volume.ml
        whole = in_series(steps=(first, second))
        then = split(dilution=second, working_ml=working_ml)
        take, water = ml(float(then.concentrate_ml)), ml(float(then.water_ml))
        before = split(dilution=first, working_ml=then.concentrate_ml)
        return Answer(
            figures=(
                Figure(str(whole), "from concentrate to working solution"),
                Figure.of_ml(float(then.concentrate_ml), f"of the {first} solution", f"With {water} water."),
            ),
            formula=(
                f"({number(float(first.water_parts))} + 1) × ({number(float(second.water_parts))} + 1) − 1 = "
                f"{number(float(whole.water_parts))} parts of water",
                f"In {number(working_ml)} mL there are {_of_each(first, before.concentrate_ml)}",
            ),
            source=(source_of(in_series), source_of(split)),
            remarks=(
                f"Make at least {take} of the {first} solution; keep none of it longer than its data sheet says.",
            ),
        )


def _of_each(dilution: Dilution, concentrate_ml: Fraction) -> str:
    named = zip(concentrate_names(dilution), dilution.each(concentrate_ml), strict=True)
    return " and ".join(f"{ml(float(volume_ml))} of {name}" for name, volume_ml in named)


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
            figures=(
                Figure.of_ml(float(parts.concentrate_ml), f"of the {number(strong)} % solution"),
                Figure.of_ml(float(parts.water_ml), "water"),
            ),
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
                Figure.of_ml(
                    float(fill.parts.working_ml), f"for {fill.films} of {films}" if fill.films < films else "to mix"
                ),
                *(
                    Figure.of_ml(float(volume_ml), name)
                    for name, volume_ml in zip(
                        concentrate_names(dilution), dilution.each(fill.parts.concentrate_ml), strict=True
                    )
                ),
                Figure.of_ml(float(fill.parts.water_ml), "water"),
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
