"""Hazards of the room that are no chemicals, as templates to begin an assessment from. Our own words."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from labsys.records.errors import NotFound
from labsys.risk.models import Level

_LEVELS = {level.name.lower(): level for level in Level}


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
            **{name: text for name, text in row.items() if name not in _LEVELS},
            controls=tuple((level, line) for name, level in _LEVELS.items() for line in row.get(name, ())),
        )
        for row in tomllib.loads(text)["hazard"]
    )


def room_hazard(key: str) -> RoomHazard:
    """One template. Raises NotFound."""
    hazard = next((hazard for hazard in all_room_hazards() if hazard.key == key), None)
    if hazard is None:
        raise NotFound("hazard of the room", key)
    return hazard
