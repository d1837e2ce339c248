"""Meetings that fall away as whoever holds them leaves the lab: said beforehand; their students are told."""

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.bookings.leaving import not_begun
from labsys.courses.models import Meeting
from labsys.database import DbSession
from labsys.people.acts import Act
from labsys.people.leaving import AtLeaving
from labsys.people.models import Person
from labsys.quantities import counted


def _meetings(session: DbSession, person: Person, now: datetime) -> Iterator[Meeting]:
    booking_ids = [booking.id for booking in not_begun(session, person, now) if booking.class_name]
    query = select(Meeting).where(Meeting.booking_id.in_(booking_ids)).options(joinedload(Meeting.course))
    yield from session.execute(query.order_by(Meeting.day, Meeting.id)).scalars()


def _foretell(session: DbSession, person: Person, now: datetime) -> list[str]:
    courses = {meeting.course.name for meeting in _meetings(session, person, now)}
    told = f"The students of {counted(len(courses), 'course')} are told: {', '.join(sorted(courses))}."
    return [told] if courses else []


def _release(act: Act, person: Person) -> None:
    """Nothing more: the rosters are told with each booking that is released."""


STUDENTS_TOLD = AtLeaving(_foretell, _release)
