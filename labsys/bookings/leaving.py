"""The bookings of somebody who leaves the lab: those that have not begun are released, with their classes."""

from datetime import datetime

from sqlalchemy import select

from labsys.bookings import service
from labsys.bookings.models import Booking
from labsys.database import DbSession
from labsys.people.acts import Act
from labsys.people.leaving import AtLeaving
from labsys.people.models import Person
from labsys.quantities import counted


def not_begun(session: DbSession, person: Person, now: datetime) -> list[Booking]:
    """Bookings of somebody that are to come, or have begun without them."""
    query = select(Booking).where(
        Booking.person_id == person.id,
        Booking.ends_at > now,
        Booking.arrived_at.is_(None),
        Booking.cancelled_at.is_(None),
        Booking.missed_at.is_(None),
    )
    return list(session.execute(query.order_by(Booking.starts_at, Booking.id)).scalars())


def _foretell(session: DbSession, person: Person, now: datetime) -> list[str]:
    bookings = not_begun(session, person, now)
    if not bookings:
        return ["No booking of theirs is to come."]
    classes = [booking.class_name for booking in bookings if booking.class_name]
    held = f", classes among them: {', '.join(dict.fromkeys(classes))}" if classes else ""
    return [f"{counted(len(bookings), 'booking')} to come {'is' if len(bookings) == 1 else 'are'} released{held}."]


def _release(act: Act, person: Person) -> None:
    for booking in not_begun(act.session, person, act.now):
        service.call_off(act, booking)


BOOKINGS_RELEASED = AtLeaving(_foretell, _release)
