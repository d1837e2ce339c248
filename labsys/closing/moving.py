"""Where the bookings that a closure hits can go instead, each beside what the others were given."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from labsys.bookings import queries as bookings
from labsys.bookings.free import LOOK_AROUND, Demand, Present, choose_units, nearest_free
from labsys.bookings.holding import demand_of
from labsys.bookings.models import Booking
from labsys.bookings.rules import heads
from labsys.closing import queries
from labsys.database import DbSession
from labsys.inductions import gate
from labsys.places import queries as places
from labsys.places.calendar import Calendar, Closed
from labsys.places.models import Station
from labsys.timetable.spans import Span

FURTHEST_LOOK = timedelta(days=30)
OFFERED = 3


@dataclass
class Ground:
    """All places as they stand with something closed, and what is taken of them: moves are tried on it."""

    stations: dict[int, Station]
    calendar: Calendar
    taken: dict[int, list[Span]]
    there: dict[int, list[Present]]

    def demand(self, booking: Booking) -> Demand:
        """What a booking takes, at whatever time."""
        stations = held_with(self.stations, booking.station_id)
        return demand_of(
            booking,
            stations=stations,
            units=[unit for station in stations for unit in station.units],
            calendar=self.calendar,
            there=self.there,
        )

    def take(self, booking: Booking, span: Span) -> list[tuple[int, Span]]:
        """Take units for a span: each with the time held. Nothing at all where not everything is free and open."""
        demand = self.demand(booking)
        if not any(opened.contains(span) for opened in demand.opened(span)) or demand.why_full(span):
            return []
        by_need = [(need, choose_units(need, span=span, taken=self.taken)) for need in demand.needs]
        if not all(unit_ids for _, unit_ids in by_need):
            return []
        held = [(unit_id, need.held(span)) for need, unit_ids in by_need for unit_id in unit_ids]
        for unit_id, time in held:
            self.taken[unit_id].append(time)
        people, taught = heads(units=booking.units, is_class=bool(booking.class_name), along=booking.along)
        for room_id in {station.room_id for station in held_with(self.stations, booking.station_id)}:
            until = max(time.end for _, time in held)
            self.there[room_id].append(Present(Span(span.start, until), people, taught))
        return held


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


def held_with(stations: dict[int, Station], station_id: int) -> list[Station]:
    """A place and what comes with it."""
    station = stations[station_id]
    return [station, *(stations[companion.brings_id] for companion in station.brings)]


def ground(session: DbSession, *, closed: Closed, spans: Iterable[Span], without: Iterable[int]) -> Ground:
    """The places with `closed` closed, over all these spans; the bookings `without` hold nothing."""
    every = list(spans) or [Span(closed.span.start, closed.span.start + timedelta(hours=1))]
    around = FURTHEST_LOOK + timedelta(days=2)
    within = Span(min(span.start for span in every) - around, max(span.end for span in every) + around)
    calendar = places.calendar(session, within=within)
    calendar = replace(calendar, closures=(*calendar.closures, closed))
    stations = {station.id: station for station in places.stations(session, in_use=False)}
    unit_ids = [unit.id for station in stations.values() for unit in station.units]
    taken = bookings.taken(
        session, unit_ids=unit_ids, within=within, but_for=list(without), closed=calendar.closed_units
    )
    room_ids = {station.room_id for station in stations.values()}
    there = bookings.present(session, room_ids=room_ids, within=within, but_for=list(without))
    return Ground(stations, calendar, taken, there)


def hits(session: DbSession, *, closed: Closed, hit: Sequence[Booking], now: datetime) -> list[Hit]:
    """Find for each booking where it could go: another unit at its time first, then the nearest times.

    Nobody is offered a time at which they are booked elsewhere, or at which they would not be cleared to work.
    """
    if not hit:
        return []
    where = ground(
        session,
        closed=closed,
        spans=[Span(booking.starts_at, booking.ends_at) for booking in hit],
        without=[booking.id for booking in hit],
    )
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
        if any(where.stations[station.id].closed_at for station in held_with(where.stations, booking.station_id)):
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
        hit.booking.id: gate.subjects_of(
            stations=held_with(where.stations, hit.booking.station_id),
            process=hit.booking.process,
            every_work=every_work,
        )
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
