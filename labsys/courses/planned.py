"""What somebody is to be taught on a course: enough to book a later time, never to begin."""

from datetime import datetime

from sqlalchemy import or_, select

from labsys.bookings.models import Booking
from labsys.courses.models import CourseInduction, Meeting, Student
from labsys.database import DbSession
from labsys.people.models import Person


def taught_before(session: DbSession, *, person: Person, before: datetime, now: datetime) -> set[int]:
    """The inductions that a meeting still to end teaches somebody on its roster, and that ends before an instant."""
    query = (
        select(CourseInduction.induction_id)
        .join(Meeting, Meeting.course_id == CourseInduction.course_id)
        .join(Student, Student.course_id == CourseInduction.course_id)
        .join(Booking, Booking.id == Meeting.booking_id)
        .where(
            or_(Student.person_id == person.id, Student.person_id.is_(None) & (Student.email == person.email)),
            Student.removed_at.is_(None),
            Meeting.ended_at.is_(None),
            Booking.cancelled_at.is_(None),
            Booking.missed_at.is_(None),
            Booking.ends_at > now,
            Booking.ends_at <= before,
        )
        .distinct()
    )
    return set(session.execute(query).scalars())
