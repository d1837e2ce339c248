"""What the pages of places show, worked out from what the queries read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from labsys.places.models import Room, SpecialHours, Stated, Station
from labsys.places.rules import by_weekday, hours_in_words, light_in_words
from labsys.timetable.local_time import day_words
from labsys.timetable.opening import Hours

NOT_STATED = Stated.NOT_STATED.value


@dataclass(frozen=True)
class RoomView:
    """A room and what stands in it, with its week where it keeps its own."""

    room: Room
    stations: list[Station]
    week: list[tuple[str, str]]
    facts: list[tuple[str, str]]


@dataclass(frozen=True)
class SpecialView:
    """A day with other hours, in the lab or in one room."""

    day: date
    room_id: int | None
    words: str


def rooms_with_stations(
    rooms: Sequence[Room], stations: Sequence[Station], *, own_hours: Mapping[int, Sequence[Hours]]
) -> list[RoomView]:
    return [
        RoomView(
            room,
            [station for station in stations if station.room_id == room.id],
            week_in_words(own_hours.get(room.id, ())),
            room_facts(room),
        )
        for room in rooms
    ]


def week_in_words(week: Sequence[Hours]) -> list[tuple[str, str]]:
    """Each weekday with its hours; none at all where no hours were ever set."""
    return [(name, words or "closed") for name, words in by_weekday(week)] if week else []


def special_in_words(days: Sequence[SpecialHours], *, rooms: Sequence[Room]) -> list[SpecialView]:
    """Days with other hours, each with where and when it is open."""
    names = {room.id: room.name for room in rooms}
    views = []
    for (day, room_id), rows in groupby(days, key=lambda row: (row.day, row.room_id)):
        hours = hours_in_words(Hours(day.weekday(), row.opens_minute, row.closes_minute) for row in rows)
        where = f"{names[room_id]}, " if room_id else ""
        views.append(SpecialView(day, room_id, f"{where}{day:%A} {day_words(day)}: {hours}"))
    return views


def room_facts(room: Room) -> list[tuple[str, str]]:
    """What is said of a room; what nobody has said is said to be so."""
    facts = [
        ("Light", light_in_words(room.kind)),
        ("Most people, for fire", str(room.most_people or NOT_STATED)),
        ("Most students", str(room.most_taught or NOT_STATED)),
        ("Without a step", room.step_free),
        ("Can be looked into", room.looked_into),
    ]
    return [*facts, ("Helps deaf or blind people", room.helps)] if room.helps else facts


def height_in_words(station: Station) -> str:
    """How high the work surface is."""
    if station.lowest_cm is None:
        return NOT_STATED
    if station.highest_cm in (None, station.lowest_cm):
        return f"{station.lowest_cm} cm"
    return f"{station.lowest_cm} to {station.highest_cm} cm"
