"""What the pages of places show, worked out from what the queries read."""

from collections.abc import Sequence
from dataclasses import dataclass

from labsys.places.models import Room, Station
from labsys.places.rules import by_weekday
from labsys.timetable.opening import Hours


@dataclass(frozen=True)
class RoomView:
    """A room and what stands in it."""

    room: Room
    stations: list[Station]


def rooms_with_stations(rooms: Sequence[Room], stations: Sequence[Station]) -> list[RoomView]:
    return [RoomView(room, [station for station in stations if station.room_id == room.id]) for room in rooms]


def week_in_words(week: Sequence[Hours]) -> list[tuple[str, str]]:
    """Each weekday with its hours; none at all where no hours were ever set."""
    return [(name, words or "closed") for name, words in by_weekday(week)] if week else []
