"""The forecast as a drawing: each bath's time to come as a bar, until it ends, with the classes above it."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from labsys.drawing.scene import Anchor, Path, Rect, Role, Scene, Shape, Text, trace
from labsys.forecast.pages import BathRow, Whole
from labsys.timetable.local_time import to_local

WIDTH, LEFT, RIGHT = 760.0, 190.0, 750.0
_TOP, _ROW, _BAR = 44.0, 26.0, 12.0
_TYPE = 11.0
_DAYS_BETWEEN = 7
_LONGEST_NAME = 30


def ahead(shown: Whole, *, now: datetime, zone: ZoneInfo) -> Scene:
    """Draw when each bath ends: solid while it lasts, hatched where it may end, dotted where that is not known."""
    start, end = min(now, shown.run.made_at), shown.run.until
    bottom = _TOP + _ROW * len(shown.rows)
    at = _scale(start, end)
    shapes = [*_days(start, end, bottom, zone), *_classes(shown, start, end, bottom)]
    for number, row in enumerate(shown.rows):
        shapes += _bath(row, _TOP + _ROW * number, at)
    title = "When each bath ends, and the classes before then; the table below says the same"
    return Scene(kind="forecast", width=WIDTH, height=bottom + 8, title=title, shapes=tuple(shapes))


Scale = Callable[[datetime], float]


def _scale(start: datetime, end: datetime) -> Scale:
    def at(instant: datetime) -> float:
        share = (instant - start) / (end - start)
        return LEFT + (RIGHT - LEFT) * min(1.0, max(0.0, share))

    return at


def _bath(row: BathRow, top: float, at: Scale) -> Iterator[Shape]:
    yield Text(0, top + _BAR + 4, _short(f"{row.bath.name} {row.bath.code}"), _TYPE)
    bar_top = top + (_ROW - _BAR) / 2
    if row.row.why_not_known:
        yield Rect(LEFT, bar_top, RIGHT - LEFT, _BAR, Role.LIQUID_UNKNOWN)
        return
    first, last = (RIGHT if instant is None else at(instant) for instant in (row.row.earliest_at, row.row.latest_at))
    yield Rect(LEFT, bar_top, max(1.0, first - LEFT), _BAR, Role.LIQUID_PLENTY)
    if last > first:
        yield Rect(first, bar_top, last - first, _BAR, Role.LIQUID_NEAR_END)
        yield Path(trace(f"M{first} {bar_top} H{last} V{bar_top + _BAR} H{first} Z"), Role.INK, stroke=1)


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1]}…"


def _days(start: datetime, end: datetime, bottom: float, zone: ZoneInfo) -> Iterator[Shape]:
    at = _scale(start, end)
    day = to_local(start, zone=zone).replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=1)
    while day.weekday() != 0:
        day += timedelta(days=1)
    while day < end:
        x = at(day)
        yield Path(trace(f"M{x} {_TOP - 6} V{bottom}"), Role.LINE, stroke=1)
        if x < RIGHT - 50:
            yield Text(x + 2, 12, f"{day:%-d %b}", _TYPE)
        day += timedelta(days=_DAYS_BETWEEN)


def _classes(shown: Whole, start: datetime, end: datetime, bottom: float) -> Iterator[Shape]:
    """A tick for each class; heavy where one of its baths is not enough."""
    at = _scale(start, end)
    yield Text(0, 32, "Classes", _TYPE)
    for each in shown.classes:
        x = at(each.booking.starts_at)
        yield Path(trace(f"M{x} 22 V{bottom if each.warns else 36}"), Role.INK, stroke=2 if each.warns else 1.5)
        if each.warns:
            yield Text(x + 3, 32, "!", _TYPE + 2, Role.INK, Anchor.START)


# Afterwards: was the lab warned?


class Marked(StrEnum):
    """What came of a class, or of the store, and whether that had been said on an earlier day."""

    WARNED = "it failed, and that was said before"
    MISSED = "it failed, and nobody was warned"
    NEEDLESS = "it was enough, though it was doubted before"
    QUIET = "it was enough"


@dataclass(frozen=True)
class Mark:
    """One class or shortage on the drawing: when, in which row, and what came of it."""

    at: datetime
    row: str
    marked: Marked


_SIDE = 12.0
_KEY = (Marked.WARNED, Marked.MISSED, Marked.NEEDLESS, Marked.QUIET)


def record(marks: Sequence[Mark], *, start: datetime, end: datetime, zone: ZoneInfo, title: str) -> Scene:
    """Draw what came of classes and store over a time: solid where a failure had been foretold, crossed where not."""
    rows = sorted({mark.row for mark in marks}, key=lambda row: min(mark.at for mark in marks if mark.row == row))
    bottom = _TOP + _ROW * len(rows)
    at = _scale(start, end)
    shapes: list[Shape] = list(_days(start, end, bottom, zone))
    for number, row in enumerate(rows):
        top = _TOP + _ROW * number + (_ROW - _SIDE) / 2
        shapes.append(Text(0, top + _SIDE - 2, _short(row), _TYPE))
        for mark in marks:
            if mark.row == row:
                shapes += _square(at(mark.at), top, mark.marked)
    for number, marked in enumerate(_KEY):
        x, y = 8 + (number % 2) * WIDTH / 2, bottom + 14 + (number // 2) * 20
        count = sum(mark.marked is marked for mark in marks)
        shapes += _square(x, y, marked)
        shapes.append(
            Text(x + _SIDE + 4, y + _SIDE - 2, f"{marked.value[:1].upper()}{marked.value[1:]}: {count}", _TYPE)
        )
    return Scene(kind="forecast", width=WIDTH, height=bottom + 60, title=title, shapes=tuple(shapes))


def record_of(marks: Sequence[Mark], *, zone: ZoneInfo) -> Scene:
    """The same of all that is on record."""
    first, last = min(mark.at for mark in marks), max(mark.at for mark in marks)
    title = "Each class that is over: whether its baths were enough, and whether that had been said on an earlier day"
    around = timedelta(days=3)
    return record(marks, start=first - around, end=last + around, zone=zone, title=title)


def _square(x: float, y: float, marked: Marked) -> Iterator[Shape]:
    left, right, bottom = x - _SIDE / 2, x + _SIDE / 2, y + _SIDE
    if marked is Marked.WARNED:
        yield Rect(left, y, _SIDE, _SIDE, Role.INK)
        return
    if marked is Marked.NEEDLESS:
        yield Rect(left, y, _SIDE, _SIDE, Role.LIQUID_NEAR_END)
    frame = Path(
        trace(f"M{left} {y} H{right} V{bottom} H{left} Z"), Role.INK, stroke=2 if marked is Marked.MISSED else 1
    )
    yield frame
    if marked is Marked.MISSED:
        yield Path(trace(f"M{left} {y} L{right} {bottom} M{right} {y} L{left} {bottom}"), Role.INK, stroke=2)
