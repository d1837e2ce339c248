"""Questions about what goes into a solution: dilutions, powders, and how warm it is."""

from collections.abc import Iterator, Sequence

from wtforms import Field

from labsys.bench import mixing, powders, warmth
from labsys.bench.fields import (
    CelsiusField,
    DilutionField,
    IngredientsField,
    NumberField,
    PricesField,
)
from labsys.bench.forms import MINUTES_OF_A_DAY, Question, choice_field, count_field, dilution_field, volume_field
from labsys.bench.results import Answer
from labsys.chemistry.care import KIND_NAMES, SolutionKind
from labsys.chemistry.dilution import MOST_WATER_PARTS
from labsys.chemistry.formulae import Formula
from labsys.labware.models import OwnedCylinder
from labsys.labware.queries import cylinders_for

_KINDS = [(str(kind), name) for kind, name in KIND_NAMES.items()]


def _thermometer() -> NumberField:
    return NumberField("Thermometer good to ±", low=0, high=5, unit="°C", default="0.5")


class Dilute(Question):
    key = "dilute"
    title = "Mix a volume"
    dilution = dilution_field()
    volume = volume_field("Working solution wanted")
    kind = choice_field("What it is", _KINDS, description="Decides how exact it has to be, and which cylinders.")

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        kind = SolutionKind(self.kind.data)
        return mixing.dilute(
            dilution=self.dilution.value,
            working_ml=self.volume.ml,
            kind=kind,
            cylinders=cylinders_for(owned, kind),
        )


class MakeFrom(Question):
    key = "make-from"
    title = "How much does what is left make?"
    dilution = dilution_field()
    left = volume_field("Concentrate left")

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        return mixing.make_from(dilution=self.dilution.value, concentrate_ml=self.left.ml)


class Series(Question):
    key = "series"
    title = "Dilute in two steps"
    first = dilution_field("First dilution")
    second = dilution_field("Then dilute that")
    volume = volume_field("Working solution wanted")

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        return mixing.series(first=self.first.value, second=self.second.value, working_ml=self.volume.ml)


class Weaken(Question):
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
        return mixing.weaken(from_percent=self.strong.value, to_percent=self.wanted.value, working_ml=self.volume.ml)


class LeastConcentrate(Question):
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
        return mixing.least_concentrate(
            dilution=self.dilution.value,
            films=int(self.films.value),
            least_ml=self.least.value,
            fill_ml=self.volume.ml,
            largest_ml=self.largest.ml,
        )


class Temper(Question):
    key = "temper"
    title = "Hot and cold water to a temperature"
    volume = volume_field("Volume wanted")
    target = CelsiusField("Temperature wanted", low=5, high=60, default="20")
    hot = CelsiusField("Hot tap", low=1, high=65)
    cold = CelsiusField("Cold tap", low=0, high=45)
    dilution = DilutionField(
        "Dilution", optional=True, description="Only if a concentrate goes into it; it stands at room temperature."
    )
    room = CelsiusField("Room", low=0, high=45, default="20")
    thermometer = _thermometer()

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if self.hot.value <= self.cold.value:
            yield self.hot, "The hot tap has to be warmer than the cold one."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        asked = warmth.Asked(
            working_ml=self.volume.ml,
            target_celsius=self.target.value,
            hot_celsius=self.hot.value,
            cold_celsius=self.cold.value,
            dilution=self.dilution.dilution,
            room_celsius=self.room.value,
            thermometer_celsius=self.thermometer.value,
        )
        return warmth.temper_answer(asked=asked, cylinders=cylinders_for(owned, SolutionKind.DEVELOPER))


class Cool(Question):
    key = "cool"
    title = "How far does it cool?"
    start = CelsiusField("At the start", low=0, high=65)
    room = CelsiusField("Room or water around it", low=0, high=45, default="20")
    minutes = NumberField("It stands for", low=0, high=MINUTES_OF_A_DAY, unit="min", above_low=True)
    tau = NumberField(
        "Time constant",
        low=0,
        high=MINUTES_OF_A_DAY,
        unit="min",
        above_low=True,
        default="60",
        description="A 500 mL tank: plastic in still air 45 to 90, steel 25 to 45, in a stirred jacket 5 to 15.",
    )

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        return warmth.cool(
            start_celsius=self.start.value,
            room_celsius=self.room.value,
            minutes=self.minutes.value,
            tau_minutes=self.tau.value,
        )


class Develop(Question):
    key = "develop"
    title = "Developing time at another temperature"
    minutes = NumberField("Time on the data sheet", low=0, high=240, unit="min", above_low=True)
    at = CelsiusField("At", low=10, high=40, default="20")
    now = CelsiusField("Developer today", low=10, high=40)
    q10 = NumberField(
        "Temperature coefficient",
        low=1,
        high=5,
        default="2.5",
        description="For 10 °C. From the data sheet; 2.5 is usual for PQ and MQ film developers.",
    )
    low = CelsiusField("Holds from", low=10, high=40, default="18")
    high = CelsiusField("Holds to", low=10, high=40, default="24")
    thermometer = _thermometer()

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        low, high = self.low.value, self.high.value
        if not low <= self.at.value <= high:
            yield self.at, "The temperature of the data sheet has to lie in the range for which this holds."
        if not low <= self.now.value <= high:
            yield self.now, f"No time can be said for {self.now.value:g} °C: this holds from {low:g} to {high:g} °C."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        return warmth.develop(
            minutes=self.minutes.value,
            at_celsius=self.at.value,
            now_celsius=self.now.value,
            q10=self.q10.value,
            low_celsius=self.low.value,
            high_celsius=self.high.value,
            thermometer_celsius=self.thermometer.value,
        )


class Powders(Question):
    key = "powders"
    title = "Mix from powders"
    formula = choice_field(
        "Formula",
        [("", "My own, below"), *((key, one.name) for key, one in powders.FORMULAE.items())],
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
        return powders.powders(
            formula=powders.FORMULAE.get(self.formula.data, own),
            volume_ml=self.volume.ml,
            step_g=self.step.amount,
            prices=self.prices.prices,
        )
