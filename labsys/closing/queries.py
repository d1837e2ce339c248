"""What closing reads: what can be closed, and which bookings stand in it."""

from collections.abc import Collection, Iterable
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import joinedload, selectinload

from labsys.bookings.models import Booking, Hold
from labsys.closing.rules import Scope
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.places import queries as places
from labsys.places.models import Station, StationUnit
from labsys.records.errors import NotFound
from labsys.timetable.spans import Span


def scopes(session: DbSession) -> list[tuple[Scope, str]]:
    """Whatever can be closed, with its name: the lab, each room with its places, each place with its units."""
    offered = [(Scope(), "The whole lab")]
    stations = places.stations(session)
    for room in places.rooms(session):
        offered.append((Scope(room_id=room.id), f"{room.name}, all of it"))
        for station in (each for each in stations if each.room_id == room.id):
            several = len(station.units) > 1
            name = f"{station.name}, all {len(station.units)}" if several else station.name
            offered.append((Scope(station_id=station.id), name))
            offered += [(Scope(unit_id=unit.id), unit.name) for unit in station.units if several]
    return offered


def units_in(stations: Iterable[Station], scope: Scope) -> list[StationUnit]:
    """The units that a scope closes. Raises NotFound where there are none of that name."""
    units = [
        unit
        for station in stations
        for unit in station.units
        if scope.room_id in (None, station.room_id)
        and scope.station_id in (None, station.id)
        and scope.unit_id in (None, unit.id)
    ]
    if not units and (scope.station_id or scope.unit_id):
        raise NotFound("place", scope.station_id or scope.unit_id or 0)
    return units


def bookings_hit(session: DbSession, *, unit_ids: Collection[int], span: Span) -> list[Booking]:
    """Bookings that hold one of these units and whose time meets a span, the earliest first; cleaning up is none."""
    held = select(Hold.booking_id).where(
        Hold.unit_id.in_(unit_ids), Hold.starts_at < span.end, Hold.ends_at > span.start
    )
    query = (
        select(Booking)
        .where(
            Booking.id.in_(held),
            Booking.cancelled_at.is_(None),
            Booking.left_at.is_(None),
            Booking.starts_at < span.end,
            Booking.ends_at > span.start,
        )
        .options(
            joinedload(Booking.person),
            joinedload(Booking.process),
            selectinload(Booking.holds),
            selectinload(Booking.also_rows),
            selectinload(Booking.supervision),
        )
        .order_by(Booking.starts_at, Booking.id)
        .execution_options(populate_existing=True)
    )
    return list(session.execute(query).scalars())


def times_of(session: DbSession, *, person_ids: Collection[int], from_: datetime) -> list[tuple[int, int, Span]]:
    """When these people are booked from an instant on: person, booking and time."""
    query = select(Booking.person_id, Booking.id, Booking.starts_at, Booking.ends_at).where(
        Booking.person_id.in_(person_ids),
        Booking.ends_at > from_,
        Booking.cancelled_at.is_(None),
        Booking.missed_at.is_(None),
        Booking.left_at.is_(None),
    )
    return [(person_id, row_id, Span(start, end)) for person_id, row_id, start, end in session.execute(query)]


def next_on_units(session: DbSession, *, unit_ids: Collection[int], now: datetime) -> tuple[int, str, datetime] | None:
    """The first hold that is not over of these units: the unit's number, whose it is, and from when."""
    query = (
        select(StationUnit.number, Person.name, Hold.starts_at)
        .join(Hold, Hold.unit_id == StationUnit.id)
        .join(Hold.booking)
        .join(Person, Booking.person_id == Person.id)
        .where(Hold.unit_id.in_(unit_ids), Hold.ends_at > now)
        .order_by(Hold.starts_at, Hold.id)
        .limit(1)
    )
    row = session.execute(query).one_or_none()
    return None if row is None else (row[0], row[1], row[2])
