"""Powders at the bench: a formula scaled to a batch, in mixing order, what the balance makes of it, and the cost."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from wtforms import Field

from labsys.bench.fields import CrystalsField, IngredientsField, NumberField, PricesField
from labsys.bench.forms import Question, choice_field, volume_field
from labsys.bench.results import Answer, Figure, Rows, grams, ml, number, percent, sentence, source_of
from labsys.chemistry import published_formulae as published
from labsys.chemistry.dissolving import HARDLY_SHARE, dissolved_share, faults_of, most_dissolved_percent, order_faults
from labsys.chemistry.formulae import Formula, Ingredient, TooLittleToWeigh, Unit, percent_solution_ml, scale, weigh
from labsys.chemistry.salts import WATER_NAMES, Crystal, NoSuchHydrate, hydrate_factor, read_crystal
from labsys.equipment.rules import Counted
from labsys.labware.models import OwnedCylinder

FORMULAE = {
    "mq-borax": published.MQ_BORAX_DEVELOPER,
    "citric-stop": published.CITRIC_STOP,
    "non-swelling-stop": published.NON_SWELLING_STOP,
    "plain-hypo": published.PLAIN_ACID_HYPO,
    "sulfite-wash-aid": published.SULFITE_WASH_AID,
    "thiosulfate-test": published.RESIDUAL_THIOSULFATE_TEST,
}
ALLOWED_WEIGHING_SHARE = 0.05  # as exact as a developer has to be: common practice, no source
USUAL_SOLUTION_PERCENT = 10.0
# The chloride of tap water takes silver out as a white cloud: standard chemistry, from memory.
_SILVER, SILVER_WATER = "silver", "distilled water"
WORTH_ASKING = 1.2  # citric acid with or without its water works alike: common practice, no source


class Powders(Question):
    """A formula scaled to a batch. Prices are per kilogram, by name of the ingredient."""

    key = "powders"
    title = "Mix from powders"
    formula = choice_field(
        "Formula", [("", "My own, below"), *((key, recipe.name) for key, recipe in FORMULAE.items())]
    )
    lines = IngredientsField(
        "My own, for a litre", description="In mixing order, one a line: metol 2 g. Liquids in mL."
    )
    volume = volume_field("Volume wanted")
    have = CrystalsField(
        "Other crystals in your jars",
        description="One a line, where a jar holds another crystal than the formula: sodium sulfite, anhydrous.",
    )
    step = NumberField(
        "The balance shows steps of",
        low=0,
        high=100,
        unit="g",
        above_low=True,
        optional=True,
        description="Such as 0.1.",
    )
    prices = PricesField("Prices for a kilogram", description="One a line: metol 90. Names as in the formula.")

    @property
    def recipe(self) -> Formula:
        """The formula that was chosen or typed, for a litre."""
        lines = tuple(self.lines.ingredients)
        water = SILVER_WATER if any(_SILVER in line.name.lower() for line in lines) else "water"
        own = Formula("Your formula", lines, "As entered here.", water=water)
        return FORMULAE.get(self.formula.data, own)

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if self.formula.data and self.lines.ingredients:
            yield self.lines, "Choose a formula or type your own, not both."
        elif not self.formula.data and not self.lines.ingredients:
            yield self.formula, "Choose a formula, or type your own below."
        else:
            field = self.formula if self.formula.data else self.lines
            for fault in _readable(self.recipe):
                yield field, fault

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        formula, volume_ml, step_g, prices = self.recipe, self.volume.ml, self.step.amount, self.prices.prices
        asked = scale(formula=formula, volume_ml=volume_ml)
        jars = {crystal.salt.name: crystal for crystal in self.have.crystals}
        exchanged = [_from_the_jar(line, jars) for line in asked.ingredients]
        batch = replace(asked, ingredients=tuple(line for line, _ in exchanged))
        warnings = [*order_faults(batch.ingredients), *_doubts(batch)]
        off_g = self.instruments.balance.off if self.instruments.balance else 0.0
        rows = tuple(_row(nth, line, step_g, off_g, warnings) for nth, line in enumerate(batch.ingredients, start=1))
        warm = f"at {number(batch.water_celsius)} °C" if batch.water_celsius else "as it comes from the tap"
        if unknown := sorted(set(prices) - {line.name.lower() for line in batch.ingredients}):
            warnings.append(f"Not in this formula, so not counted: {', '.join(unknown)}.")
        if strange := sorted(set(jars) - {told.salt.name for line in asked.ingredients if (told := _crystal(line))}):
            warnings.append(f"Not in this formula, so nothing was exchanged: {', '.join(strange)}.")
        first = formula.ingredients[0]
        figures = [
            Figure.of_ml(batch.begin_with_ml, f"{batch.water} to begin with", "" if batch.water != "water" else warm),
            Figure.of_ml(volume_ml, f"made up with cold {batch.water}", "When all of it has dissolved."),
        ]
        sums = [
            f"{first.name}: {number(first.amount)} {first.unit} × {number(volume_ml)} ÷ {number(formula.makes_ml)} = "
            f"{number(asked.ingredients[0].amount)} {first.unit}",
            *(told for _, told in exchanged if told),
        ]
        if costs := _costs(batch.ingredients, prices):
            total = f"{sum(costs.values()):.2f}"
            left_out = ", ".join(line.name for line in batch.ingredients if line.name not in costs)
            figures.append(Figure(total, "cost", f"Without {left_out}." if left_out else "All of it."))
            sums.append(f"Cost = {' + '.join(f'{name} {cost:.2f}' for name, cost in costs.items())} = {total}")
        sources = [formula.source]
        if step_g:
            sources.append(source_of(weigh))
        if any(told for _, told in exchanged):
            sources.append(source_of(hydrate_factor))
        return Answer(
            figures=tuple(figures),
            formula=tuple(sums),
            source=tuple(sources),
            margin=_weighed(step_g, self.instruments.balance) if step_g else "",
            warnings=tuple(warnings),
            remarks=(
                *((batch.mind,) if batch.mind else ()),
                "In this order, each dissolved before the next. Read the SDS of each first; weigh powders where the "
                "air is drawn off, with gloves and goggles. Acid into water, never water into acid.",
            ),
            tables=(Rows(batch.name, ("Ingredient", "Amount", "On the balance"), rows),),
        )


def _weighed(step_g: float, balance: Counted | None) -> str:
    return f"Weighed in steps of {number(step_g)} g. {balance.said if balance else ''}".strip()


def _readable(formula: Formula) -> Iterator[str]:
    """Why a formula cannot be made, a crystal that does not exist included."""
    try:
        yield from faults_of(formula)
    except NoSuchHydrate as error:
        yield f"{sentence(error)} It is sold as {_kinds(error.salt)}."


def _kinds(salt: str) -> str:
    crystal = read_crystal(salt)
    return crystal.kinds if crystal else ""


def _crystal(line: Ingredient) -> Crystal | None:
    return read_crystal(line.name) if line.unit is Unit.GRAM else None


def _from_the_jar(line: Ingredient, jars: Mapping[str, Crystal]) -> tuple[Ingredient, str]:
    """The line with the crystal that is in the jar, and the sum; as it is where the jar holds what it names."""
    asked = _crystal(line)
    jar = jars.get(asked.salt.name) if asked else None
    if asked is None or asked.waters is None or jar is None or jar.waters is None or jar.waters == asked.waters:
        return line, ""
    factor = hydrate_factor(salt=asked.salt, from_waters=asked.waters, to_waters=jar.waters)
    own = Ingredient(f"{asked.salt.name}, {WATER_NAMES[jar.waters]}", line.amount * factor)
    return own, f"{own.name}: {grams(line.amount)} {WATER_NAMES[asked.waters]} × {factor:.3f} = {grams(own.amount)}"


def _doubts(batch: Formula) -> Iterator[str]:
    """What can be made, but wants a second look."""
    for line in batch.ingredients:
        crystal = _crystal(line)
        if crystal is not None and crystal.waters is None:
            most = hydrate_factor(salt=crystal.salt, from_waters=0, to_waters=max(crystal.salt.hydrates))
            if most > WORTH_ASKING:
                yield f"{line.name}: {crystal.kinds}? The formula has to say which: up to {most:.1f} times apart."
        if line.unit is Unit.GRAM:
            share = dissolved_share(name=line.name, grams=line.amount, volume_ml=batch.makes_ml)
            if share is not None and HARDLY_SHARE < share <= 1:
                yield f"{line.name}: {percent(share)} of what dissolves at 20 °C. It comes out again in a cold room."


def _row(nth: int, line: Ingredient, step_g: float | None, off_g: float, warnings: list[str]) -> tuple[str, str, str]:
    """One ingredient; what the balance cannot do is added to the warnings."""
    name = f"{nth}. {line.name}"
    if line.unit is Unit.MILLILITRE:
        return name, ml(line.amount), "measured, not weighed"
    if step_g is None:
        return name, grams(line.amount), ""
    try:
        weighing = weigh(wanted_g=line.amount, step_g=step_g, off_g=off_g)
    except TooLittleToWeigh:
        warnings.append(_as_a_solution(line))
        return name, grams(line.amount), "too little to weigh"
    if weighing.error_share > ALLOWED_WEIGHING_SHARE:
        warnings.append(_as_a_solution(line))
    return name, grams(line.amount), f"{number(weighing.reading_g)} g ± {percent(weighing.error_share)}"


def _as_a_solution(line: Ingredient) -> str:
    """What to do with an amount that is too little: a larger batch, or a solution as strong as it dissolves."""
    too_little = f"{grams(line.amount)} of {line.name} is too little for this balance."
    most = most_dissolved_percent(name=line.name)
    if most is None:
        return f"{too_little} Make a larger batch, or weigh it on a finer balance."
    worth = next(strength for strength in (USUAL_SOLUTION_PERCENT, 1.0, 0.5, 0.1) if strength <= HARDLY_SHARE * most)
    taken = percent_solution_ml(grams=line.amount, percent=worth)
    return f"{too_little} Make a larger batch, or make a {number(worth)} % solution and measure {ml(taken)} of it."


def _costs(lines: Sequence[Ingredient], prices: Mapping[str, float]) -> dict[str, float]:
    """Cost of what is weighed and has a price."""
    return {
        line.name: line.amount / 1000 * prices[line.name.lower()]
        for line in lines
        if line.unit is Unit.GRAM and line.name.lower() in prices
    }
