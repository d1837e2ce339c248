"""What pages about courses show, worked out from rows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.bookings.forms import clock_of
from labsys.bookings.rules import span_in_words
from labsys.courses.dates import Planned
from labsys.courses.forms import LEAVE_OUT, field_of, value_of
from labsys.courses.models import Course, Meeting
from labsys.timetable.local_time import clock_words, day_words, to_local
from labsys.timetable.spans import Span


@dataclass(frozen=True)
class Choice:
    value: str
    words: str
    is_chosen: bool


@dataclass(frozen=True)
class DateView:
    """One date before it is booked: what stands against it, and what can become of it."""

    field: str
    words: str
    stands_against: str
    choices: tuple[Choice, ...]

    @property
    def is_left_out(self) -> bool:
        return any(choice.is_chosen and choice.value == LEAVE_OUT for choice in self.choices)


def date_views(planned: Sequence[Planned], *, zone: ZoneInfo, sent: Mapping[str, str]) -> list[DateView]:
    """The dates of a course, each with its choices; what was chosen before stays chosen where it still can be."""
    return [_date_view(one, zone=zone, chosen=sent.get(field_of(one.day), "")) for one in planned]


def _date_view(one: Planned, *, zone: ZoneInfo, chosen: str) -> DateView:
    offered = [(value_of(span), _offer_words(span, one.span, zone=zone)) for span in one.choices]
    offered.append((LEAVE_OUT, "Leave this date out"))
    if chosen not in [value for value, _ in offered]:
        chosen = value_of(one.proposed) if one.proposed else LEAVE_OUT
    reasons = [f"Public holiday: {one.holiday}." if one.holiday else "", one.against]
    return DateView(
        field=field_of(one.day),
        words=span_in_words(one.span, zone=zone) if one.span else day_words(one.day),
        stands_against=" ".join(reason for reason in reasons if reason),
        choices=tuple(Choice(value, words, value == chosen) for value, words in offered),
    )


def _offer_words(span: Span, planned: Span | None, *, zone: ZoneInfo) -> str:
    return "Book as planned" if span == planned else f"Book {span_in_words(span, zone=zone)} instead"


@dataclass(frozen=True)
class MeetingView:
    """One meeting of a course as its page shows it."""

    id: int
    number: int
    day: str
    times: str
    state: str  # over, next, to come, left out, cancelled
    is_moved: bool
    why: str
    booking_id: int | None

    @property
    def stands(self) -> bool:
        return self.state not in ("left out", "cancelled")


def meeting_views(course: Course, *, zone: ZoneInfo, now: datetime) -> list[MeetingView]:
    """The meetings of a course in order of the rule; those that stand are numbered."""
    views, number, next_seen = [], 0, False
    for meeting in sorted(course.meetings, key=lambda meeting: meeting.day):
        booking = meeting.booking
        if booking is None or booking.cancelled_at is not None:
            state = "left out" if booking is None else "cancelled"
            day = f"{meeting.day:%a %-d %b}"
            views.append(MeetingView(meeting.id, 0, day, "", state, False, meeting.left_out, meeting.booking_id))
            continue
        number += 1
        if booking.ends_at <= now or meeting.ended_at is not None:
            state = "over"
        else:
            state, next_seen = ("to come" if next_seen else "next"), True
        start = to_local(booking.starts_at, zone=zone)
        views.append(
            MeetingView(
                id=meeting.id,
                number=number,
                day=f"{start:%a %-d %b}",
                times=f"{clock_words(booking.starts_at, zone=zone)} to {clock_words(booking.ends_at, zone=zone)}",
                state=state,
                is_moved=is_moved(meeting, course, zone=zone),
                why="",
                booking_id=booking.id,
            )
        )
    return views


def is_moved(meeting: Meeting, course: Course, *, zone: ZoneInfo) -> bool:
    """Whether a meeting stands at another time than its rule says."""
    if meeting.booking is None:
        return False
    start = to_local(meeting.booking.starts_at, zone=zone)
    return (start.date(), start.hour * 60 + start.minute) != (meeting.day, course.starts_minute)


def hours_in_words(course: Course) -> str:
    """Its hours on the clock.

    >>> hours_in_words(Course(starts_minute=1170, ends_minute=1290))
    '19:30 to 21:30'
    """
    return f"{clock_of(course.starts_minute)} to {clock_of(course.ends_minute)}"


@dataclass(frozen=True)
class CourseLine:
    """One course in the list of them."""

    course: Course
    taught_by: str
    students: int
    meetings: int
    next_day: str


def course_line(course: Course, *, students: int, zone: ZoneInfo, now: datetime) -> CourseLine:
    views = meeting_views(course, zone=zone, now=now)
    coming = next((view for view in views if view.state == "next"), None)
    return CourseLine(
        course=course,
        taught_by=", ".join(person.name for person in course.instructors),
        students=students,
        meetings=sum(view.stands for view in views),
        next_day=f"{coming.day}, {coming.times}" if coming else "over",
    )
