"""What is said about a booking: on pages, and in the mail to whoever's time it is."""

from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.bookings.models import Booking, Wait
from labsys.bookings.rules import span_in_words
from labsys.mail.kinds import BOOKING, OFFER, Message
from labsys.people.models import Person
from labsys.timetable.local_time import clock_words, to_local
from labsys.timetable.spans import Span


def plan_in_words(*, count: int, size: str, process: str) -> str:
    """What somebody means to do, or an empty text.

    >>> plan_in_words(count=2, size="120", process="Film, PQ 1+6")
    '2 of 120, Film, PQ 1+6'
    """
    return ", ".join(part for part in (f"{count} of {size}" if size else "", process) if part)


def plan_of(booking: Booking) -> str:
    """What the person of a booking means to do, read with its process."""
    process = booking.process.name if booking.process else ""
    return plan_in_words(count=booking.planned_count, size=booking.planned_size, process=process)


def place_and_time(booking: Booking, *, zone: ZoneInfo) -> str:
    units = f", {booking.units} units" if booking.class_name else ""
    return f"{booking.station.name}{units}, {span_in_words(Span(booking.starts_at, booking.ends_at), zone=zone)}"


def made(booking: Booking, *, by: Person, zone: ZoneInfo) -> Message:
    """Somebody else booked for you."""
    where = place_and_time(booking, zone=zone)
    body = (
        f"{by.name} booked this for you:\n\n{_lines(booking, where)}\n\nIf it does not suit you, change or cancel it."
    )
    return _of(booking, "made", f"Booked for you: {where}", body)


def changed(booking: Booking, *, zone: ZoneInfo) -> Message:
    where = place_and_time(booking, zone=zone)
    body = f"Your booking was changed. It is now:\n\n{_lines(booking, where)}"
    return _of(booking, f"changed {booking.version}", f"Changed: {where}", body)


def cancelled(booking: Booking, *, by: Person, zone: ZoneInfo) -> Message:
    where = place_and_time(booking, zone=zone)
    body = f"{by.name} cancelled this booking:\n\n{_lines(booking, where)}\n\nThe time is free for others now."
    return _of(booking, "cancelled", f"Cancelled: {where}", body)


def suspended(booking: Booking, *, at: datetime, whose: Person, zone: ZoneInfo) -> Message:
    """Something it needs fell away. What, its page says to those who may read it."""
    where = place_and_time(booking, zone=zone)
    of = "Your booking" if whose.id == booking.person_id else f"The booking of {booking.person.name}"
    body = f"{of} is suspended:\n\n{_lines(booking, where)}\n\nIt does not begin as things stand. Its page says why."
    return _of(booking, f"suspended {at.isoformat()} {whose.id}", f"Suspended: {where}", body)


def resumed(booking: Booking, *, at: datetime, whose: Person, zone: ZoneInfo) -> Message:
    where = place_and_time(booking, zone=zone)
    of = "Your booking" if whose.id == booking.person_id else f"The booking of {booking.person.name}"
    body = f"{of} stands again:\n\n{_lines(booking, where)}"
    return _of(booking, f"resumed {at.isoformat()} {whose.id}", f"Stands again: {where}", body)


def missed(booking: Booking, *, zone: ZoneInfo) -> Message:
    where = place_and_time(booking, zone=zone)
    body = (
        f"Nobody had come, so the place was given free for others:\n\n{_lines(booking, where)}\n\n"
        "If you still want to work, see what is free.\n"
    )
    return Message(BOOKING, f"booking {booking.id} missed", f"Given free: {where}", body, "/bookings")


def _of(booking: Booking, what: str, subject: str, body: str) -> Message:
    """A mail that leads to the booking it is about."""
    return Message(BOOKING, f"booking {booking.id} {what}", subject, body, f"/bookings/{booking.id}")


def offered(wait: Wait, *, span: Span, until: datetime, zone: ZoneInfo) -> Message:
    """What is held for somebody, and until when."""
    where = f"{wait.station.name}, {span_in_words(span, zone=zone)}"
    body = (
        f"You wait for this, and it is free:\n\n{where}\n\nIt is held for you until {moment(until, zone=zone)}. "
        "Take it or decline it by then; after that it goes to whoever waits next."
    )
    return _of_wait(wait, f"offered {until:%Y-%m-%dT%H:%M}", f"Free for you: {where}", body)


def withdrawn(wait: Wait, *, span: Span, zone: ZoneInfo, at: datetime) -> Message:
    """An offer that cannot be kept."""
    where = f"{wait.station.name}, {span_in_words(span, zone=zone)}"
    body = f"This was offered to you and is closed after all:\n\n{where}\n\nYou keep your place on the waiting list."
    return _of_wait(wait, f"withdrawn {at:%Y-%m-%dT%H:%M:%S}", f"Not free after all: {where}", body)


def _of_wait(wait: Wait, what: str, subject: str, body: str) -> Message:
    """A mail that leads to the wait it is about."""
    return Message(OFFER, f"wait {wait.id} {what}", subject, body, f"/bookings/waiting/{wait.id}")


def moment(instant: datetime, *, zone: ZoneInfo) -> str:
    """A day and the clock on it."""
    return f"{to_local(instant, zone=zone):%a %-d %b}, {clock_words(instant, zone=zone)}"


def _lines(booking: Booking, where: str) -> str:
    return "\n".join(line for line in (booking.class_name, where, plan_of(booking), booking.note) if line)
