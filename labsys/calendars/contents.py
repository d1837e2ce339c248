"""A calendar as its file: each booking an event, without anything confidential.

No remark, reason or condition of a booking is in it, and in that of a room no name: the address may lie with any
calendar program.
"""

from collections import Counter
from datetime import datetime
from uuid import UUID, uuid5

from labsys.bookings.models import Booking
from labsys.bookings.words import plan_of
from labsys.calendars import queries
from labsys.calendars.models import CalendarAddress
from labsys.calendars.rules import Calendar, calendar_of
from labsys.database import DbSession
from labsys.records import queries as records
from labsys.timetable.calendar_file import Event, as_calendar

_NO_LAB = UUID(int=0)


def name_of(address: CalendarAddress, *, lab: str) -> str:
    """What a calendar is called where it is shown."""
    if address.room is not None:
        return f"{address.room.name}, {lab}"
    if address.course is not None:
        return f"{address.course.name}, {address.course.term}, {lab}"
    return f"{address.person.name}, {lab}"


def as_file(session: DbSession, address: CalendarAddress, *, now: datetime, public_url: str) -> str:
    """The calendar of an address that works."""
    lab, calendar = records.the_lab(session), calendar_of(address)
    named_by = uuid5(_NO_LAB, records.entry_hash(session, 1) or "")  # no other lab has this, wherever it moves to
    events = [
        _event(booking, calendar, named_by=named_by, where=[lab.name, lab.address], public_url=public_url)
        for booking in queries.bookings(session, calendar, person=address.person, now=now)
    ]
    return as_calendar(events, name=name_of(address, lab=lab.name))


def _event(booking: Booking, calendar: Calendar, *, named_by: UUID, where: list[str], public_url: str) -> Event:
    ended_at = booking.cancelled_at or booking.missed_at
    instants = (booking.made_at, booking.changed_at, ended_at)
    of_room = calendar.room_id is not None
    return Event(
        uid=str(
            uuid5(named_by, f"room {calendar.room_id}, booking {booking.id}" if of_room else f"booking {booking.id}")
        ),
        starts_at=booking.starts_at,
        ends_at=booking.ends_at,
        changed_at=max(instant for instant in instants if instant is not None),
        sequence=booking.version - 1 + (ended_at is not None),
        summary=_taken(booking, calendar) if of_room else booking.class_name or booking.station.name,
        location=", ".join(part for part in (*_place(booking, of_room=of_room), *where) if part),
        description="" if of_room else plan_of(booking),
        url="" if of_room else f"{public_url}/bookings/{booking.id}",
        is_cancelled=ended_at is not None,
    )


def _taken(booking: Booking, calendar: Calendar) -> str:
    """What is taken in a room, and whether by a class; by whom is not said."""
    stations = (held.unit.station for held in booking.holds)
    units = Counter(station.name for station in stations if station.room_id == calendar.room_id)
    places = [f"{name} × {count}" if count > 1 else name for name, count in units.items()] or [booking.station.name]
    return f"{', '.join(places)}: {'class' if booking.class_name else 'booked'}"


def _place(booking: Booking, *, of_room: bool) -> list[str]:
    """The place where the summary does not say it, and its room."""
    said = of_room or not booking.class_name
    return [booking.station.room.name] if said else [booking.station.name, booking.station.room.name]
