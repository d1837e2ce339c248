"""What people do with places: add rooms and stations, say what comes with what, set hours, take closures back."""

from collections.abc import Collection, Sequence
from dataclasses import asdict, astuple
from datetime import date

from sqlalchemy import delete, select

from labsys.database import DbSession
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.places import queries, rules
from labsys.places.models import Closure, Companion, OpeningHours, Room, SpecialHours, Station, StationUnit
from labsys.places.rules import RoomFacts, StationFacts
from labsys.records import queries as lab_queries
from labsys.records import service as records
from labsys.records.models import CodeKind, Lab
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import Hours


@act
def add_room(act: Act, *, name: str, facts: RoomFacts) -> Room:
    """Add a room. Raises NotPermitted or PlaceRefused."""
    require(act.actor, Permission.KEEP_PLACES)
    _check_room_name(act.session, name)
    rules.check_room(facts)
    room = Room(name=name, **asdict(facts))
    act.session.add(room)
    act.tell("room.added", about=room, facts={"name": name, **asdict(facts)})
    return room


@act
def change_room(act: Act, *, room_id: int, name: str, facts: RoomFacts) -> Room:
    """Change what is said of a room. What is booked stays, though fewer people may come from now on.

    Raises NotPermitted, NotFound or PlaceRefused.
    """
    require(act.actor, Permission.KEEP_PLACES)
    room = queries.room_or_raise(act.session, room_id, lock=True)
    if name != room.name:
        _check_room_name(act.session, name)
    rules.check_room(facts)
    for field, said in {"name": name, **asdict(facts)}.items():
        setattr(room, field, said)
    act.tell("room.changed", about=room, facts={"name": name, **asdict(facts)})
    return room


@act
def add_station(act: Act, *, room_id: int, name: str, units: int, facts: StationFacts) -> Station:
    """Add a place to work with its equal units. Raises NotPermitted, NotFound or PlaceRefused."""
    require(act.actor, Permission.KEEP_PLACES)
    room = queries.room_or_raise(act.session, room_id)
    rules.check_units(units)
    rules.check_station(facts)
    check_name(act.session, name)
    station = Station(room=room, name=name, **asdict(facts))
    station.units = [StationUnit(number=number) for number in range(1, units + 1)]
    act.session.add(station)
    act.tell("station.added", about=station, facts={"name": name, "room": room.name, "units": units, **asdict(facts)})
    return station


@act
def give_code(act: Act, *, station_id: int) -> Station:
    """Give a place a code to scan, once. Raises NotPermitted, NotFound or PlaceRefused."""
    require(act.actor, Permission.KEEP_PLACES)
    station = queries.station_or_raise(act.session, station_id, lock=True)
    if lab_queries.code_of(act.session, kind=CodeKind.STATION, row_id=station_id):
        raise rules.PlaceRefused(f"{station.name} has a code already.")
    code = records.give_code(act.session, kind=CodeKind.STATION, row_id=station_id)
    act.tell("station.code_given", about=station, facts={"code": code})
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
def set_opening_hours(act: Act, *, hours: Sequence[Hours], room_id: int | None = None) -> Lab | Room:
    """Set the whole week of the lab, or of a room that keeps its own hours; a room with none keeps the lab's.

    Bookings outside the new hours stay, and their pages say so. Raises NotPermitted or NotFound.
    """
    require(act.actor, Permission.KEEP_PLACES)
    about = _hours_of(act, room_id)
    here = OpeningHours.room_id == room_id if room_id else OpeningHours.room_id.is_(None)
    act.session.execute(delete(OpeningHours).where(here))
    act.session.add_all(OpeningHours(room_id=room_id, **asdict(opened)) for opened in hours)
    act.tell("opening_hours.set", about=about, facts={"hours": [list(astuple(opened)) for opened in hours]})
    return about


@act
def set_special_hours(act: Act, *, day: date, hours: Sequence[Hours], room_id: int | None = None) -> Lab | Room:
    """Set other hours for one day, in the lab or in one room; none at all give the day back to its weekday.

    Raises NotPermitted, NotFound or PlaceRefused.
    """
    require(act.actor, Permission.KEEP_PLACES)
    about = _hours_of(act, room_id)
    if day < to_local(act.now, zone=lab_queries.zone(act.session)).date():
        raise rules.PlaceRefused("That day is over. Choose a day from today on.", field="day")
    here = SpecialHours.room_id == room_id if room_id else SpecialHours.room_id.is_(None)
    act.session.execute(delete(SpecialHours).where(here, SpecialHours.day == day))
    act.session.add_all(
        SpecialHours(room_id=room_id, day=day, opens_minute=opened.opens_minute, closes_minute=opened.closes_minute)
        for opened in hours
    )
    facts = {"day": day.isoformat(), "hours": [[opened.opens_minute, opened.closes_minute] for opened in hours]}
    act.tell("special_hours.set", about=about, facts=facts)
    return about


def facts_of(closure: Closure) -> dict[str, object]:
    """What the record keeps of a closure."""
    of_part = {
        name: row_id
        for name, row_id in (("room", closure.room_id), ("station", closure.station_id), ("unit", closure.unit_id))
        if row_id is not None
    }
    times = {"from": closure.starts_at.isoformat(), "to": closure.ends_at.isoformat()}
    return {**times, "reason": closure.reason, **of_part}


def _hours_of(act: Act, room_id: int | None) -> Lab | Room:
    """Whose hours they are, kept so that two people do not set them at once. Raises NotFound."""
    if room_id is not None:
        return queries.room_or_raise(act.session, room_id, lock=True)
    return act.session.execute(select(Lab).with_for_update()).scalar_one()


def check_name(session: DbSession, name: str) -> None:
    if queries.station_by_name(session, name) is not None:
        raise rules.PlaceRefused(f"There is a place called {name} already. Give this one another name.", field="name")


def _check_room_name(session: DbSession, name: str) -> None:
    if queries.room_by_name(session, name) is not None:
        raise rules.PlaceRefused(f"There is a room called {name} already. Give this one another name.", field="name")
