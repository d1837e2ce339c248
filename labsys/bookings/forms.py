"""What people may type about bookings."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import cast
from zoneinfo import ZoneInfo

from wtforms import BooleanField, HiddenField, IntegerField, SelectField, StringField
from wtforms.fields import DateField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, Length, NumberRange, Optional

from labsys.bookings.fair_use import Limits, minutes_in_words
from labsys.bookings.models import Booking
from labsys.bookings.rules import LARGEST_COUNT, Plan, span_on_the_clock
from labsys.chemistry.sizes import SIZES
from labsys.forms import LabForm, given
from labsys.places.models import Station
from labsys.processes.models import Process
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import MINUTES_PER_DAY
from labsys.timetable.spans import Span

NOT_DECIDED = 0
ANY = 0
NOBODY = 0


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
    guests = IntegerField(
        "Guests",
        [Optional(), NumberRange(0, 99, "Enter a whole number from %(min)s to %(max)s.")],
        default=0,
        description="Who come along and work with nothing. They count for the room.",
    )
    supervisor = SelectField(
        "Supervised by",
        coerce=int,
        default=NOBODY,
        description="Of who is under 18: an adult booked there for all of the time, or who says that they come.",
    )
    second_adult = SelectField(
        "Second adult",
        coerce=int,
        default=NOBODY,
        description="Of who is under 18, where the room cannot be looked into: somebody else who is booked there.",
    )
    override = StringField(
        "Beyond fair use, because",
        [Optional(), Length(max=Booking.NOTE_LENGTH)],
        description="Only where fair use would refuse it; it stands on the record.",
    )

    @property
    def is_for_class(self) -> bool:
        return "units" in self

    def offer_times(self, starts: Sequence[int], ends: Sequence[int]) -> None:
        """Hand in the quarter-hours to begin and to end at; what was typed for another day stays, to be refused."""
        self.starts.choices = _clock_choices(starts, also=self.starts.data)
        self.ends.choices = _clock_choices(ends, also=self.ends.data)

    def offer_numbers(self, most: int) -> None:
        """Hand in how many equal units there are to choose from; any of them will do mostly."""
        numbers = [SelectChoice(number, f"Number {number}") for number in range(1, most + 1)] if most > 1 else []
        self.number.choices = [SelectChoice(ANY, "Any"), *numbers]

    def offer_adults(self, *, supervisors: Iterable[tuple[int, str]], people: Iterable[tuple[int, str]]) -> None:
        """Hand in who may supervise, and who may be the second adult."""
        nobody = SelectChoice(NOBODY, "Nobody named")
        self.supervisor.choices = [nobody, *(SelectChoice(*person) for person in supervisors)]
        self.second_adult.choices = [nobody, *(SelectChoice(*person) for person in people)]

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
            supervisor_id=(self.supervisor.data or None) if self.supervisor else None,
            second_adult_id=(self.second_adult.data or None) if self.second_adult else None,
            guests=(self.guests.data or 0) if self.guests else 0,
        )


def _clock_choices(minutes: Sequence[int], *, also: int | None) -> list[SelectChoice]:
    typed = {also} if also is not None and also % 15 == 0 and 0 <= also <= MINUTES_PER_DAY else set()
    return [SelectChoice(minute, clock_of(minute)) for minute in sorted({*minutes, *typed})]


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
    students = IntegerField(
        "How many students",
        [Optional(), NumberRange(0, 500, "Enter a whole number from %(min)s to %(max)s.")],
        description="Empty: one a unit. The room has to be large enough for all of them.",
    )


class WaitForm(_TimeAndPlanForm):
    """What somebody waits for: a place for so long, between two times of a day."""

    station = SelectField("Place", [InputRequired("Choose a place.")], coerce=int)
    starts = SelectField("Between", coerce=int)
    ends = SelectField("and", coerce=int)
    minutes = SelectField(
        "How long",
        coerce=int,
        choices=[SelectChoice(minutes, minutes_in_words(minutes)) for minutes in range(30, 12 * 60 + 1, 15)],
        default=120,
    )

    def offer(self, stations: Iterable[Station]) -> None:
        """Hand in the places; which unit it is shows when one is free."""
        del self.number, self.override, self.supervisor, self.second_adult, self.guests
        self.station.choices = [SelectChoice(station.id, station.name) for station in stations]


class ChangeForm(_TimeAndPlanForm):
    """Carries the version it was made from, so that two of them do not overwrite each other."""

    version = HiddenField()
    units = ClassForm.units
    students = ClassForm.students

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
            supervisor=(booking.supervision and booking.supervision.supervisor_id) or NOBODY,
            second_adult=(booking.supervision and booking.supervision.second_adult_id) or NOBODY,
            units=booking.units,
            students=booking.students,
            guests=booking.guests,
            number=booking.wanted_number or ANY,
        )
        form.offer_numbers(max(len(booking.station.units), booking.wanted_number or 1))
        if not booking.class_name:
            del form.units, form.students
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


class LimitsForm(LabForm):
    """What one role may book."""

    furthest_days = IntegerField("Days ahead, at most", [InputRequired("Enter days."), NumberRange(1, 730)])
    notice_hours = IntegerField(
        "Hours ahead, at least", [InputRequired("Enter hours; 0 is allowed."), NumberRange(0, 336)]
    )
    longest_hours = IntegerField("Hours at once, at most", [InputRequired("Enter hours."), NumberRange(1, 24)])
    most_open = IntegerField(
        "Open bookings, at most", [Optional(), NumberRange(1, 200)], description="Empty: as many as they like."
    )
    week_hours = IntegerField(
        "Hours a week, at most", [Optional(), NumberRange(1, 168)], description="Monday to Sunday. Empty: not limited."
    )
    may_overlap = BooleanField("May book several places for one time")

    @classmethod
    def of(cls, limits: Limits) -> "LimitsForm":
        """The form as the limits stand now; part of an hour is rounded up."""
        week = limits.week_minutes
        return cls(
            furthest_days=limits.furthest_days,
            notice_hours=-(-limits.notice_minutes // 60),
            longest_hours=-(-limits.longest_minutes // 60),
            most_open=limits.most_open,
            week_hours=None if week is None else -(-week // 60),
            may_overlap=limits.may_overlap,
        )

    @property
    def limits(self) -> Limits:
        """The limits as typed; for a form that is valid."""
        return Limits(
            furthest_days=given(self.furthest_days.data),
            notice_minutes=given(self.notice_hours.data) * 60,
            longest_minutes=given(self.longest_hours.data) * 60,
            most_open=self.most_open.data,
            week_minutes=self.week_hours.data and self.week_hours.data * 60,
            may_overlap=bool(self.may_overlap.data),
        )


class ArrivingForm(LabForm):
    free_after_minutes = IntegerField(
        "Given free when nobody has come for",
        [Optional(), NumberRange(5, 240)],
        description="After the beginning. Empty: never. Classes are left alone.",
    )
    late_cancel_hours = IntegerField(
        "Cancelling is late within",
        [Optional(), NumberRange(1, 336)],
        description="Before the beginning. It is counted and shown to the person. Empty: never late.",
    )
    offer_minutes = IntegerField(
        "An offer from the waiting list stands for",
        [InputRequired("Enter minutes."), NumberRange(15, 2880)],
        description="Never beyond the beginning. Then it passes on to whoever waits next.",
    )
