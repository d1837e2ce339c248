"""Meetings that fall away as whoever holds them leaves the lab: their students are told."""

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.bookings.leaving import not_begun
from labsys.courses import words
from labsys.courses.models import Meeting
from labsys.courses.service import tell_students
from labsys.database import DbSession
from labsys.people.acts import Act
from labsys.people.leaving import AtLeaving
from labsys.people.models import Person
from labsys.quantities import counted
from labsys.records import queries as records


def _meetings(session: DbSession, person: Person, now: datetime) -> Iterator[Meeting]:
    booking_ids = [booking.id for booking in not_begun(session, person, now) if booking.class_name]
    query = select(Meeting).where(Meeting.booking_id.in_(booking_ids)).options(joinedload(Meeting.course))
    yield from session.execute(query.order_by(Meeting.day, Meeting.id)).scalars()


def _foretell(session: DbSession, person: Person, now: datetime) -> list[str]:
    courses = {meeting.course.name for meeting in _meetings(session, person, now)}
    told = f"The students of {counted(len(courses), 'course')} are told: {', '.join(sorted(courses))}."
    return [told] if courses else []


def _release(act: Act, person: Person) -> None:
    for meeting in _meetings(act.session, person, act.now):
        tell_students(act, meeting, words.called_off(meeting, zone=records.zone(act.session)))


STUDENTS_TOLD = AtLeaving(_foretell, _release)
