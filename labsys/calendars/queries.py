"""What is read of calendar addresses, and the bookings that a calendar shows."""

from datetime import datetime

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import joinedload, selectinload

from labsys.bookings.models import Booking, Hold
from labsys.calendars import rules
from labsys.calendars.models import CalendarAddress
from labsys.calendars.rules import Calendar
from labsys.courses.models import Course, Meeting, Student
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.people.rules import token_digest
from labsys.places.models import Station, StationUnit

ADDRESSES_SHOWN = 200


def address_of_token(session: DbSession, token: str) -> CalendarAddress | None:
    """The calendar address with this secret part, as long as it works."""
    whole = joinedload(CalendarAddress.room), joinedload(CalendarAddress.course)
    query = select(CalendarAddress).where(CalendarAddress.token_digest == token_digest(token)).options(*whole)
    address = session.execute(query).scalar_one_or_none()
    return address if address is not None and rules.works(address, maker=address.person) else None


def working_addresses(session: DbSession, *, of: Person | None, but_of: int | None = None) -> list[CalendarAddress]:
    """The addresses that work: somebody's own, or everybody's but theirs; newest first."""
    query = (
        select(CalendarAddress)
        .where(CalendarAddress.ended_at.is_(None))
        .options(
            joinedload(CalendarAddress.person).selectinload(Person.role_rows),
            joinedload(CalendarAddress.room),
            joinedload(CalendarAddress.course),
        )
        .order_by(CalendarAddress.id.desc())
        .limit(ADDRESSES_SHOWN)
    )
    if of is not None:
        query = query.where(CalendarAddress.person_id == of.id)
    if but_of is not None:
        query = query.where(CalendarAddress.person_id != but_of)
    return [address for address in session.execute(query).scalars() if rules.works(address, maker=address.person)]


def courses_to_come(session: DbSession, *, now: datetime, also: int | None = None) -> list[Course]:
    """Courses with a meeting still to come, and one more that is asked for, by name."""
    to_come = Course.meetings.any(Meeting.booking.has(Booking.ends_at > now))
    query = select(Course).where(or_(to_come, Course.id == also)).order_by(Course.name, Course.id)
    return list(session.execute(query).scalars())


def bookings(session: DbSession, calendar: Calendar, *, person: Person, now: datetime) -> list[Booking]:
    """What stands in a calendar from some weeks ago on, cancelled time among it, in order of time.

    One's own are the bookings one has, and the meetings of courses on whose roster one is.
    """
    if calendar.room_id is not None:
        held_there = Booking.holds.any(Hold.unit.has(StationUnit.station.has(Station.room_id == calendar.room_id)))
        wanted = or_(Booking.station.has(Station.room_id == calendar.room_id), held_there)
    elif calendar.course_id is not None:
        wanted = Booking.id.in_(select(Meeting.booking_id).where(Meeting.course_id == calendar.course_id))
    else:
        on_roster = or_(
            Student.person_id == person.id, and_(Student.person_id.is_(None), Student.email == person.email)
        )
        attended = select(Student.course_id).where(on_roster, Student.removed_at.is_(None))
        of_courses = select(Meeting.booking_id).where(Meeting.course_id.in_(attended))
        wanted = or_(Booking.person_id == person.id, Booking.id.in_(of_courses))
    query = (
        select(Booking)
        .where(wanted, Booking.ends_at > now - rules.BACK)
        .options(
            joinedload(Booking.person).lazyload(Person.role_rows),
            joinedload(Booking.station).joinedload(Station.room),
            joinedload(Booking.process),
            selectinload(Booking.holds).joinedload(Hold.unit).joinedload(StationUnit.station),
        )
        .order_by(Booking.starts_at, Booking.id)
        .limit(rules.MOST_EVENTS)
    )
    return list(session.execute(query).scalars())
