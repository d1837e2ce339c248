"""What people may type about bookings."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import cast
from zoneinfo import ZoneInfo

from wtforms import HiddenField, IntegerField, SelectField, StringField
from wtforms.fields import DateField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, Length, NumberRange, Optional

from labsys.bookings.models import Booking
from labsys.bookings.rules import LARGEST_COUNT, Plan, span_on_the_clock
from labsys.chemistry.sizes import SIZES
from labsys.forms import LabForm
from labsys.places.models import Station
from labsys.processes.models import Process
from labsys.timetable.local_time import to_local
from labsys.timetable.spans import Span

NOT_DECIDED = 0
ANY = 0


class _DayField(DateField):
    def process_formdata(self, valuelist: list[str]) -> None:
        try:
            super().process_formdata(valuelist)
        except ValueError:
            raise ValueError("Write the day as year-month-day, such as 2026-06-03.") from None


class _TimeAndPlanForm(LabForm):
    """When, and what is planned. Times are minutes of the day on the wall clock."""

    day = _DayField("Day", [InputRequired("Choose the day.")])
    starts = SelectField("From", coerce=int)
    ends = SelectField("To", coerce=int)
    number = SelectField("Which one", coerce=int, default=ANY)
    process_id = SelectField("Process", coerce=int, default=NOT_DECIDED)
    size = SelectField("Size", choices=[SelectChoice("", "None yet"), *(SelectChoice(key, key) for key in SIZES)])
    count = IntegerField(
        "How many",
        [Optional(), NumberRange(0, LARGEST_COUNT, "Enter a whole number from %(min)s to %(max)s.")],
        default=0,
    )
    note = StringField("Note", [Optional(), Length(max=Booking.NOTE_LENGTH)])

    def offer_times(self, minutes: Sequence[int]) -> None:
        """Hand in the quarter-hours to begin at; a booking ends up to a quarter after the last of them."""
        self.starts.choices = [SelectChoice(minute, clock_of(minute)) for minute in minutes]
        self.ends.choices = [SelectChoice(minute + 15, clock_of(minute + 15)) for minute in minutes]

    def offer_numbers(self, most: int) -> None:
        """Hand in how many equal units there are to choose from; any of them will do mostly."""
        numbers = [SelectChoice(number, f"Number {number}") for number in range(1, most + 1)] if most > 1 else []
        self.number.choices = [SelectChoice(ANY, "Any"), *numbers]

    def offer_processes(self, processes: Iterable[Process]) -> None:
        self.process_id.choices = [
            SelectChoice(NOT_DECIDED, "Not decided yet"),
            *(SelectChoice(process.id, process.name) for process in processes),
        ]

    def span(self, *, zone: ZoneInfo) -> Span:
        """The time wanted. Raises BookingRefused for a time that the clock skips, or a year far off."""
        day = cast(date, self.day.data)
        return span_on_the_clock(day=day, from_minute=self.starts.data, to_minute=self.ends.data, zone=zone)

    @property
    def plan(self) -> Plan:
        return Plan(
            process_id=self.process_id.data or None,
            size=self.size.data or "",
            count=self.count.data or 0,
            note=self.note.data or "",
        )


class BookForm(_TimeAndPlanForm):
    person = SelectField("For", coerce=int)
    station = SelectField("Place", [InputRequired("Choose a place.")], coerce=int)

    def offer(self, *, stations: Sequence[Station], people: Iterable[tuple[int, str]]) -> None:
        self.offer_numbers(max((len(station.units) for station in stations), default=1))
        self.station.choices = [SelectChoice(station.id, station.name) for station in stations]
        self.person.choices = [SelectChoice(person_id, name) for person_id, name in people]


class ClassForm(BookForm):
    class_name = StringField(
        "Class", [InputRequired("Name the class, such as First prints."), Length(max=Booking.CLASS_LENGTH)]
    )
    units = IntegerField(
        "How many units",
        [InputRequired("Enter how many units the class needs, as a whole number."), NumberRange(1, Station.MOST_UNITS)],
        default=6,
        description="Of the place; what comes with it is held for each of them.",
    )


class ChangeForm(_TimeAndPlanForm):
    """Carries the version it was made from, so that two of them do not overwrite each other."""

    version = HiddenField()
    units = ClassForm.units

    @classmethod
    def of(cls, booking: Booking, *, zone: ZoneInfo) -> "ChangeForm":
        """The form as the booking stands now."""
        start, end = to_local(booking.starts_at, zone=zone), to_local(booking.ends_at, zone=zone)
        form = cls(
            version=str(booking.version),
            day=start.date(),
            starts=minute_of(start),
            ends=minute_of(end) or 24 * 60,
            process_id=booking.process_id or NOT_DECIDED,
            size=booking.planned_size,
            count=booking.planned_count,
            note=booking.note,
            units=booking.units,
            number=booking.wanted_number or ANY,
        )
        form.offer_numbers(max(len(booking.station.units), booking.wanted_number or 1))
        if not booking.class_name:
            del form.units
        return form

    @property
    def version_number(self) -> int:
        text = self.version.data or ""
        return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0


def minute_of(local: datetime) -> int:
    return local.hour * 60 + local.minute


def clock_of(minute: int) -> str:
    """A minute of the day as on the clock; midnight at the end is 24:00.

    >>> clock_of(615)
    '10:15'
    """
    return f"{minute // 60:02}:{minute % 60:02}"
