"""What is said by mail to somebody whose booking a closure hits; each leads to the booking, or to booking again."""

from collections.abc import Sequence
from typing import NamedTuple
from zoneinfo import ZoneInfo

from labsys.bookings.models import Booking
from labsys.bookings.rules import closed_in_words
from labsys.bookings.words import place_and_time, plan_of
from labsys.closing.rules import OUT_OF_USE
from labsys.places.calendar import Closed
from labsys.places.models import StationUnit
from labsys.timetable.local_time import to_local


class Said(NamedTuple):
    """A mail without its cause."""

    subject: str
    body: str
    path: str


def because(closed: Closed, *, zone: ZoneInfo) -> str:
    """What is closed, until when, and why."""
    if closed.reason == OUT_OF_USE:
        return f"{closed.what} is out of use."
    return closed_in_words(closed, zone=zone)


def moved(booking: Booking, units: Sequence[StationUnit], closed: Closed, *, zone: ZoneInfo) -> Said:
    """The booking as it is now, and which units it has."""
    where = place_and_time(booking, zone=zone)
    names = ", ".join(unit.name for unit in units)
    body = (
        f"{because(closed, zone=zone)} Your booking was moved for that. It is now:\n\n{_lines(booking, where)}\n"
        f"You have: {names}\n\nIf it does not suit you, change or cancel it.\n"
    )
    return Said(f"Moved: {where}", body, _page(booking))


def cancelled(booking: Booking, closed: Closed, *, zone: ZoneInfo) -> Said:
    where = place_and_time(booking, zone=zone)
    day = to_local(booking.starts_at, zone=zone).date().isoformat()
    body = (
        f"{because(closed, zone=zone)} Your booking was cancelled for that:\n\n{_lines(booking, where)}\n\n"
        "See what is free instead.\n"
    )
    return Said(f"Cancelled: {where}", body, f"/bookings?day={day}")


def kept(booking: Booking, closed: Closed, *, zone: ZoneInfo) -> Said:
    where = place_and_time(booking, zone=zone)
    body = (
        f"{because(closed, zone=zone)} Your booking lies in that time, and still stands:\n\n"
        f"{_lines(booking, where)}\n\nChange it or cancel it.\n"
    )
    return Said(f"Closed then: {where}", body, _page(booking))


def _page(booking: Booking) -> str:
    return f"/bookings/{booking.id}"


def _lines(booking: Booking, where: str) -> str:
    return "\n".join(line for line in (booking.class_name, where, plan_of(booking)) if line)
