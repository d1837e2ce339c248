"""What pages and other rooms read of places."""

from collections.abc import Collection
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import String, cast, select
from sqlalchemy.orm import joinedload, selectinload

from labsys.database import DbSession
from labsys.people.row_kinds import NEVER, NOTHING, Page, RowKind, Search
from labsys.places.models import Closure, Companion, OpeningHours, Room, Station, StationUnit
from labsys.places.rules import Closed, Opening
from labsys.records import queries as records
from labsys.records.queries import get_or_raise
from labsys.timetable.opening import Hours
from labsys.timetable.spans import Span

_WHOLE_STATION = (
    joinedload(Station.room),
    selectinload(Station.units),
    selectinload(Station.brings).joinedload(Companion.brings),
)


def rooms(session: DbSession) -> list[Room]:
    return list(session.execute(select(Room).order_by(Room.name, Room.id)).scalars())


def room_or_raise(session: DbSession, room_id: int) -> Room:
    return get_or_raise(session, Room, room_id, "room")


def room_by_name(session: DbSession, name: str) -> Room | None:
    return session.execute(select(Room).where(Room.name == name)).scalar_one_or_none()


def stations(session: DbSession, *, in_use: bool = True) -> list[Station]:
    """Stations in the order of the board, with their units and what they bring; a lab has some dozens."""
    query = select(Station).options(*_WHOLE_STATION).order_by(Station.position, Station.name, Station.id)
    if in_use:
        query = query.where(Station.closed_at.is_(None))
    return list(session.execute(query).scalars())


def stations_with_units(session: DbSession) -> list[Station]:
    """All stations in the order of the board, with their units alone, in one query."""
    query = select(Station).options(joinedload(Station.units)).order_by(Station.position, Station.name, Station.id)
    return list(session.execute(query).scalars().unique())


def station_or_raise(session: DbSession, station_id: int, *, lock: bool = False) -> Station:
    return get_or_raise(session, Station, station_id, "place", lock=lock, options=_WHOLE_STATION)


def station_by_name(session: DbSession, name: str) -> Station | None:
    return session.execute(select(Station).where(Station.name == name)).scalar_one_or_none()


def lock_stations(session: DbSession, station_ids: Collection[int]) -> list[Station]:
    """Stations of these ids as they are now, kept from changing until the act is over."""
    query = (
        select(Station)
        .where(Station.id.in_(station_ids))
        .order_by(Station.id)
        .with_for_update(read=True)
        .execution_options(populate_existing=True)
    )
    return list(session.execute(query).scalars())


def lock_units(session: DbSession, station_ids: Collection[int]) -> list[StationUnit]:
    """The units of stations, locked in id order, so that two acts never wait for each other."""
    query = (
        select(StationUnit)
        .where(StationUnit.station_id.in_(station_ids))
        .order_by(StationUnit.id)
        .with_for_update()
        .execution_options(populate_existing=True)
    )
    return list(session.execute(query).scalars())


def week(session: DbSession) -> list[Hours]:
    """The weekly opening hours, Monday first."""
    query = select(OpeningHours.weekday, OpeningHours.opens_minute, OpeningHours.closes_minute).order_by(
        OpeningHours.weekday, OpeningHours.opens_minute
    )
    return [Hours(*row) for row in session.execute(query)]


def closures_from(session: DbSession, instant: datetime) -> list[Closure]:
    """Closures that are not over yet, in order of time."""
    query = select(Closure).where(Closure.ends_at > instant).order_by(Closure.starts_at, Closure.id)
    return list(session.execute(query).scalars())


def closure_or_raise(session: DbSession, closure_id: int) -> Closure:
    return get_or_raise(session, Closure, closure_id, "closure")


def opening(session: DbSession, *, within: Span, zone: ZoneInfo | None = None) -> Opening:
    """When the lab is open: the week, and the closures that meet a stretch of time; `zone` where it is known."""
    query = (
        select(Closure.starts_at, Closure.ends_at, Closure.reason)
        .where(Closure.starts_at < within.end, Closure.ends_at > within.start)
        .order_by(Closure.starts_at, Closure.id)
    )
    closures = tuple(Closed(Span(start, end), reason) for start, end, reason in session.execute(query))
    return Opening(tuple(week(session)), closures, zone or records.zone(session))


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
    search=Search(
        select(Station.id, Station.name, NOTHING, Room.name, Station.closed_at.is_not(None)).join(Station.room),
        by=(Station.name,),
        gone="out of use",
    ),
)
