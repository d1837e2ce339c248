"""Forms of the chemical store: bottles, their levels, shelves and what stands on them."""

from collections.abc import Iterable
from typing import Any

from wtforms import BooleanField, RadioField, SelectField, StringField
from wtforms.validators import DataRequired, InputRequired, Length, Optional, ValidationError

from labsys.forms import DayField, InstantField, LabForm, MassField, VolumeField, options
from labsys.places.models import Room
from labsys.store.models import Bottle, Shelf, ShelfKind


class BottleForm(LabForm):
    """A bottle as it comes from the supplier; what is in it is asked in the product's unit."""

    lot = StringField("Lot", [Optional(), Length(max=Bottle.LOT_LENGTH)], description="As printed on it.")
    expires_on = DayField("Use before", [Optional()], description="The date on it, where it has one.")
    received_at = InstantField("Received", [Optional()], description="Left empty, it means just now.")
    shelf_id = SelectField("It goes on", [Optional()])


class LiquidBottleForm(BottleForm):
    amount = VolumeField(
        "What is in it",
        [DataRequired("Enter what is in it, as printed: 1 L.")],
        description="1 L, 500 mL.",
    )


class PowderBottleForm(BottleForm):
    amount = MassField(
        "What is in it",
        [DataRequired("Enter what is in it, as printed: 1 kg.")],
        description="1 kg, 250 g.",
    )


class LevelForm(LabForm):
    """What was found in a bottle."""

    is_empty = BooleanField("It is empty")
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
