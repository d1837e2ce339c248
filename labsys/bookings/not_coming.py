"""Places that nobody came to, given free for others."""

from datetime import datetime, timedelta

from sqlalchemy import select

from labsys.bookings import offering, queries, words
from labsys.bookings.comings_and_goings import Freed, follow
from labsys.bookings.conditions import closed_by_equipment
from labsys.bookings.models import Booking
from labsys.database import DbSession
from labsys.jobs.kinds import Kind, Made, Task
from labsys.mail import service as mail
from labsys.people.acts import Act, act
from labsys.records import queries as records


@act
def give_free(act: Act, *, booking_id: int) -> Booking | None:
    """Give a place free that nobody came to, and tell its person; nothing where somebody has come meanwhile."""
    booking = queries.booking_or_raise(act.session, booking_id, lock=True)
    after = records.the_lab(act.session).free_after_minutes
    if booking.arrived_at or booking.cancelled_at or booking.missed_at or after is None:
        return None
    if booking.starts_at + timedelta(minutes=after) > act.now or booking.ends_at <= act.now:
        return None
    stations = [booking.station, *(row.brings for row in booking.station.brings)]
    if closed_by_equipment(act.session, stations, now=act.now) is not None:
        return None  # nobody could have begun
    freed = offering.held_by(booking)
    booking.holds.clear()
    booking.missed_at = act.now
    message = words.missed(booking, zone=records.zone(act.session))
    mail.queue(act.session, message, to=booking.person, by=act.by, now=act.now)
    act.tell("booking.missed", about=booking)
    offering.pass_on(act, freed)
    follow(act, Freed.of(booking))
    return booking


def not_come(session: DbSession, *, now: datetime) -> list[int]:
    """Bookings whose place is due to be given free; classes are left alone."""
    after = records.the_lab(session).free_after_minutes
    if after is None:
        return []
    query = select(Booking.id).where(
        Booking.starts_at <= now - timedelta(minutes=after),
        Booking.ends_at > now,
        Booking.arrived_at.is_(None),
        Booking.cancelled_at.is_(None),
        Booking.missed_at.is_(None),
        Booking.class_name == "",
    )
    return list(session.execute(query.order_by(Booking.starts_at, Booking.id)).scalars())


def give_free_what_is_due(task: Task) -> Made:
    """Give free every place that nobody came to; each an act of its own, told once however often this runs."""
    due = not_come(task.session, now=task.now())
    given = [give_free(Act(task.session, by=None, now=task.now()), booking_id=booking_id) for booking_id in due]
    return Made(f"Gave {sum(booking is not None for booking in given)} places free.")


FREE_MISSED = Kind(
    name="places nobody came to",
    title="Give free the places that nobody came to",
    run=give_free_what_is_due,
    every=timedelta(minutes=1),
)
