"""Those who are booked where equipment that failed, or is overdue, has closed a place are told by mail, once each."""

from datetime import datetime, timedelta

from labsys.closing import queries, words
from labsys.closing.rules import Scope
from labsys.database import DbSession
from labsys.equipment import queries as equipment
from labsys.jobs.kinds import Kind, Made, Task
from labsys.mail import service as mail
from labsys.mail.kinds import CLOSURE, Message
from labsys.places import queries as places
from labsys.records import queries as records
from labsys.records.transactions import transaction
from labsys.timetable.spans import Span

TOLD_AHEAD = timedelta(days=7)  # house rule: what is further off may be in order by then


@transaction
def tell_booked(session: DbSession, *, now: datetime) -> int:
    """Write to whoever is booked in the days to come where equipment closes it; what stands on it stays booked."""
    zone = records.zone(session)
    stations = places.stations(session)
    letters = []
    for closed in equipment.closed(session, now):
        units = queries.units_in(stations, Scope(room_id=closed.room_id, station_id=closed.station_id))
        hit = queries.bookings_hit(session, unit_ids=[unit.id for unit in units], span=Span(now, now + TOLD_AHEAD))
        for booking in hit:
            if booking.arrived_at is None:
                cause = f"booking {booking.id}, {closed.what} closed {closed.span.start:%Y-%m-%dT%H:%M}"
                message = Message(CLOSURE, cause, *words.kept(booking, closed, zone=zone))
                letters.append(mail.Letter(message, booking.person))
    return mail.queue_all(session, letters, by=None, now=now)


def _tell(task: Task) -> Made:
    return Made(f"Told {tell_booked(task.session, now=task.now())} people that their place is closed.")


TELL_BOOKED = Kind(
    name="closed by equipment",
    title="Tell those who are booked where equipment closes a place",
    run=_tell,
    every=timedelta(minutes=10),
)
