"""All places as they stand over some time: what is open and what is taken. What shall be booked is tried on it."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import timedelta

from labsys.bookings import queries
from labsys.bookings.free import Demand, Present, choose_units
from labsys.bookings.holding import demand_of
from labsys.bookings.models import Booking
from labsys.bookings.rules import heads_of
from labsys.database import DbSession
from labsys.places import queries as places
from labsys.places.calendar import Calendar, Closed
from labsys.places.models import Station
from labsys.timetable.spans import Span

_AROUND = timedelta(days=2)


@dataclass
class Ground:
    """Every place, by its id; when its units are taken and who is in its room, each beside what was tried before."""

    stations: dict[int, Station]
    calendar: Calendar
    taken: dict[int, list[Span]]
    there: dict[int, list[Present]]

    def held_with(self, station_id: int) -> list[Station]:
        """A place and what comes with it."""
        station = self.stations[station_id]
        return [station, *(self.stations[companion.brings_id] for companion in station.brings)]

    def is_in_use(self, station_id: int) -> bool:
        """Whether neither a place nor what comes with it is out of use."""
        return all(station.closed_at is None for station in self.held_with(station_id))

    def demand(self, booking: Booking) -> Demand:
        """What a booking takes, at whatever time."""
        stations = self.held_with(booking.station_id)
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
        people, taught = heads_of(booking)
        for room_id in {station.room_id for station in self.held_with(booking.station_id)}:
            until = max(time.end for _, time in held)
            self.there[room_id].append(Present(Span(span.start, until), people, taught))
        return held


def ground(session: DbSession, *, within: Span, without: Collection[int] = (), closed: Closed | None = None) -> Ground:
    """The places over a stretch of time, with `closed` closed too; the bookings `without` hold nothing."""
    within = Span(within.start - _AROUND, within.end + _AROUND)
    calendar = places.calendar(session, within=within)
    if closed is not None:
        calendar = replace(calendar, closures=(*calendar.closures, closed))
    stations = {station.id: station for station in places.stations(session, in_use=False)}
    unit_ids = [unit.id for station in stations.values() for unit in station.units]
    taken = queries.taken(session, unit_ids=unit_ids, within=within, but_for=without, closed=calendar.closed_units)
    room_ids = {station.room_id for station in stations.values()}
    there = queries.present(session, room_ids=room_ids, within=within, but_for=without)
    return Ground(stations, calendar, taken, there)
