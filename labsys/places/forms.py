"""What people may type about places."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from flask import g
from wtforms import IntegerField, RadioField, SelectField, SelectMultipleField, StringField
from wtforms.fields import DateTimeLocalField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, Length, NumberRange, Optional, ValidationError

from labsys.forms import LabForm, PlannedDayField, check_year, given
from labsys.places.models import Room, RoomKind, Stated, Station
from labsys.places.rules import (
    LONGEST_MARGIN_MINUTES,
    WEEKDAYS,
    PlaceRefused,
    RoomFacts,
    StationFacts,
    by_weekday,
    light_in_words,
    parse_hours,
)
from labsys.timetable.local_time import NoSuchLocalTime, to_instant
from labsys.timetable.opening import Hours

EARLIEST_YEAR, LATEST_YEAR = 2000, 2200


def _number(label: str, most: int, description: str) -> IntegerField:
    """A whole number that may be left out: then it is not stated."""
    return IntegerField(label, [Optional(), NumberRange(1, most)], description=description)


def _stated(label: str, *validators: Any, description: str = "") -> RadioField:
    """Yes, no, or not stated; left out, it is not stated."""
    return RadioField(
        label,
        validators,
        choices=[SelectChoice(answer.value, answer.value.capitalize()) for answer in Stated],
        coerce=Stated,
        default=Stated.NOT_STATED,
        description=description,
    )


class RoomForm(LabForm):
    name = StringField("Name", [InputRequired("Give the room a name people here use."), Length(max=Room.NAME_LENGTH)])
    kind = RadioField(
        "What light there is",
        [InputRequired("Choose what light there is.")],
        choices=[SelectChoice(kind.value, light_in_words(kind)) for kind in RoomKind],
        coerce=RoomKind,
    )
    most_people = _number(
        "Most people at once, for fire", Room.MOST_PEOPLE, "Everybody counts, whoever teaches too. Empty: not stated."
    )
    most_taught = _number(
        "Most students at once", Room.MOST_PEOPLE, "In classes, whoever teaches apart. Empty: not stated."
    )
    step_free = _stated("Reached without a step", InputRequired("Choose one; not stated is an answer."))
    looked_into = _stated(
        "Can be looked into while work goes on",
        description="Through a window or an open door. Where somebody under 18 works, the lab may ask for it.",
    )
    helps = StringField(
        "What helps deaf or blind people",
        [Optional(), Length(max=Room.WORDS_LENGTH)],
        description="Such as: the fire alarm flashes; switches can be felt; a rope leads to the door.",
    )

    @property
    def facts(self) -> RoomFacts:
        return RoomFacts(**self.values_of("kind", "most_people", "most_taught", "step_free", "looked_into", "helps"))


class ChangeStationForm(LabForm):
    name = StringField(
        "Name", [InputRequired("Give the place a name, such as Enlarger."), Length(max=Room.NAME_LENGTH)]
    )
    units = IntegerField(
        "How many equal units",
        [InputRequired("Enter how many there are, as a whole number.")],
        default=1,
        description=f"Four equal enlargers are one place of four units. Up to {Station.MOST_UNITS}.",
    )
    margin = IntegerField(
        "Kept free after a booking",
        [InputRequired("Enter the time to clear up in minutes; 0 is allowed.")],
        default=0,
        description=f"To clear up, in quarter-hours: 0, 15, 30 … up to {LONGEST_MARGIN_MINUTES} minutes.",
    )
    position = IntegerField(
        "Order on the board",
        [InputRequired("Enter a whole number; smaller comes first."), NumberRange(0, 999)],
        default=0,
        description="Smaller comes first.",
    )
    note = StringField(
        "Note",
        [Optional(), Length(max=Station.note.type.length)],
        description="Shown beside its name, such as: up to 4x5, needs two people.",
    )
    lowest_cm = _number("Work surface at its lowest", 300, "From the floor. Empty: not stated.")
    highest_cm = _number("And at its highest", 300, "Where it can be raised.")
    clean_down = StringField(
        "How it is left",
        [Optional(), Length(max=Room.WORDS_LENGTH)],
        description="Shown to whoever books it, such as: wipe the baseboard, lamp off, cover on.",
    )

    @classmethod
    def of(cls, station: Station) -> "ChangeStationForm":
        """The form as the place stands now."""
        return cls(
            name=station.name,
            units=len(station.units),
            margin=station.margin_minutes,
            position=station.position,
            note=station.note,
            lowest_cm=station.lowest_cm,
            highest_cm=station.highest_cm,
            clean_down=station.clean_down,
        )

    @property
    def values(self) -> dict[str, Any]:
        """The place as its acts take it, once the form is valid."""
        said = self.values_of("position", "note", "lowest_cm", "highest_cm", "clean_down")
        return {
            **self.values_of("name", "units"),
            "facts": StationFacts(margin_minutes=given(self.margin.data), **said),
        }


class StationForm(ChangeStationForm):
    room = SelectField("Room", [InputRequired("Choose a room.")], coerce=int)


class CompanionsForm(LabForm):
    brings = SelectMultipleField("Also held", coerce=int)


class HoursForm(LabForm):
    """One line a weekday, as 10:00-22:00, several with a comma between."""

    monday, tuesday, wednesday, thursday, friday, saturday, sunday = map(StringField, WEEKDAYS)

    @classmethod
    def of(cls, week: Sequence[Hours]) -> "HoursForm":
        """The form as the week stands now."""
        return cls(**{name.lower(): words for name, words in by_weekday(week)})

    @property
    def days(self) -> list[Any]:
        return [self[name.lower()] for name in WEEKDAYS]

    def validate(self, extra_validators: Any = None) -> bool:
        valid: bool = super().validate(extra_validators)
        self.week: list[Hours] = []
        for weekday, field in enumerate(self.days):
            try:
                self.week.extend(parse_hours(field.data or "", weekday=weekday, field=field.name))
            except PlaceRefused as refusal:
                self.refuse(refusal)
                valid = False
        return valid


class WallClockField(DateTimeLocalField):
    """A time on the lab's wall clock, past or to come; `instant` is UTC. A time shown twice means the first."""

    def __init__(self, label: str, validators: Sequence[Any] = (), **kwargs: Any):
        super().__init__(label, list(validators), format=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"], **kwargs)
        self.instant: datetime | None = None

    def process_formdata(self, valuelist: list[str]) -> None:
        try:
            super().process_formdata(valuelist)
        except ValueError:
            raise ValueError("Write the date and time as on the clock in the lab.") from None

    def pre_validate(self, form: Any) -> None:
        if self.data is None:
            return
        if not EARLIEST_YEAR <= self.data.year <= LATEST_YEAR:
            raise ValidationError("That is too far away. Check the year.")
        try:
            self.instant = to_instant(self.data, zone=g.zone)
        except NoSuchLocalTime as error:
            raise ValidationError(f"{error} Choose a time before or after.") from error


class SpecialHoursForm(LabForm):
    """Other hours on one day; none at all give the day back to its weekday."""

    room = SelectField("Where", coerce=int, default=0)
    day = PlannedDayField("Day", [InputRequired("Choose the day."), check_year])
    hours = StringField(
        "Open",
        description="As 10:00-13:00, 14:00-22:00. Empty: as on any other such day. Closed that day is a closure.",
    )

    def offer(self, rooms: Sequence[Room]) -> None:
        whole = SelectChoice(0, "The whole lab")
        self.room.choices = [whole, *(SelectChoice(room.id, room.name) for room in rooms)]

    def validate_hours(self, field: StringField) -> None:
        if self.day.data is None:
            return
        try:
            self.opened = parse_hours(field.data or "", weekday=self.day.data.weekday(), field="hours")
        except PlaceRefused as refusal:
            raise ValidationError(str(refusal)) from refusal
