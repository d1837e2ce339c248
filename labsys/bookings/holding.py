"""Taking units for a booking's time: what it wants, what is free of it, and the holds themselves. Steps of acts."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from sqlalchemy import delete
from sqlalchemy.exc import IntegrityError

from labsys.bookings import queries, rules
from labsys.bookings.free import LOOK_AROUND, Demand, Present, RoomShare, UnitsWanted, choose_units, nearest_free
from labsys.bookings.models import NO_OVERLAP, Booking, Hold
from labsys.database import DbSession, violates
from labsys.places import queries as places
from labsys.places.calendar import Calendar
from labsys.places.models import Station, StationUnit
from labsys.timetable.spans import Span


def demand_of(
    booking: Booking,
    *,
    stations: Sequence[Station],
    units: Sequence[StationUnit],
    calendar: Calendar,
    there: Mapping[int, Sequence[Present]],
    number: int | None = None,
) -> Demand:
    """What a booking of the first of these stations takes; units it has already are tried first.

    `there` are the people in each room, `number` the unit wanted of the first place, where not any will do.
    """
    had = {hold.unit_id for hold in booking.holds}

    def usable(station: Station) -> tuple[int, ...]:
        here = [unit for unit in units if unit.station_id == station.id]
        if number is not None and station is stations[0]:
            here = [unit for unit in here if unit.number == number]
        return tuple(unit.id for unit in sorted(here, key=lambda unit: (unit.id not in had, unit.number)))

    margins = {station.id: timedelta(minutes=station.margin_minutes) for station in stations}
    people, taught = rules.heads_of(booking)
    rooms = {station.room_id: station.room for station in stations}
    return Demand(
        needs=tuple(
            UnitsWanted(place=station.name, unit_ids=usable(station), margin=margins[station.id], wanted=booking.units)
            for station in stations
        ),
        openings=tuple(calendar.of(station) for station in stations),
        rooms=tuple(
            RoomShare(
                name=room.name,
                most_people=room.most_people,
                most_taught=room.most_taught,
                people=people,
                taught=taught,
                margin=max(margins[station.id] for station in stations if station.room_id == room_id),
                there=there[room_id],
            )
            for room_id, room in rooms.items()
        ),
    )


def hold(
    session: DbSession, *, booking: Booking, stations: Sequence[Station], calendar: Calendar, now: datetime
) -> None:
    """Step: take the units for the booking's time, those it has already first. Raises BookingRefused or SlotTaken."""
    span = Span(booking.starts_at, booking.ends_at)
    units = places.lock_units(session, [station.id for station in stations])
    room_ids = {station.room_id for station in stations}
    places.lock_rooms(session, room_ids)
    numbers = [unit.number for unit in units if unit.station_id == stations[0].id]
    rules.check_number(booking.wanted_number, place=stations[0].name, numbers=numbers)
    for station in stations:
        have = sum(unit.station_id == station.id for unit in units)
        rules.check_units(booking.units, place=station.name, have=have)
    session.add(booking)
    session.flush()

    def demanded(within: Span) -> tuple[Demand, dict[int, list[Span]]]:
        """What is wanted, and what is taken in a stretch of time."""
        mine = [booking.id]
        there = queries.present(session, room_ids=room_ids, within=within, but_for=mine)
        demand = demand_of(
            booking, stations=stations, units=units, calendar=calendar, there=there, number=booking.wanted_number
        )
        unit_ids = [unit.id for unit in units]
        closed = calendar.closed_units
        return demand, queries.taken(session, unit_ids=unit_ids, within=within, but_for=mine, closed=closed)

    reach = Span(span.start, span.end + queries.LONGEST_HOLD)
    demand, taken = demanded(reach)
    session.execute(delete(Hold).where(Hold.booking_id == booking.id))
    to_hold = [(need, choose_units(need, span=span, taken=taken)) for need in demand.needs]
    full = next((need for need, free_ids in to_hold if not free_ids), None)
    why = None if full else demand.why_full(span)
    if full is None and why is None:
        full = insert_holds(session, booking=booking, to_hold=to_hold, span=span)
    if full is not None or why is not None:
        demand, taken = demanded(Span(span.start - LOOK_AROUND, reach.end + LOOK_AROUND))
        nearest = nearest_free(span, demand=demand, taken=taken, now=now)
        place = full.place if full else stations[0].name
        raise rules.SlotTaken(place, nearest=nearest, zone=calendar.zone, why=why)
    session.expire(booking, ["holds"])


def insert_holds(
    session: DbSession, *, booking: Booking, to_hold: Sequence[tuple[UnitsWanted, tuple[int, ...]]], span: Span
) -> UnitsWanted | None:
    """Step: insert the holds; what the database says is taken after all, or None when all is well."""
    for wanted, unit_ids in to_hold:
        held = wanted.held(span)
        try:
            with session.begin_nested():
                session.add_all(
                    Hold(booking_id=booking.id, unit_id=unit_id, starts_at=held.start, ends_at=held.end)
                    for unit_id in unit_ids
                )
        except IntegrityError as error:
            if not violates(error, NO_OVERLAP):
                raise
            return wanted
    return None
