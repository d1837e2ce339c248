"""Hazards of the room that are no chemicals, as templates to begin an assessment from. Our own words."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from labsys.records.errors import NotFound
from labsys.risk.models import Level


@dataclass(frozen=True)
class RoomHazard:
    """One template; `source` says where its advice comes from."""

    key: str
    title: str
    task: str
    existing_controls: str
    controls: tuple[tuple[Level, str], ...]
    first_aid: str
    emergency: str
    source: str


@cache
def all_room_hazards() -> tuple[RoomHazard, ...]:
    """Every template, in the order of the file."""
    text = (files("labsys.risk") / "data" / "room_hazards.toml").read_text(encoding="utf-8")
    return tuple(
        RoomHazard(
            key=row["key"],
            title=row["title"],
            task=row["task"],
            existing_controls=row["existing_controls"],
            controls=tuple((level, line) for level in Level for line in row.get(level.name.lower(), ())),
            first_aid=row["first_aid"],
            emergency=row["emergency"],
            source=row["source"],
        )
        for row in tomllib.loads(text)["hazard"]
    )


def room_hazard(key: str) -> RoomHazard:
    """One template. Raises NotFound."""
    found = next((one for one in all_room_hazards() if one.key == key), None)
    if found is None:
        raise NotFound("hazard of the room", key)
    return found
