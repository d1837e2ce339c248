"""What people do with places: add rooms and stations, change them, set opening hours, close for a time."""

from collections.abc import Collection, Sequence
from dataclasses import asdict, astuple

from sqlalchemy import delete

from labsys.database import DbSession
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.places import queries, rules
from labsys.places.models import Closure, Companion, OpeningHours, Room, RoomKind, Station, StationUnit
from labsys.records import queries as lab_queries
from labsys.records.models import Lab
from labsys.timetable.opening import Hours
from labsys.timetable.spans import Span


@act
def add_room(act: Act, *, name: str, kind: RoomKind) -> Room:
    """Add a room. Raises NotPermitted or PlaceRefused."""
    require(act.actor, Permission.KEEP_PLACES)
    if queries.room_by_name(act.session, name) is not None:
        raise rules.PlaceRefused(f"There is a room called {name} already. Give this one another name.", field="name")
    room = Room(name=name, kind=kind)
    act.session.add(room)
    act.tell("room.added", about=room, facts={"name": name, "kind": kind})
    return room


@act
def add_station(
    act: Act, *, room_id: int, name: str, units: int, margin_minutes: int, position: int, note: str
) -> Station:
    """Add a place to work with its equal units. Raises NotPermitted, NotFound or PlaceRefused."""
    require(act.actor, Permission.KEEP_PLACES)
    room = queries.room_or_raise(act.session, room_id)
    rules.check_units(wanted=units)
    rules.check_margin(margin_minutes)
    _check_name(act.session, name)
    station = Station(room=room, name=name, position=position, margin_minutes=margin_minutes, note=note)
    station.units = [StationUnit(number=number) for number in range(1, units + 1)]
    act.session.add(station)
    facts = {"name": name, "room": room.name, "units": units, "margin_minutes": margin_minutes}
    act.tell("station.added", about=station, facts=facts)
    return station


@act
def change_station(
    act: Act, *, station_id: int, name: str, units: int, margin_minutes: int, position: int, note: str
) -> Station:
    """Change how a place is called and shown, its margin for bookings to come, and add units.

    Raises NotPermitted, NotFound or PlaceRefused.
    """
    require(act.actor, Permission.KEEP_PLACES)
    station = queries.station_or_raise(act.session, station_id, lock=True)
    rules.check_units(wanted=units, have=len(station.units))
    rules.check_margin(margin_minutes)
    if name != station.name:
        _check_name(act.session, name)
    station.units.extend(StationUnit(number=number) for number in range(len(station.units) + 1, units + 1))
    station.name, station.margin_minutes, station.position, station.note = name, margin_minutes, position, note
    facts = {"name": name, "units": units, "margin_minutes": margin_minutes}
    act.tell("station.changed", about=station, facts=facts)
    return station


@act
def close_station(act: Act, *, station_id: int) -> Station:
    """Take a place out of use for good; its bookings stay on file. Raises NotPermitted, NotFound or PlaceRefused."""
    require(act.actor, Permission.KEEP_PLACES)
    station = queries.station_or_raise(act.session, station_id, lock=True)
    if station.closed_at is not None:
        raise rules.PlaceRefused(f"{station.name} is out of use already.")
    station.closed_at = act.now
    act.tell("station.closed", about=station)
    return station


@act
def set_companions(act: Act, *, station_id: int, brings: Collection[int]) -> Station:
    """Say which other places a booking of this one holds too. One step only: those bring nothing further.

    Raises NotPermitted, NotFound or PlaceRefused.
    """
    require(act.actor, Permission.KEEP_PLACES)
    station = queries.station_or_raise(act.session, station_id, lock=True)
    if station.id in brings:
        raise rules.PlaceRefused(f"{station.name} cannot bring itself. Choose other places.", field="brings")
    others = {other: queries.station_or_raise(act.session, other) for other in sorted(set(brings))}
    for other in others.values():
        if other.closed_at is not None:
            raise rules.PlaceRefused(f"{other.name} is out of use. Choose another place.", field="brings")
    station.brings = [companion for companion in station.brings if companion.brings_id in others]
    kept = {companion.brings_id for companion in station.brings}
    station.brings.extend(Companion(brings_id=other) for other in others if other not in kept)
    act.tell("station.companions_set", about=station, facts={"brings": [other.name for other in others.values()]})
    return station


@act
def set_opening_hours(act: Act, *, hours: Sequence[Hours]) -> Lab:
    """Set the whole week at once. Bookings outside the new hours stay, and their pages say so. Raises NotPermitted."""
    require(act.actor, Permission.KEEP_PLACES)
    act.session.execute(delete(OpeningHours))
    act.session.add_all(OpeningHours(**asdict(opened)) for opened in hours)
    lab = lab_queries.the_lab(act.session)
    act.tell("opening_hours.set", about=lab, facts={"hours": [list(astuple(opened)) for opened in hours]})
    return lab


@act
def add_closure(act: Act, *, span: Span, reason: str) -> Closure:
    """Close the lab for a time. Bookings in it stay, and their pages say so. Raises NotPermitted or PlaceRefused."""
    require(act.actor, Permission.KEEP_PLACES)
    if span.end <= act.now:
        raise rules.PlaceRefused("That is over already. Enter a closure that is still to come.", field="ends")
    closure = Closure(starts_at=span.start, ends_at=span.end, reason=reason)
    act.session.add(closure)
    act.tell("closure.added", about=closure, facts=_facts(closure))
    return closure


@act
def remove_closure(act: Act, *, closure_id: int) -> None:
    """Take a closure back. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.KEEP_PLACES)
    closure = queries.closure_or_raise(act.session, closure_id)
    act.tell("closure.removed", about=closure, facts=_facts(closure))
    act.session.delete(closure)


def _facts(closure: Closure) -> dict[str, str]:
    """What the record keeps of a closure."""
    return {"from": closure.starts_at.isoformat(), "to": closure.ends_at.isoformat(), "reason": closure.reason}


def _check_name(session: DbSession, name: str) -> None:
    if queries.station_by_name(session, name) is not None:
        raise rules.PlaceRefused(f"There is a place called {name} already. Give this one another name.", field="name")
