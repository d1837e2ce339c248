"""What is said about a booking: on pages, and in the mail to whoever's time it is."""

from zoneinfo import ZoneInfo

from labsys.bookings.models import Booking
from labsys.bookings.rules import span_in_words
from labsys.mail.kinds import BOOKING, Message
from labsys.people.models import Person
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


def _lines(booking: Booking, where: str) -> str:
    return "\n".join(line for line in (booking.class_name, where, plan_of(booking), booking.note) if line)
