"""What is said about a course: on pages, and in mail."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from labsys.bookings.models import Booking
from labsys.bookings.rules import span_in_words
from labsys.courses.models import Course, Meeting
from labsys.mail.kinds import CLASS_MOVED, TEACHING, Message
from labsys.people.models import Person
from labsys.timetable.spans import Span

_ORDINALS = (
    "first",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "eighth",
    "ninth",
    "tenth",
    "eleventh",
    "twelfth",
)
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def ordinal(number: int) -> str:
    """Say which of a row.

    >>> ordinal(9), ordinal(13)
    ('ninth', '13th')
    """
    if 1 <= number <= len(_ORDINALS):
        return _ORDINALS[number - 1]
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def counted(number: int) -> str:
    """Say a small number in words.

    >>> counted(3), counted(18)
    ('three', '18')
    """
    return _NUMBERS[number] if 0 <= number < len(_NUMBERS) else str(number)


def set_up(course: Course, spans: Sequence[Span], *, by: Person, zone: ZoneInfo) -> Message:
    """Somebody set up a course that you teach."""
    dates = "\n".join(span_in_words(span, zone=zone) for span in spans)
    body = f"{by.name} set up {course.name}, {course.term}, with you as instructor. It is booked:\n\n{dates}\n"
    subject = f"You teach {course.name}, {course.term}"
    return Message(TEACHING, f"course {course.id} set up", subject, body, f"/courses/{course.id}")


def moved(meeting: Meeting, *, before: Span | None, now_at: Span, because: str = "", zone: ZoneInfo) -> Message:
    """A meeting of your course is at another time."""
    course = meeting.course
    when = span_in_words(now_at, zone=zone)
    instead = f"instead of {span_in_words(before, zone=zone)}" if before else "which had been left out"
    body = f"{course.name} meets {when}, {instead}.\n{_why(because)}"
    version = meeting.booking.version if meeting.booking else 0
    key = f"meeting {meeting.id} moved {meeting.booking_id}-{version}"
    return Message(CLASS_MOVED, key, f"Moved: {course.name}, {when}", body, f"/courses/meetings/{meeting.id}/here")


def called_off(meeting: Meeting, booking: Booking, *, because: str, zone: ZoneInfo) -> Message:
    """A meeting of your course does not take place."""
    when = span_in_words(Span(booking.starts_at, booking.ends_at), zone=zone)
    body = f"{meeting.course.name} does not meet {when}.\n{_why(because)}"
    key, page = f"meeting {meeting.id} called off {booking.id}", f"/courses/{meeting.course_id}/here"
    return Message(CLASS_MOVED, key, f"Called off: {meeting.course.name}, {when}", body, page)


def _why(because: str) -> str:
    return f"\n{because}\n" if because else ""
