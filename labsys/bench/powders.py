"""Powders at the bench: a formula scaled to a batch, in mixing order, what the balance makes of it, and the cost."""

from collections.abc import Iterator, Mapping, Sequence

from wtforms import Field

from labsys.bench.fields import IngredientsField, NumberField, PricesField
from labsys.bench.forms import Question, choice_field, volume_field
from labsys.bench.results import Answer, Figure, Rows, grams, ml, number, percent, source_of
from labsys.chemistry import published_formulae as published
from labsys.chemistry.formulae import Formula, Ingredient, TooLittleToWeigh, Unit, percent_solution_ml, scale, weigh
from labsys.labware.models import OwnedCylinder

FORMULAE = {
    "mq-borax": published.MQ_BORAX_FILM_DEVELOPER,
    "mq-carbonate": published.MQ_CARBONATE_PRINT_DEVELOPER,
    "citric-stop": published.CITRIC_STOP,
    "non-swelling-stop": published.NON_SWELLING_STOP,
    "plain-hypo": published.PLAIN_ACID_HYPO,
    "hardening-fixer": published.ACID_HARDENING_FIXER,
    "alkaline-fixer": published.ALKALINE_RAPID_FIXER_CONCENTRATE,
    "sulfite-wash-aid": published.SULFITE_WASH_AID,
    "thiosulfate-test": published.RESIDUAL_THIOSULFATE_TEST,
}
ALLOWED_WEIGHING_SHARE = 0.05  # as exact as a developer has to be: common practice, no source
WORTH_A_SOLUTION_PERCENT = 10.0
USUAL_FIRST_WATER_SHARE = 0.75  # common practice, no source


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

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if self.formula.data and self.lines.ingredients:
            yield self.lines, "Choose a formula or type your own, not both."
        if not self.formula.data and not self.lines.ingredients:
            yield self.formula, "Choose a formula, or type your own below."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        own = Formula("Your formula", tuple(self.lines.ingredients), "As entered here.")
        formula = FORMULAE.get(self.formula.data, own)
        volume_ml, step_g, prices = self.volume.ml, self.step.amount, self.prices.prices
        batch = scale(formula=formula, volume_ml=volume_ml)
        warnings: list[str] = []
        rows = tuple(_row(nth, line, step_g, warnings) for nth, line in enumerate(batch.ingredients, start=1))
        first_ml = batch.first_water_ml or USUAL_FIRST_WATER_SHARE * volume_ml
        warm = f"at {number(batch.water_celsius)} °C" if batch.water_celsius else "as it comes from the tap"
        if unknown := sorted(set(prices) - {line.name.lower() for line in batch.ingredients}):
            warnings.append(f"Not in this formula, so not counted: {', '.join(unknown)}.")
        first = formula.ingredients[0]
        figures = [
            Figure(ml(first_ml), "water to begin with", warm),
            Figure(ml(volume_ml), "made up with cold water", "When all of it has dissolved."),
        ]
        sums = [
            f"{first.name}: {number(first.amount)} {first.unit} × {number(volume_ml)} ÷ {number(formula.makes_ml)} = "
            f"{number(batch.ingredients[0].amount)} {first.unit}"
        ]
        if costs := _costs(batch.ingredients, prices):
            total = f"{sum(costs.values()):.2f}"
            left_out = ", ".join(line.name for line in batch.ingredients if line.name not in costs)
            figures.append(Figure(total, "cost", f"Without {left_out}." if left_out else "All of it."))
            sums.append(f"Cost = {' + '.join(f'{name} {cost:.2f}' for name, cost in costs.items())} = {total}")
        return Answer(
            figures=tuple(figures),
            formula=tuple(sums),
            source=(formula.source, source_of(weigh)) if step_g else (formula.source,),
            margin=f"Weighed in steps of {number(step_g)} g." if step_g else "",
            warnings=tuple(warnings),
            remarks=(
                "In this order, each dissolved before the next. Read the SDS of each first; weigh powders where the "
                "air is drawn off, with gloves and goggles. Acid into water, never water into acid.",
            ),
            tables=(Rows(batch.name, ("Ingredient", "Amount", "On the balance"), rows),),
        )


def _row(nth: int, line: Ingredient, step_g: float | None, warnings: list[str]) -> tuple[str, str, str]:
    """One ingredient; what the balance cannot do is added to the warnings."""
    name = f"{nth}. {line.name}"
    if line.unit is Unit.MILLILITRE:
        return name, ml(line.amount), "measured, not weighed"
    if step_g is None:
        return name, grams(line.amount), ""
    try:
        weighing = weigh(wanted_g=line.amount, step_g=step_g)
    except TooLittleToWeigh:
        warnings.append(_as_a_solution(line))
        return name, grams(line.amount), "too little to weigh"
    if weighing.error_share > ALLOWED_WEIGHING_SHARE:
        warnings.append(_as_a_solution(line))
    return name, grams(line.amount), f"{number(weighing.reading_g)} g ± {percent(weighing.error_share)}"


def _as_a_solution(line: Ingredient) -> str:
    taken = percent_solution_ml(grams=line.amount, percent=WORTH_A_SOLUTION_PERCENT)
    return (
        f"{grams(line.amount)} of {line.name} is too little for this balance. Make a larger batch, or, where it "
        f"dissolves so far, make a {number(WORTH_A_SOLUTION_PERCENT)} % solution and measure {ml(taken)} of it."
    )


def _costs(lines: Sequence[Ingredient], prices: Mapping[str, float]) -> dict[str, float]:
    """Cost of what is weighed and has a price."""
    return {
        line.name: line.amount / 1000 * prices[line.name.lower()]
        for line in lines
        if line.unit is Unit.GRAM and line.name.lower() in prices
    }
