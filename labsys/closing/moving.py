"""Where the bookings that a closure hits can go instead, each beside what the others were given."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from labsys.bookings.free import LOOK_AROUND, nearest_free
from labsys.bookings.ground import Ground, ground
from labsys.bookings.models import Booking
from labsys.closing import queries
from labsys.database import DbSession
from labsys.inductions import gate
from labsys.places.calendar import Closed
from labsys.timetable.spans import Span

FURTHEST_LOOK = timedelta(days=30)
OFFERED = 3


@dataclass(frozen=True)
class Hit:
    """A booking that stands where something is to be closed, and the times it could have instead, the best first."""

    booking: Booking
    moves: tuple[Span, ...]

    @property
    def span(self) -> Span:
        return Span(self.booking.starts_at, self.booking.ends_at)

    @property
    def is_here(self) -> bool:
        """Whether its person has come: then it is not moved in time, nor cancelled."""
        return self.booking.arrived_at is not None


def around(spans: Collection[Span]) -> Span:
    """The time in which bookings of these spans may be moved."""
    return Span(min(span.start for span in spans) - FURTHEST_LOOK, max(span.end for span in spans) + FURTHEST_LOOK)


def hits(session: DbSession, *, closed: Closed, hit: Sequence[Booking], now: datetime) -> list[Hit]:
    """Find for each booking where it could go: another unit at its time first, then the nearest times.

    Nobody is offered a time at which they are booked elsewhere, or at which they would not be cleared to work.
    """
    if not hit:
        return []
    within = around([Span(booking.starts_at, booking.ends_at) for booking in hit])
    where = ground(session, within=within, closed=closed, without=[booking.id for booking in hit])
    length = min(closed.span.end - max(closed.span.start, now), FURTHEST_LOOK)
    look_around = min(length + LOOK_AROUND, FURTHEST_LOOK)
    hit_ids = {booking.id for booking in hit}
    busy: dict[int, list[Span]] = {}
    for person_id, booking_id, span in queries.times_of(
        session, person_ids={booking.person_id for booking in hit}, from_=now
    ):
        if booking_id not in hit_ids:
            busy.setdefault(person_id, []).append(span)
    found = []
    for booking in hit:
        demand, span = where.demand(booking), Span(booking.starts_at, booking.ends_at)
        if not where.is_in_use(booking.station_id):
            moves = []
        elif where.take(booking, span):
            moves = [span]
        elif booking.starts_at <= now or booking.arrived_at is not None:
            moves = []
        else:
            nearest = nearest_free(
                span,
                demand=demand,
                taken=where.taken,
                now=now,
                limit=OFFERED,
                look_around=look_around,
                also_busy=busy.get(booking.person_id, ()),
            )
            moves = sorted(nearest, key=lambda free: abs(free.start - span.start))
            if moves:
                where.take(booking, moves[0])
        busy.setdefault(booking.person_id, []).extend(moves[:1])
        found.append(Hit(booking, tuple(moves)))
    return cleared(session, found, where, now=now)


def cleared(session: DbSession, found: list[Hit], where: Ground, *, now: datetime) -> list[Hit]:
    """Leave out times at which the person is not cleared; one question for all, and singly only where it says no."""
    every_work = gate.work_by_process(session).values()
    subjects = {
        hit.booking.id: [
            *gate.subjects_of(
                stations=where.held_with(hit.booking.station_id), process=hit.booking.process, every_work=every_work
            ),
            *map(gate.work_of, hit.booking.also),
        ]
        for hit in found
    }
    later = {hit.booking.id: [move for move in hit.moves if move != hit.span] for hit in found}
    moved = [hit for hit in found if later[hit.booking.id]]
    if not moved:
        return found

    def clear(some: Sequence[Hit], at: datetime) -> set[int]:
        asked = {subject for hit in some for subject in subjects[hit.booking.id]}
        answers = gate.clearances(
            session, person_ids={hit.booking.person_id for hit in some}, subjects=asked, at=at, now=now
        )
        return {
            hit.booking.id
            for hit in some
            if all(answers[hit.booking.person_id, subject].is_clear for subject in subjects[hit.booking.id])
        }

    last = max(move.end for moves in later.values() for move in moves)
    clear_to_the_end = clear(moved, last)
    return [
        hit
        if hit.booking.id in clear_to_the_end or not later[hit.booking.id]
        else replace(hit, moves=tuple(move for move in hit.moves if move == hit.span or clear([hit], move.end)))
        for hit in found
    ]
