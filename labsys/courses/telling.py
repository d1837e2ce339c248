"""Everybody on a roster is told when a meeting is moved or called off, on whatever page somebody did it."""

from collections.abc import Mapping, Sequence

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.bookings.models import Booking
from labsys.courses import queries, words
from labsys.courses.models import Meeting
from labsys.mail import service as mail
from labsys.mail.kinds import Message
from labsys.people.acts import Act
from labsys.records import queries as records
from labsys.timetable.spans import Span


def tell_rosters(act: Act, moved: Sequence[Booking], *, before: Mapping[int, Span], because: str) -> None:
    """Step: write to whoever comes to these classes, where they are meetings of a course."""
    by_id = {booking.id: booking for booking in moved}
    query = select(Meeting).where(Meeting.booking_id.in_(by_id)).options(joinedload(Meeting.course))
    zone = records.zone(act.session)
    for meeting in act.session.execute(query).scalars():
        booking = by_id[meeting.booking_id or 0]
        if booking.cancelled_at is not None:
            message = words.called_off(meeting, booking, because=because, zone=zone)
        else:
            now_at = Span(booking.starts_at, booking.ends_at)
            message = words.moved(meeting, before=before[booking.id], now_at=now_at, because=because, zone=zone)
        tell_roster(act, meeting, message)


def tell_roster(act: Act, meeting: Meeting, message: Message) -> None:
    """Step: write to everybody on the roster of a meeting who has an account, and to who else teaches it."""
    course = queries.course_or_raise(act.session, meeting.course_id)
    roster = queries.enrolled(act.session, course_id=course.id)
    students = [row.person for row in roster if row.person is not None]
    owner_id = meeting.booking.person_id if meeting.booking else None  # told as whose booking it is
    others = [person for person in course.instructors if person.id != owner_id]
    letters = [mail.Letter(message, person) for person in (*students, *others) if person.is_active]
    mail.queue_all(act.session, letters, by=act.actor, now=act.now)
