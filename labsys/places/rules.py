"""Decisions about places: opening hours as people type them, and when the lab is open."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from operator import attrgetter

from labsys.places.models import Room, RoomKind, Stated, Station
from labsys.records.errors import Refused
from labsys.timetable.opening import Hours

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
LONGEST_MARGIN_MINUTES = 240
QUARTER_MINUTES = 15

_OPENS = attrgetter("opens_minute")
_TIMES = re.compile(r"(\d{1,2})[:.](\d{2})\s*(?:-|–|to)\s*(\d{1,2})[:.](\d{2})", re.IGNORECASE | re.ASCII)


class PlaceRefused(Refused):
    """A place or its hours cannot be so; the message says why and what to do."""


def parse_hours(text: str, *, weekday: int, field: str) -> list[Hours]:
    """Read the opening hours of one weekday as they are typed; an empty text is closed.

    >>> hours = parse_hours("14:00-22:00, 10:00-13:00", weekday=0, field="monday")
    >>> [(opened.opens_minute, opened.closes_minute) for opened in hours]
    [(600, 780), (840, 1320)]
    """
    day = WEEKDAYS[weekday]
    parts = [part.strip() for part in re.split(r"[,;]", text) if part.strip()]
    hours = sorted((_one_span(part, weekday=weekday, field=field) for part in parts), key=_OPENS)
    if any(later.opens_minute < earlier.closes_minute for earlier, later in pairwise(hours)):
        raise PlaceRefused(f"{day}: two of the times overlap. Write them as one, or leave a gap.", field=field)
    return hours


def _one_span(text: str, *, weekday: int, field: str) -> Hours:
    day = WEEKDAYS[weekday]
    times = _TIMES.fullmatch(text)
    if times is None:
        raise PlaceRefused(
            f"{day}: write from when to when, as 10:00-22:00. Several with a comma between; empty is closed.",
            field=field,
        )
    from_hour, from_minute, to_hour, to_minute = map(int, times.groups())
    opens, closes = from_hour * 60 + from_minute, to_hour * 60 + to_minute
    if from_minute > 59 or to_minute > 59 or opens >= 24 * 60 or closes > 24 * 60:
        raise PlaceRefused(f"{day}: {text} is not on the clock. Midnight at the end is 24:00.", field=field)
    if opens % QUARTER_MINUTES or closes % QUARTER_MINUTES:
        raise PlaceRefused(f"{day}: use quarter-hours, such as 10:00 or 10:15.", field=field)
    if closes <= opens:
        raise PlaceRefused(
            f"{day}: closing comes after opening. Open past midnight? Write until 24:00 here, and the rest on the "
            "next day from 0:00.",
            field=field,
        )
    return Hours(weekday, opens, closes)


def hours_in_words(hours: Iterable[Hours]) -> str:
    """Write opening hours of one day as they are typed."""
    ordered = sorted(hours, key=_OPENS)
    return ", ".join(f"{_clock(opened.opens_minute)}-{_clock(opened.closes_minute)}" for opened in ordered)


def by_weekday(week: Sequence[Hours]) -> list[tuple[str, str]]:
    """Each weekday with its hours as they are typed, empty where it is closed."""
    return [
        (name, hours_in_words(opened for opened in week if opened.weekday == weekday))
        for weekday, name in enumerate(WEEKDAYS)
    ]


def _clock(minute: int) -> str:
    return f"{minute // 60:02}:{minute % 60:02}"


def check_units(wanted: int) -> None:
    """Raise PlaceRefused unless a station may have this many units."""
    if not 1 <= wanted <= Station.MOST_UNITS:
        raise PlaceRefused(f"Enter from 1 to {Station.MOST_UNITS} units.", field="units")


def check_margin(margin_minutes: int) -> None:
    """Raise PlaceRefused unless the margin is some quarter-hours within the limit."""
    if not 0 <= margin_minutes <= LONGEST_MARGIN_MINUTES or margin_minutes % QUARTER_MINUTES:
        raise PlaceRefused(
            f"Enter the time to clear up in quarter-hours: 0, 15, 30 … up to {LONGEST_MARGIN_MINUTES} minutes.",
            field="margin",
        )


def light_in_words(kind: RoomKind) -> str:
    """What light a room has: white, safelight or none."""
    return {
        RoomKind.SAFELIGHT: "Safelight area",
        RoomKind.TOTAL_DARK: "Total-dark area",
        RoomKind.DRY_SIDE: "Dry side, white light",
    }[kind]


@dataclass(frozen=True, kw_only=True)
class RoomFacts:
    """What is said of a room; None is not stated."""

    kind: RoomKind
    most_people: int | None = None
    most_taught: int | None = None
    step_free: Stated = Stated.NOT_STATED
    looked_into: Stated = Stated.NOT_STATED
    helps: str = ""


@dataclass(frozen=True, kw_only=True)
class StationFacts:
    """What is said of a place besides its name and units; None is not stated."""

    margin_minutes: int
    position: int
    note: str
    lowest_cm: int | None = None
    highest_cm: int | None = None
    clean_down: str = ""


def check_room(facts: RoomFacts) -> None:
    """Raise PlaceRefused unless the numbers of a room go together."""
    for name in ("most_people", "most_taught"):
        number = getattr(facts, name)
        if number is not None and not 1 <= number <= Room.MOST_PEOPLE:
            raise PlaceRefused(f"Enter from 1 to {Room.MOST_PEOPLE}, or leave it empty.", field=name)
    if facts.most_people and facts.most_taught and facts.most_taught >= facts.most_people:
        raise PlaceRefused(
            "Whoever teaches counts for fire too: fewer can be taught than the room may hold.", field="most_taught"
        )


def check_station(facts: StationFacts) -> None:
    """Raise PlaceRefused unless the margin and the heights of a place can be."""
    check_margin(facts.margin_minutes)
    if facts.highest_cm is not None and facts.lowest_cm is None:
        raise PlaceRefused("Enter the lowest height as well.", field="lowest_cm")
    if facts.lowest_cm and facts.highest_cm and facts.highest_cm < facts.lowest_cm:
        raise PlaceRefused("The highest is not under the lowest. Check both heights.", field="highest_cm")
