"""What the pages of places show, worked out from what the queries read."""

from collections.abc import Sequence
from dataclasses import dataclass

from labsys.places.models import Room, Station
from labsys.places.rules import WEEKDAYS, hours_in_words
from labsys.timetable.opening import Hours


@dataclass(frozen=True)
class RoomView:
    """A room and what stands in it."""

    room: Room
    stations: list[Station]


def rooms_with_stations(rooms: Sequence[Room], stations: Sequence[Station]) -> list[RoomView]:
    return [RoomView(room, [one for one in stations if one.room_id == room.id]) for room in rooms]


def week_in_words(week: Sequence[Hours]) -> list[tuple[str, str]]:
    """Each weekday with its hours; none at all where no hours were ever set."""
    if not week:
        return []
    return [
        (name, hours_in_words(one for one in week if one.weekday == weekday) or "closed")
        for weekday, name in enumerate(WEEKDAYS)
    ]
