"""Forms of the chemical store: bottles, their levels, shelves and what stands on them."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from wtforms import BooleanField, Field, RadioField, SelectField, StringField
from wtforms.validators import DataRequired, InputRequired, Length, Optional, ValidationError

from labsys.forms import DayField, InstantField, LabForm, MassField, VolumeField, given, options
from labsys.places.models import Room
from labsys.store.models import Bottle, Shelf, ShelfKind
from labsys.store.rules import NOTED, Noted
from labsys.timetable.local_time import to_local


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
    """A bottle as it comes from the supplier; what is in it is asked in the product's unit."""

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
        "What is in it", [DataRequired("Enter what is in it, as printed: 1 L.")], description="1 L, 500 mL."
    )


class PowderBottleForm(BottleForm):
    amount = MassField(
        "What is in it", [DataRequired("Enter what is in it, as printed: 1 kg.")], description="1 kg, 250 g."
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
