"""What a person may type about courses."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from wtforms import FileField, HiddenField, IntegerField, SelectField, SelectMultipleField, StringField, TextAreaField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, Length, NumberRange, Optional

from labsys.bookings.forms import clock_of
from labsys.bookings.models import Booking
from labsys.bookings.rules import span_on_the_clock
from labsys.courses import rules
from labsys.courses.dates import Decided, Planned, decide
from labsys.courses.models import Course
from labsys.courses.roster import ENCODINGS, NotText, Row, decode, read_roster, usable
from labsys.courses.rules import CourseRefused, Term
from labsys.courses.service import CourseEntry
from labsys.forms import LabForm, PlannedDayField, check_year, complain, given, options
from labsys.places.models import Station
from labsys.timetable.public_holidays import countries
from labsys.timetable.recurrence import LONGEST_RULE
from labsys.timetable.spans import Span

LEAVE_OUT = "leave out"


class _TimesForm(LabForm):
    starts = SelectField("From", coerce=int)
    ends = SelectField("To", coerce=int)

    def offer_times(self, minutes: Sequence[int]) -> None:
        """Hand in the quarter-hours to begin at; a meeting ends up to a quarter after the last of them."""
        self.starts.choices = [SelectChoice(minute, clock_of(minute)) for minute in minutes]
        self.ends.choices = [SelectChoice(minute + 15, clock_of(minute + 15)) for minute in minutes]


class RosterForm(LabForm):
    """Names and addresses, typed or in a file, which is shown as if it had been typed."""

    roster = TextAreaField(
        "Who comes",
        [Optional()],
        description="A name and an e-mail address a line, divided by a comma; or copied out of a spreadsheet.",
        render_kw={"rows": 8},
    )
    file = FileField("Or a file", description="CSV, with a column for the name and one for the e-mail address.")
    encoding = SelectField("How the file is written", choices=options(ENCODINGS), default="")
    remark = ""
    rows: Sequence[Row] = ()

    def read_rows(self) -> bool:
        """Read who comes; what cannot be read at all is complained of, and says False."""
        try:
            sent = self.file.data.read() if getattr(self.file.data, "filename", "") else b""
            if sent:
                decoded = decode(sent, encoding=self.encoding.data or "")
                self.roster.data, self.remark = decoded.text, decoded.remark
            self.rows = read_roster(self.roster.data or "")
        except NotText as refusal:
            complain(self.file if self.file.data else self.roster, str(refusal))
            return False
        return True

    @property
    def usable(self) -> list[Row]:
        return usable(self.rows)

    @property
    def problems(self) -> list[Row]:
        return [row for row in self.rows if row.problem]


class _OverrideForm(_TimesForm):
    override = StringField(
        "Why beyond fair use",
        [Optional(), Length(max=Booking.NOTE_LENGTH)],
        description="Only where it is more than the lab lets whoever teaches it book.",
    )


class CourseForm(_OverrideForm, RosterForm):
    """All of a course for a term. It is shown again with its dates before anything is written."""

    seen = HiddenField()
    name = StringField(
        "Course", [InputRequired("Name the course, such as First prints."), Length(max=Booking.CLASS_LENGTH)]
    )
    term = StringField("Term", [InputRequired("Name the term, such as autumn 2026."), Length(max=Course.TERM_LENGTH)])
    instructors = SelectMultipleField("Taught by", [InputRequired("Choose who teaches it.")], coerce=int)
    station = SelectField("Place", [InputRequired("Choose a place.")], coerce=int)
    units = IntegerField(
        "How many units",
        [InputRequired("Enter how many units it needs, as a whole number."), NumberRange(1, Station.MOST_UNITS)],
        default=6,
        description="Of the place, each time; what comes with it is held for each of them.",
    )
    processes = SelectMultipleField("Works with", [Optional()], coerce=int)
    inductions = SelectMultipleField("Teaches", [Optional()], coerce=int)
    first_day = PlannedDayField("First meeting", [InputRequired("Choose the first day."), check_year])
    last_day = PlannedDayField(
        "Last day of the term", [Optional(), check_year], description="Or say how many meetings there are."
    )
    meetings = IntegerField("How many meetings", [Optional(), NumberRange(1, rules.MOST_MEETINGS)])
    rule = StringField(
        "Rule",
        [Optional(), Length(max=LONGEST_RULE)],
        description="Left empty: every week on the day of the first meeting. Else as in RFC 5545, such as "
        "FREQ=WEEKLY;INTERVAL=2 or FREQ=WEEKLY;BYDAY=MO,TH.",
    )
    country = SelectField("Leave out public holidays of", default="")
    part = StringField(
        "Part of the country", [Optional(), Length(max=10)], description="Its code, such as ENG, or empty."
    )

    def offer(
        self,
        *,
        stations: Iterable[Station],
        people: Iterable[tuple[int, str]],
        processes: Iterable[tuple[int, str]],
        inductions: Iterable[tuple[int, str]],
    ) -> None:
        self.station.choices = [SelectChoice(station.id, station.name) for station in stations]
        self.instructors.choices = [SelectChoice(*person) for person in people]
        self.processes.choices = [SelectChoice(*process) for process in processes]
        self.inductions.choices = [SelectChoice(*induction) for induction in inductions]
        self.country.choices = [
            SelectChoice("", "none"),
            *(SelectChoice(code, name) for code, name in countries().items()),
        ]

    @property
    def entry(self) -> CourseEntry:
        """What was entered; only of a valid form."""
        rule = (self.rule.data or rules.DEFAULT_RULE).strip().upper().removeprefix("RRULE:").rstrip(";")
        if self.meetings.data and "COUNT=" not in rule and "UNTIL=" not in rule:
            rule = f"{rule};COUNT={self.meetings.data}"
        if len(rule) > LONGEST_RULE:
            raise CourseRefused(f"Use at most {LONGEST_RULE} characters.", field="rule")
        return CourseEntry(
            name=self.name.data or "",
            term_name=self.term.data or "",
            term=Term(
                first_day=given(self.first_day.data),
                starts_minute=self.starts.data,
                ends_minute=self.ends.data,
                rule=rule,
                last_day=self.last_day.data,
                country=self.country.data or "",
                part=(self.part.data or "").upper() if self.country.data else "",
            ),
            station_id=self.station.data,
            units=self.units.data or 0,
            instructor_ids=tuple(self.instructors.data or ()),
            process_ids=tuple(self.processes.data or ()),
            induction_ids=tuple(self.inductions.data or ()),
            override=self.override.data or "",
            students=len(self.usable) or None,
        )

    @property
    def mark(self) -> str:
        """What the dates that were shown were worked out from."""
        lines = (self.roster.data or "").split()  # a browser ends lines its own way
        return hashlib.sha256(repr((self.entry, lines)).encode()).hexdigest()[:16]


def decided(planned: Sequence[Planned], *, sent: Mapping[str, str]) -> list[Decided]:
    """What somebody chose for each date, where something can be read of it."""
    chosen: dict[date, Span | None] = {}
    for one in planned:
        answer = sent.get(field_of(one.day), "")
        if answer == LEAVE_OUT:
            chosen[one.day] = None
        else:
            span = next((span for span in one.choices if value_of(span) == answer), None)
            if span is not None:
                chosen[one.day] = span
    return decide(planned, chosen)


def field_of(day: date) -> str:
    """What the choice about a date is called in the form."""
    return f"on-{day.isoformat()}"


def value_of(span: Span) -> str:
    return span.start.isoformat()


class MoveForm(_OverrideForm):
    day = PlannedDayField("Day", [InputRequired("Choose the day."), check_year])

    def span(self, *, zone: ZoneInfo) -> Span:
        """The time wanted. Raises BookingRefused for a time that the clock skips, or a year far off."""
        day = given(self.day.data)
        return span_on_the_clock(day=day, from_minute=self.starts.data, to_minute=self.ends.data, zone=zone)


class RegisterForm(LabForm):
    """Who is here: ticked, with those who were shown as here when the page was opened."""

    here = SelectMultipleField("Who is here", [Optional()], coerce=int)
    shown = HiddenField()

    def offer(self, students: Iterable[tuple[int, str]]) -> None:
        self.here.choices = [SelectChoice(*student) for student in students]

    @property
    def shown_here(self) -> list[int]:
        texts = (self.shown.data or "").split()
        return [int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 19]


class ScanForm(LabForm):
    code = StringField("Card", [InputRequired("Scan a card, or type its code."), Length(max=40)])


class EndForm(LabForm):
    """Who stayed, what was taught, and who of them did not show it."""

    stayed = SelectMultipleField("Stayed to the end", [Optional()], coerce=int)
    inductions = SelectMultipleField(
        "Taught today, and the practical items shown by each who stayed", [Optional()], coerce=int
    )
    not_shown = SelectMultipleField("Stayed, but did not show the practical items", [Optional()], coerce=int)

    def offer(self, *, came: Sequence[tuple[int, str]], inductions: Iterable[tuple[int, str]]) -> None:
        self.stayed.choices = [SelectChoice(*student) for student in came]
        self.not_shown.choices = [SelectChoice(*student) for student in came]
        self.inductions.choices = [SelectChoice(*induction) for induction in inductions]
