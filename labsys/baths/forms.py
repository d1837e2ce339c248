"""What people type about baths: lines, mixing, uses, dumping."""

from collections.abc import Mapping, Sequence
from typing import ClassVar

from flask import g
from werkzeug.datastructures import MultiDict
from wtforms import FieldList, FormField, IntegerField, RadioField, SelectField, StringField, SubmitField
from wtforms.validators import InputRequired, Length, Optional, ValidationError
from wtforms.widgets import HiddenInput

from labsys import clock
from labsys.baths.by_person import UsesAsked
from labsys.baths.models import Bath, BathLine, Place, Way, Work
from labsys.baths.rules import Taken
from labsys.chemistry.bath_rules import HOLDING_NAMES, Holding
from labsys.chemistry.dilution import parse_dilution
from labsys.chemistry.errors import CalculationError
from labsys.chemistry.sizes import MATERIAL_NAMES
from labsys.forms import (
    FigureField,
    FormRow,
    InstantField,
    LabForm,
    PeriodForm,
    PlainForm,
    VolumeField,
    filled,
    options,
)
from labsys.ledger.models import Unit
from labsys.processes.models import Process
from labsys.products.forms.keeping import LONGEST_KEPT_HOURS, check_kept, hours_kept
from labsys.products.models import Product
from labsys.products.rules import dilution_of_milli, milli_of_dilution
from labsys.products.sheet import StatedAge
from labsys.quantities import typed_volume
from labsys.records.errors import Refused
from labsys.store.amounts import AmountField
from labsys.timetable.local_time import to_local
from labsys.timetable.period import Period
from labsys.waste.destinations import Destination
from labsys.waste.measured import LimitedForm

WAY_NAMES = {
    Way.SHARED: "Shared, until its capacity or its time is over",
    Way.ONE_SHOT: "One-shot: used once, then dumped",
    Way.REPLENISHED: "Replenished, by a rate for what goes through",
    Way.STOCK: "Stock solution of a powder: working baths are drawn from it",
}


class KeepingRow(FormRow):
    """How long one product keeps in what the line's baths stand in; left empty, it stays not known."""

    product_id = IntegerField(widget=HiddenInput())
    keeps = FigureField("Keeps for", highest=LONGEST_KEPT_HOURS)
    unit = SelectField("Hours or days", choices={"days": "days", "hours": "hours"})
    source = StringField("Source", [Length(max=Product.SOURCE_LENGTH)], description="Data sheet, page, edition")

    presets: ClassVar[tuple[str, ...]] = ("product_id", "unit")
    needed: ClassVar[dict[str, str]] = {
        "keeps": "Enter how many hours or days it keeps.",
        "source": "Say where this keeping time is given, such as the data sheet and its page.",
    }

    def read(self) -> None:
        check_kept(self.keeps, self.unit.data)

    def stated(self, holding: Holding) -> StatedAge:
        """What was entered; only of a valid row."""
        return StatedAge(holding, hours_kept(self.keeps, self.unit.data), self.source.data or "")


class LineForm(LabForm):
    name = StringField(
        "Name of the line",
        [InputRequired("Name the line, such as Film line or Tray row 2."), Length(max=BathLine.NAME_LENGTH)],
    )
    work = RadioField(
        "What goes through it",
        [InputRequired("Choose film or paper, in black and white or in colour, or toning.")],
        choices=options(
            {
                Work.FILM: "Film, black and white",
                Work.PAPER: "Paper, black and white",
                Work.COLOUR_FILM: "Colour film",
                Work.COLOUR_PAPER: "Colour paper",
                Work.TONING: "Toning of prints",
            }
        ),
        description="No two of them share a bath, so that each is counted apart.",
    )
    holding = RadioField(
        "Its baths stand in",
        [InputRequired("Choose what its baths stand in: air reaches them fastest in an open tray.")],
        choices=options({holding: HOLDING_NAMES[holding].capitalize() for holding in Holding}),
        coerce=Holding,
    )
    process_id = SelectField("Process", coerce=int, description="What the line is laid out for, where there is one.")
    keeping = FieldList(FormField(KeepingRow))

    def offer(self, processes: Sequence[Process]) -> None:
        """Hand in the processes there are; 0 stands for none."""
        named = [(process.id, process.name) for process in processes]
        self.process_id.choices = [(0, "None"), *named]

    def ask_keeping(self, products: Sequence[Product]) -> bool:
        """Have a row for each product of which no keeping time is known; whether one of them was not asked yet."""
        asked = {row.form.product_id.data for row in self.keeping}
        new = [product for product in products if product.id not in asked]
        for product in new:
            self.keeping.append_entry({"product_id": product.id})
        return bool(new)

    @property
    def stated_ages(self) -> dict[int, StatedAge]:
        """The keeping times that were entered, by product; only of a valid form."""
        return {row.product_id.data: row.stated(Holding(self.holding.data)) for row in filled(self.keeping)}


def read_dilution(typed: str) -> int:
    """Read a dilution such as "1+9" into thousandths of its water parts. Raises ValidationError."""
    try:
        return milli_of_dilution(parse_dilution(typed))
    except (CalculationError, Refused) as error:
        words = str(error).rstrip(".")
        raise ValidationError(f"{words[:1].upper()}{words[1:]}.") from error


class MixPlanForm(LabForm):
    """How a bath is to be mixed: sent by GET, so that the plan stands in the address."""

    dilution = RadioField("Dilution", [Optional()], coerce=int)
    typed_dilution = StringField(
        "Another dilution",
        [Length(max=40)],
        description="Such as 1+9. What is written here is used instead of the list.",
    )
    volume = VolumeField(
        "Working solution to mix",
        [InputRequired("Enter how much to mix, with its unit, such as 2.5 L.")],
        description="With its unit, such as 2.5 L.",
    )
    line_id = RadioField("Line", [InputRequired("Choose the line it is for.")], coerce=int)
    place = SelectField(
        "Place in the line", choices=options({place: place.capitalize() for place in Place}), coerce=Place
    )
    holding = RadioField(
        "Held in",
        [InputRequired("Choose what it stands in: air reaches it fastest in an open tray.")],
        choices=options({holding: HOLDING_NAMES[holding].capitalize() for holding in Holding}),
        coerce=Holding,
    )
    way = RadioField("Kept up", choices=options(WAY_NAMES), coerce=Way, default=Way.SHARED)
    capacity = VolumeField(
        "What the vessel holds when full",
        [InputRequired("Enter what the tank, tray or bottle holds when full, such as 3 L.")],
        description="With its unit, such as 3 L.",
    )
    water_parts_milli: int

    def validate_typed_dilution(self, field: StringField) -> None:
        if self.way.data == Way.STOCK:
            self.water_parts_milli = 0
        elif field.data:
            self.water_parts_milli = read_dilution(field.data)
        elif self.dilution.data is not None:
            self.water_parts_milli = self.dilution.data
        else:
            raise ValidationError("Choose a dilution from the list, or write one such as 1+9.")

    def validate_capacity(self, field: VolumeField) -> None:
        if field.amount is not None and self.volume.amount is not None and field.amount < self.volume.amount:
            raise ValidationError("The vessel holds less than what is to be mixed. Mix less, or use a larger one.")

    def offer(self, *, product: Product, lines: Sequence[BathLine]) -> None:
        """Hand in the dilutions of the product's data sheet and the lines there are."""
        listed: dict[int, list[str]] = {}
        for dilution in product.dilutions:
            listed.setdefault(dilution.water_parts_milli, []).append(dilution.use)
        self.dilution.choices = [
            (milli, f"{dilution_of_milli(milli)} for {', '.join(uses)}") for milli, uses in listed.items()
        ]
        self.line_id.choices = [(line.id, line.name) for line in lines]


class BottleRow(PlainForm):
    """What was taken out of one bottle."""

    bottle_id = IntegerField(widget=HiddenInput())
    amount = AmountField("Measured out", [Optional()])
    left = AmountField("Left in the bottle now", [Optional()], or_nothing=True)

    def validate_left(self, field: AmountField) -> None:
        if field.amount is not None and self.amount.amount is None:
            raise ValidationError("Enter what was measured out of this bottle, too.")


class MeasuredForm(LabForm):
    """What was really measured out. A bare number is millilitres, or grams of a powder."""

    bottles = FieldList(FormField(BottleRow))
    water = AmountField("Water")
    when = InstantField("When", [Optional()], description="Leave empty for now.")

    def count_in(self, unit: Unit) -> None:
        """Say what the product is counted in: a powder is made up to a mark, which cannot be nothing."""
        self.water.or_nothing = unit is Unit.UL
        for row in self.bottles:
            row.form.amount.count_in(unit)
            row.form.left.count_in(unit)

    def validate_water(self, field: AmountField) -> None:
        if field.amount is None and not field.errors:
            raise ValidationError("Enter the volume that was really measured.")

    @property
    def taken(self) -> list[Taken]:
        rows = [row.form for row in self.bottles]
        return [
            Taken(row.bottle_id.data, row.amount.amount, row.left.amount)
            for row in rows
            if row.bottle_id.data is not None and row.amount.amount is not None
        ]

    def take_as_planned(self, taken: Sequence[Taken], *, water_ul: int) -> None:
        """Write in what the plan asks for, as if it had been typed."""
        amounts: dict[int | None, int] = {part.bottle_id: part.amount for part in taken}
        for row in self.bottles:
            amount = amounts.get(row.form.bottle_id.data)
            row.form.amount.data = None if amount is None else row.form.amount.typed(amount)
            row.form.left.data = None
        self.water.data = typed_volume(water_ul)


class MixForm(MeasuredForm):
    """Measured out for a new bath, and what becomes of it."""

    name = StringField(
        "Name of the bath", [InputRequired("Name the bath, such as Film fixer."), Length(max=Bath.NAME_LENGTH)]
    )
    capacity = VolumeField("What the vessel holds when full", [InputRequired("Enter what the vessel holds when full.")])
    seasoned = AmountField("Seasoned with, of the bath before it", [Optional()], or_nothing=True)
    as_planned = SubmitField("Save as planned")
    begins = RadioField("Begins as", choices=options({"service": "In service", "spare": "Spare"}), default="service")


class DrawForm(MixForm):
    """Drawn from a stock solution for a new bath."""

    stock = AmountField("Drawn from the stock")

    def validate_stock(self, field: AmountField) -> None:
        if field.amount is None and not field.errors:
            raise ValidationError("Enter what was drawn from the stock.")


class UsesForm(PeriodForm):
    """Whose uses are asked about, of which line, process and material, in which period."""

    line_id = SelectField("Line", coerce=int, name="line")
    process_id = SelectField("Process", coerce=int, name="process")
    material = SelectField("Material", choices=options(MATERIAL_NAMES, first="all"))
    class_name = SelectField("Class or course", name="class")
    person = IntegerField(widget=HiddenInput())

    def offer(self, lines: Sequence[BathLine], processes: Sequence[Process], classes: Sequence[str]) -> None:
        """Hand in the lines, processes and classes there are; 0 and an empty name stand for all."""
        self.class_name.choices = [("", "all"), *((name, name) for name in classes)]
        self.line_id.choices = [(0, "all"), *((line.id, line.name) for line in lines)]
        self.process_id.choices = [(0, "all"), *((process.id, process.name) for process in processes)]

    def asked(self) -> UsesAsked:
        """What is asked for; only of a valid form."""
        return UsesAsked(
            self.period(),
            self.person.data or 0,
            self.line_id.data,
            self.process_id.data,
            self.material.data or "",
            self.class_name.data or "",
        )


def uses_form(address: Mapping[str, str], *, person_id: int) -> UsesForm:
    """The form as an address fills it in; where that is silent, all of the month so far by the lab's calendar."""
    month = Period.month_so_far(to_local(clock.now(), zone=g.zone).date())
    everything = {**month.written, "line": "0", "process": "0", "material": "", "class": ""}
    told = {name: address[name] for name in everything if name in address}
    return UsesForm(formdata=MultiDict({**everything, **told, "person": str(person_id)}), meta={"csrf": False})


class PouredOff:
    """Where a bath goes and how much of it was poured: `offer` hands in containers by id, the foul sewer as `SEWER`."""

    container_id = RadioField("Into", [InputRequired("Choose where it was poured.")], coerce=int)
    volume = VolumeField(
        "Volume really poured",
        [InputRequired("Enter the volume, with its unit, such as 2.4 L.")],
        description="Filled in with what the book says. Change it to what was poured.",
    )

    def offer(self, destinations: Sequence[Destination]) -> None:
        self.container_id.choices = [(destination.value, destination.words) for destination in destinations]


class DumpForm(PouredOff, LimitedForm):
    when = InstantField("When", [Optional()], description="Leave empty for now.")
    record_done = SubmitField("It was poured there already: record it")


class SpareForm(PouredOff, LabForm):
    """A spare takes the place of an exhausted bath."""


class ChangeOverForm(PouredOff, MeasuredForm):
    """An exhausted bath is dumped and mixed again: as it was planned, or as it really was."""

    as_planned = SubmitField("Done as it says here")
