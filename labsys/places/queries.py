"""What pages and other rooms read of places."""

from collections.abc import Callable, Collection, Sequence
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from flask import Flask, current_app, has_app_context
from sqlalchemy import CompoundSelect, Date, Integer, String, cast, null, select, union_all
from sqlalchemy.orm import joinedload, selectinload

from labsys.database import DbSession
from labsys.people.row_kinds import NEVER, NOTHING, Page, RowKind, Search
from labsys.places.calendar import Calendar, Closed
from labsys.places.models import Closure, Companion, OpeningHours, Room, SpecialHours, Station, StationUnit
from labsys.records import queries as records
from labsys.records.models import CodeKind
from labsys.records.queries import get_or_raise
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import Hours
from labsys.timetable.spans import Span

_WHOLE_STATION = (
    joinedload(Station.room),
    selectinload(Station.units),
    selectinload(Station.brings).joinedload(Companion.brings),
)
_WITH_SCOPE = (
    joinedload(Closure.room),
    joinedload(Closure.station),
    joinedload(Closure.unit).joinedload(StationUnit.station).joinedload(Station.units),
)
_A_DAY = timedelta(days=1)
_HANDED_IN = "labsys-closing"

Closing = Callable[[DbSession, datetime], Sequence[Closed]]


def rooms(session: DbSession) -> list[Room]:
    return list(session.execute(select(Room).order_by(Room.name, Room.id)).scalars())


def room_or_raise(session: DbSession, room_id: int, *, lock: bool = False) -> Room:
    return get_or_raise(session, Room, room_id, "room", lock=lock)


def room_by_name(session: DbSession, name: str) -> Room | None:
    return session.execute(select(Room).where(Room.name == name)).scalar_one_or_none()


def stations(session: DbSession, *, in_use: bool = True) -> list[Station]:
    """Stations in the order of the board, with their units and what they bring; a lab has some dozens."""
    query = select(Station).options(*_WHOLE_STATION).order_by(Station.position, Station.name, Station.id)
    if in_use:
        query = query.where(Station.closed_at.is_(None))
    return list(session.execute(query).scalars())


def stations_with_units(session: DbSession) -> list[Station]:
    """All stations in the order of the board, with their room and every unit they ever had, in one query."""
    whole = joinedload(Station.every_unit), joinedload(Station.room)
    query = select(Station).options(*whole).order_by(Station.position, Station.name, Station.id)
    return list(session.execute(query).scalars().unique())


def station_or_raise(session: DbSession, station_id: int, *, lock: bool = False) -> Station:
    return get_or_raise(session, Station, station_id, "place", lock=lock, options=_WHOLE_STATION)


def station_by_name(session: DbSession, name: str) -> Station | None:
    return session.execute(select(Station).where(Station.name == name)).scalar_one_or_none()


def lock_stations(session: DbSession, station_ids: Collection[int], *, to_change: bool = False) -> list[Station]:
    """Stations of these ids as they are now, kept from changing until the act is over; `to_change` waits for others."""
    query = (
        select(Station)
        .where(Station.id.in_(station_ids))
        .options(joinedload(Station.room))
        .order_by(Station.id)
        .with_for_update(read=not to_change, of=Station)
        .execution_options(populate_existing=True)
    )
    return list(session.execute(query).scalars())


def lock_units(session: DbSession, station_ids: Collection[int]) -> list[StationUnit]:
    """The units of stations, locked in id order, so that two acts never wait for each other."""
    query = (
        select(StationUnit)
        .where(StationUnit.station_id.in_(station_ids), StationUnit.removed_at.is_(None))
        .order_by(StationUnit.id)
        .with_for_update()
        .execution_options(populate_existing=True)
    )
    return list(session.execute(query).scalars())


def week(session: DbSession, *, room_id: int | None = None) -> list[Hours]:
    """The weekly opening hours of the lab, or those that a room keeps for itself, Monday first."""
    query = select(OpeningHours.weekday, OpeningHours.opens_minute, OpeningHours.closes_minute)
    query = query.where(OpeningHours.room_id == room_id if room_id else OpeningHours.room_id.is_(None))
    return [Hours(*row) for row in session.execute(query.order_by(OpeningHours.weekday, OpeningHours.opens_minute))]


def lock_rooms(session: DbSession, room_ids: Collection[int]) -> list[Room]:
    """Rooms, locked in id order after places and units: one booking at a time is weighed against how many they take."""
    query = select(Room).where(Room.id.in_(room_ids)).order_by(Room.id).with_for_update()
    return list(session.execute(query.execution_options(populate_existing=True)).scalars())


def widest_week(session: DbSession) -> list[Hours]:
    """All weekly opening hours there are, those of rooms among them: what can be open at all."""
    query = select(OpeningHours.weekday, OpeningHours.opens_minute, OpeningHours.closes_minute)
    return [Hours(*row) for row in session.execute(query)]


def hours_of_rooms(session: DbSession) -> dict[int, list[Hours]]:
    """The weeks of rooms that keep their own hours, by room."""
    query = select(OpeningHours).where(OpeningHours.room_id.is_not(None))
    by_room: dict[int, list[Hours]] = {}
    for row in session.execute(query.order_by(OpeningHours.weekday, OpeningHours.opens_minute)).scalars():
        by_room.setdefault(row.room_id or 0, []).append(Hours(row.weekday, row.opens_minute, row.closes_minute))
    return by_room


def special_days(session: DbSession, *, first: date) -> list[SpecialHours]:
    """Other hours of single days, from a day on, in order of time."""
    order = SpecialHours.day, SpecialHours.room_id, SpecialHours.opens_minute
    return list(session.execute(select(SpecialHours).where(SpecialHours.day >= first).order_by(*order)).scalars())


def closures_from(session: DbSession, instant: datetime) -> list[Closure]:
    """Closures that are not over yet, in order of time, with what they close."""
    query = (
        select(Closure).options(*_WITH_SCOPE).where(Closure.ends_at > instant).order_by(Closure.starts_at, Closure.id)
    )
    return list(session.execute(query).scalars().unique())


def closure_or_raise(session: DbSession, closure_id: int) -> Closure:
    return get_or_raise(session, Closure, closure_id, "closure", options=_WITH_SCOPE)


def calendar(
    session: DbSession, *, within: Span, zone: ZoneInfo | None = None, now: datetime | None = None
) -> Calendar:
    """When the lab and its parts are open, in a stretch of time: two queries; `zone` where it is known.

    A page that shows what can be booked says `now`: what other rooms close is then part of it, as it stands. Acts ask
    those rooms themselves, as conditions.
    """
    zone = zone or records.zone(session)
    query = (
        select(Closure)
        .options(*_WITH_SCOPE)
        .where(Closure.starts_at < within.end, Closure.ends_at > within.start)
        .order_by(Closure.starts_at, Closure.id)
    )
    closures = (
        *(
            Closed(Span(row.starts_at, row.ends_at), row.reason, row.what, row.room_id, row.station_id, row.unit_id)
            for row in session.execute(query).scalars().unique()
        ),
        *(closed for closed in (_closed_besides(session, now) if now else ()) if closed.span.overlaps(within)),
    )
    hours: dict[int | None, tuple[Hours, ...]] = {}
    special: dict[int | None, dict[date, tuple[Hours, ...]]] = {}
    first, last = (to_local(end, zone=zone).date() for end in (within.start - _A_DAY, within.end + _A_DAY))
    for room_id, weekday, day, opens, closes in session.execute(_all_hours(first, last)):
        if day is None:
            hours[room_id] = (*hours.get(room_id, ()), Hours(weekday, opens, closes))
        else:
            of_room = special.setdefault(room_id, {})
            of_room[day] = (*of_room.get(day, ()), Hours(day.weekday(), opens, closes))
    return Calendar(hours, dict(special), closures, zone)


def register_closing(app: Flask, closing: Closing) -> None:
    """Let the calendar know what a room below this one closes, such as equipment that failed."""
    app.extensions.setdefault(_HANDED_IN, []).append(closing)


def _closed_besides(session: DbSession, now: datetime) -> list[Closed]:
    handed_in: Sequence[Closing] = current_app.extensions.get(_HANDED_IN, ()) if has_app_context() else ()
    return [closed for closing in handed_in for closed in closing(session, now)]


def _all_hours(first: date, last: date) -> CompoundSelect[*tuple[Any, ...]]:
    """The hours of weeks, and those of single days, in one statement: room, weekday, day, from and to."""
    weekly = select(
        OpeningHours.room_id,
        OpeningHours.weekday,
        cast(null(), Date),
        OpeningHours.opens_minute,
        OpeningHours.closes_minute,
    )
    daily = select(
        SpecialHours.room_id,
        cast(null(), Integer),
        SpecialHours.day,
        SpecialHours.opens_minute,
        SpecialHours.closes_minute,
    ).where(SpecialHours.day >= first, SpecialHours.day <= last)
    return union_all(weekly, daily)


ROOM = RowKind(
    table=Room,
    called="room",
    many="rooms",
    pages=(Page("places.index"),),
    search=Search(select(Room.id, Room.name, NOTHING, cast(Room.kind, String), NEVER), by=(Room.name,)),
)
STATION = RowKind(
    table=Station,
    called="place",
    many="places",
    pages=(Page("places.station", "station_id"),),
    coded=CodeKind.STATION,
    search=Search(
        select(Station.id, Station.name, NOTHING, Room.name, Station.closed_at.is_not(None)).join(Station.room),
        by=(Station.name,),
        gone="out of use",
    ),
)
