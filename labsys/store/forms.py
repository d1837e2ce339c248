"""Forms of the chemical store: bottles, their levels, what is kept apart, shelves and counting what stands there."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from wtforms import BooleanField, Field, IntegerField, RadioField, SelectField, StringField, TextAreaField
from wtforms.validators import DataRequired, InputRequired, Length, NumberRange, Optional, ValidationError
from wtforms.widgets import HiddenInput

from labsys.forms import DayField, InstantField, LabForm, MassField, VolumeField, complain, given, options
from labsys.ledger.models import Unit
from labsys.places.models import Room
from labsys.products.models import Product
from labsys.quantities import QuantityError, parse_mass, parse_volume
from labsys.store.amounts import AmountField
from labsys.store.models import (
    Bottle,
    BottleCorrection,
    BottleQuarantine,
    Reason,
    Shelf,
    ShelfKind,
    ShelfLife,
    UnlabelledBottle,
    UnlabelledEnd,
)
from labsys.store.quarantine import KnownAs
from labsys.store.rules import MOST_IN_A_CASE, NOTED, TO_CHOOSE, BottleRefused, Counted, Noted
from labsys.timetable.local_time import to_local


def reason_options() -> dict[str, Any]:
    return options({reason.value: str(reason).capitalize() for reason in TO_CHOOSE}, first="choose")


class NotedForm(LabForm):
    """What is noted of a bottle, each under its name in `rules.Noted`."""

    expires_on = DayField("Use before", [Optional()], description="The date on it, where it has one.")
    lot = StringField("Lot", [Optional(), Length(max=Bottle.LOT_LENGTH)], description="As printed on it.")
    received_at = InstantField("Received", [Optional()], description="Left empty, it means just now.")

    @property
    def noted_fields(self) -> list[Field]:
        """The fields in the order in which a person reads the bottle."""
        return [field for field in self if field.name in NOTED]

    def noted(self, **instead: datetime) -> Noted:
        """What a valid form notes; `received_at` is left to whoever knows what an empty one means."""
        return Noted(**{**self.values_of(*NOTED), "received_at": given(self.received_at.instant), **instead})


class BottleForm(NotedForm):
    """A bottle or a case as it comes from the supplier; what is in each is asked in the product's unit."""

    bottles = IntegerField(
        "How many such bottles",
        [Optional(), NumberRange(1, MOST_IN_A_CASE)],
        default=1,
        description="All with the same content, lot and date. Each gets a code of its own.",
    )
    shelf_id = SelectField("It goes on", [Optional()])


class CorrectBottleForm(NotedForm):
    """What was noted of a bottle, to be put right."""

    received_at = InstantField("Received", [InputRequired("Enter when it came into the store.")])

    def received(self, *, before: datetime, zone: ZoneInfo) -> datetime:
        """When it came; the minute that stands there already means the very instant that was noted."""
        typed = self.received_at.instant or before
        return before if to_minute(typed, zone=zone) == to_minute(before, zone=zone) else typed


def to_minute(instant: datetime, *, zone: ZoneInfo) -> datetime:
    """An instant as the field shows it: on the lab's wall clock, to the minute."""
    return to_local(instant, zone=zone).replace(second=0, microsecond=0, tzinfo=None)


class LiquidBottleForm(BottleForm):
    amount = VolumeField(
        "What is in each", [DataRequired("Enter what is in it, as printed: 1 L.")], description="1 L, 500 mL."
    )


class PowderBottleForm(BottleForm):
    amount = MassField(
        "What is in each", [DataRequired("Enter what is in it, as printed: 1 kg.")], description="1 kg, 250 g."
    )


class LevelForm(LabForm):
    """What was found in a bottle."""

    is_empty = BooleanField("It is empty")
    reason = SelectField("Why it differs", [Optional()], choices=reason_options())
    note = StringField("More about it", [Optional(), Length(max=BottleCorrection.NOTE_LENGTH)])
    found_at = InstantField("When you looked", [Optional()], description="Left empty, it means just now.")
    found: VolumeField | MassField

    def validate_found(self, field: VolumeField | MassField) -> None:
        if self.is_empty.data:
            if field.data:
                raise ValidationError("Either tick that it is empty, or write what is left.")
        elif not field.data:
            raise ValidationError("Write what is left in it, or tick that it is empty.")

    @property
    def level(self) -> int:
        """What was found, in the bottle's unit."""
        return 0 if self.is_empty.data else self.found.amount or 0

    @property
    def why(self) -> Reason | None:
        return Reason(self.reason.data) if self.reason.data else None


class LiquidLevelForm(LevelForm):
    found = VolumeField("What is left", unit="mL", description="To the nearest mark. Litres may be written as 2.5 L.")


class PowderLevelForm(LevelForm):
    found = MassField("What is left", unit="g", description="Weigh it without the packet. Write 1.5 kg or 250 g.")


class ShelfForm(LabForm):
    """A place where bottles stand; `offer` hands in the rooms."""

    name = StringField(
        "Name",
        [DataRequired("Name the place."), Length(max=Shelf.NAME_LENGTH)],
        description="As it is written on it: Shelf 2, left.",
    )
    kind = RadioField(
        "What it is", [InputRequired("Choose what it is.")], choices=options({kind: str(kind) for kind in ShelfKind})
    )
    room_id = SelectField("Room", [Optional()])

    def offer(self, rooms: Iterable[Room]) -> None:
        self.room_id.choices = options({str(room.id): room.name for room in rooms}, first="no room named")


class PlaceForm(LabForm):
    """On which shelf a bottle stands; `offer` hands in the shelves."""

    shelf_id = RadioField("Shelf", [InputRequired("Choose where it stands.")])

    def offer(self, shelves: Iterable[Shelf]) -> None:
        self.shelf_id.choices = shelf_options(shelves)


def shelf_options(shelves: Iterable[Shelf], *, first: str | None = None) -> dict[str, Any]:
    return options({str(shelf.id): f"{shelf.name} ({shelf.kind})" for shelf in shelves}, first=first)


class ShelfLifeForm(LabForm):
    """How long a product keeps in its bottle, by its data sheet."""

    unopened_days = IntegerField(
        "Closed, in days",
        [Optional(), NumberRange(1, ShelfLife.LONGEST_DAYS)],
        description="From when it is received. Two years are 730. Leave it empty where the sheet says nothing.",
    )
    opened_days = IntegerField(
        "Once opened, in days",
        [Optional(), NumberRange(1, ShelfLife.LONGEST_DAYS)],
        description="Six months are 180. Leave it empty where the sheet says nothing.",
    )
    source = StringField(
        "Source",
        [InputRequired("Write where that stands."), Length(max=ShelfLife.SOURCE_LENGTH)],
        description="Data sheet, page, edition.",
    )

    @property
    def stated(self) -> dict[str, Any]:
        return self.values_of("unopened_days", "opened_days", "source")


class SetApartForm(LabForm):
    reason = TextAreaField(
        "Why nobody is to use it",
        [InputRequired("Write why nobody is to use it."), Length(max=BottleQuarantine.TEXT_LENGTH)],
        description="Such as: brown where it should be clear; the supplier recalls its lot.",
    )


class ClearForm(LabForm):
    note = TextAreaField(
        "How you know that it is good",
        [InputRequired("Write how you know that it is good."), Length(max=BottleQuarantine.TEXT_LENGTH)],
        description="Such as: the supplier's letter of today; a test of it, and what that showed.",
    )


class UnlabelledForm(LabForm):
    """A bottle found without a label, as it looks from outside."""

    looks = TextAreaField(
        "What it looks like",
        [InputRequired("Write what it looks like from outside."), Length(max=UnlabelledBottle.TEXT_LENGTH)],
        description="Do not open it and do not smell at it. Such as: brown glass, 1 L, half full, clear, no crystals.",
    )
    place = StringField(
        "Where you found it", [InputRequired("Write where you found it."), Length(max=UnlabelledBottle.PLACE_LENGTH)]
    )
    stands = StringField(
        "Where it stands now",
        [InputRequired("Write where it stands now."), Length(max=UnlabelledBottle.PLACE_LENGTH)],
        description="Apart from all else, in a tray. Left where it was, if it bulges, has crystals or leaks.",
    )
    found_at = InstantField("When", [Optional()], description="Left empty, it means just now.")


class EndUnlabelledForm(LabForm):
    """What an unlabelled bottle is, or who took it away; `offer` hands in the products."""

    ending = RadioField(
        "What becomes of it",
        [InputRequired("Choose what becomes of it.")],
        choices=options(
            {
                UnlabelledEnd.OURS: "It is one of ours: its label came off, and is on it again",
                UnlabelledEnd.IDENTIFIED: "What it is is known now: it comes into the store",
                UnlabelledEnd.HANDED_OVER: "Nobody knows: a carrier who takes unknown chemicals took it",
            }
        ),
    )
    note = TextAreaField(
        "How that is known, or who took it",
        [InputRequired("Write how it is known, or who took it."), Length(max=UnlabelledBottle.TEXT_LENGTH)],
        description="Who said so and by what; of one handed over the carrier and the consignment note code.",
    )
    bottle_code = StringField("Its code, where it is one of ours", [Optional(), Length(max=20)])
    product_id = SelectField("What it is, where that is known", [Optional()])
    amount = StringField(
        "How much is in it, where it is known now", [Length(max=40)], description="With its unit: 400 mL, 250 g."
    )
    lot = StringField("Lot, where it can still be read", [Optional(), Length(max=Bottle.LOT_LENGTH)])

    def offer(self, products: Iterable[Product]) -> None:
        self.product_id.choices = options({str(product.id): product.name for product in products}, first="choose")

    def validate_amount(self, field: StringField) -> None:
        if self.ending.data == UnlabelledEnd.IDENTIFIED and not field.data:
            raise ValidationError("Enter how much is in it, with its unit.")

    def known_as(self, products: Iterable[Product]) -> KnownAs:
        """What it is said to be. Raises BottleRefused for an amount that cannot be read."""
        product = next((each for each in products if str(each.id) == self.product_id.data), None)
        amount = 0
        if product and self.amount.data and self.ending.data == UnlabelledEnd.IDENTIFIED:
            amount = _amount_of(product, self.amount.data)
        key = product.id if product else None
        return KnownAs((self.bottle_code.data or ""), key, amount, self.lot.data or "")


def _amount_of(product: Product, typed: str) -> int:
    try:
        return parse_volume(typed) if product.unit is Unit.UL else parse_mass(typed)
    except QuantityError as error:
        raise BottleRefused(str(error), field="amount") from error


class CountForm(LabForm):
    """A count; `count_form` adds for each bottle whether it is as the book says, what was found else, and why."""

    also_here = StringField(
        "Codes of bottles that stand here too",
        [Optional(), Length(max=400)],
        description="As on their labels, with spaces between. One without a label: report it as unlabelled.",
    )
    counted_at = InstantField("When you looked", [Optional()], description="Left empty, it means just now.")
    keys: tuple[int, ...] = ()

    def of(self, bottle_id: int) -> dict[str, Any]:
        """The fields of one bottle."""
        return {name: self[f"{name}_{bottle_id}"] for name in ("same", "found", "reason", "note", "book")}

    def validate(self, extra_validators: Any = None) -> bool:
        super().validate(extra_validators)
        for key in self.keys:
            row = self.of(key)
            if row["same"].data and row["found"].data:
                complain(row["found"], "Either tick that it is as the book says, or write what you found.")
            elif (row["reason"].data or row["note"].data) and not row["found"].data:
                complain(row["found"], "Write what you found in it; 0 where it is not there.")
        return not self.errors

    @property
    def counted(self) -> list[Counted]:
        """What was looked at; only of a valid form."""
        looked_at = [self.of(key) | {"key": key} for key in self.keys]
        return [
            Counted(
                row["key"],
                book=-1 if row["book"].data is None else row["book"].data,
                found=None if row["same"].data else row["found"].amount,
                reason=Reason(row["reason"].data) if row["reason"].data else None,
                note=row["note"].data or "",
            )
            for row in looked_at
            if row["same"].data or row["found"].amount is not None
        ]

    @property
    def codes(self) -> list[str]:
        return list(dict.fromkeys((self.also_here.data or "").replace(",", " ").split()))


def count_form(bottles: Sequence[Bottle]) -> CountForm:
    """Return the form that counts these bottles."""
    fields: dict[str, Any] = {"keys": tuple(bottle.id for bottle in bottles)}
    for bottle in bottles:
        fields[f"book_{bottle.id}"] = IntegerField(widget=HiddenInput(), default=bottle.vessel.level)
        fields[f"same_{bottle.id}"] = BooleanField("As the book says")
        fields[f"found_{bottle.id}"] = AmountField("What you found", [Optional()], or_nothing=True)
        fields[f"reason_{bottle.id}"] = SelectField("Why it differs", [Optional()], choices=reason_options())
        fields[f"note_{bottle.id}"] = StringField(
            "More about it", [Optional(), Length(max=BottleCorrection.NOTE_LENGTH)]
        )
    form: CountForm = type("CountFormHere", (CountForm,), fields)()
    for bottle in bottles:
        form.of(bottle.id)["found"].count_in(bottle.vessel.unit)
    return form
