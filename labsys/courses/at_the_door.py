"""What a student meets behind the code at the door: which meeting is on, whether they are on it, and what they lack."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from labsys.bookings.models import Booking
from labsys.courses import foresight, queries, rules
from labsys.courses.models import Attendance, Course, Meeting
from labsys.courses.queries import Enrolled
from labsys.database import DbSession
from labsys.people.models import Person


@dataclass(frozen=True)
class Door:
    """A meeting as one person meets it; `why_not` says why they cannot note now that they are here, if so."""

    course: Course
    booking: Booking | None
    attendance: Attendance | None
    lacks: str
    why_not: str


def meeting_on(meetings: Sequence[Meeting], *, now: datetime) -> int | None:
    """The meeting that is on now or comes next, of those that stand."""
    coming = [
        (meeting.booking.starts_at, meeting.id)
        for meeting in meetings
        if meeting.booking and meeting.booking.cancelled_at is None and meeting.booking.ends_at > now
    ]
    return min(coming)[1] if coming else None


def look(session: DbSession, *, meeting: Meeting, person: Person, now: datetime) -> Door:
    """What one person meets at the door of a meeting."""
    course = queries.course_or_raise(session, meeting.course_id)
    booking = meeting.booking if meeting.booking and meeting.booking.cancelled_at is None else None
    if booking is None:
        return Door(course, None, None, "", "This meeting does not take place.")
    mine = enrolled_as(queries.enrolled(session, course_id=course.id), person)
    if mine is None:
        return Door(course, booking, None, "", "You are not on the roster. Speak to who teaches.")
    there = queries.attendances(session, meeting_ids=[meeting.id])
    attendance = next((row for row in there if row.student_id == mine.student.id), None)
    (answer,) = foresight.who_may_start(session, course=course, booking=booking, roster=[mine], now=now)
    try:
        rules.check_register_open(
            starts_at=booking.starts_at, ends_at=booking.ends_at, ended_at=meeting.ended_at, now=now
        )
        why_not = ""
    except rules.CourseRefused as refusal:
        why_not = str(refusal)
    return Door(course, booking, attendance, "" if answer.is_clear else answer.why, why_not)


def enrolled_as(roster: Sequence[Enrolled], person: Person) -> Enrolled | None:
    """Somebody's own place on a roster."""
    return next((row for row in roster if row.person is not None and row.person.id == person.id), None)
