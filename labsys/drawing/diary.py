"""The diary of a bath: one ribbon of its life, what was done above it, what went through and its tests below.

Solid is the life that was left, hatched near its end, outlined while nothing counted, dotted where it is not known or
only foreseen. Times are shares of the time drawn, from 0 to 1; so are the amounts left.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from labsys.drawing.scene import Anchor, Line, Move, Path, Rect, Role, Scene, Segment, Shape, Text, polygon
from labsys.drawing.trend import dot, dotted

WIDTH, LEFT = 1216.0, 96.0
_ROWS = (18.0, 58.0)  # of what was done: the lower one where the upper is full
_RIBBON_TOP, _RIBBON_BOTTOM = 84.0, 204.0
_LOADS, _TESTS_TOP, _TESTS_BOTTOM = 236.0, 262.0, 312.0
_TYPE, _ROOM_FOR_A_LETTER, _BETWEEN_LOADS = 14.0, 7.6, 26.0


@dataclass(frozen=True, slots=True)
class Step:
    """What was left from one moment to the next: None where that is not known; `counts` is False while none did."""

    begins: float
    ends: float
    left: float | None
    is_near_end: bool = False
    counts: bool = True


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that was done, or a load: when, and in words; `detail` stands under what was done."""

    at: float
    words: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Lane:
    """The figures of one kind of test, each from 0 at the bottom to 1 at the top, with its limit where it has one."""

    name: str
    tests: tuple[tuple[float, float, str], ...]
    limit: tuple[float, str] | None = None


@dataclass(frozen=True, slots=True)
class Ahead:
    """Between which moments it is expected to end, from what is left now."""

    earliest: float
    latest: float
    left: float
    words: str


def diary(
    *,
    steps: Sequence[Step],
    done: Sequence[Mark],
    loads: Sequence[Mark],
    days: Sequence[Mark],
    full: str,
    what_goes_through: str,
    lane: Lane | None,
    now: float | None,
    ahead: Ahead | None,
    title: str,
) -> Scene:
    """Return the ribbon.

    Parameters:
        steps: What was left, one after the other. [-]
        done: What was done, in the order of time. [-]
        loads: What went through, in the order of time. [-]
        days: The days to name below. [-]
        full: What the whole bath takes, in words. [-]
        what_goes_through: Rolls or sheets. [-]
        lane: Its tests, where a figure was read. [-]
        now: The present, where it still stands. [-]
        ahead: What is foreseen, where it is. [-]
        title: What it says to whoever cannot see it. [-]
    Returns:
        A scene 1216 wide. [-]
    """
    bottom = _TESTS_BOTTOM if lane else _LOADS + 12
    shapes: list[Shape] = [
        Text(0, (_RIBBON_TOP + _RIBBON_BOTTOM) / 2, "Life left", _TYPE),
        Text(LEFT - 8, _RIBBON_TOP + 10, full, _TYPE, anchor=Anchor.END),
        Text(LEFT - 8, _RIBBON_BOTTOM, "0", _TYPE, anchor=Anchor.END),
        Text(0, _LOADS, what_goes_through, _TYPE),
    ]
    for step in steps:
        shapes += _step(step)
    shapes.append(_line((LEFT, _RIBBON_BOTTOM), (WIDTH, _RIBBON_BOTTOM), 1.5))
    shapes += _done(done)
    shapes += _loads(loads)
    shapes += _lane(lane) if lane else ()
    shapes += _ahead(ahead, now) if ahead and now is not None else ()
    shapes += _days(days, bottom)
    if now is not None:
        shapes.append(_line((_x(now), 70), (_x(now), bottom + 12), 2))
        is_late = _x(now) > WIDTH - 40
        anchor = Anchor.END if is_late else Anchor.START
        shapes.append(Text(_x(now) + (-6 if is_late else 6), 80, "now", _TYPE, anchor=anchor))
    return Scene(kind="diary", width=WIDTH, height=bottom + 40, title=title, shapes=tuple(shapes))


def _x(at: float) -> float:
    return LEFT + (WIDTH - LEFT) * at


def _height(left: float) -> float:
    return _RIBBON_BOTTOM - (_RIBBON_BOTTOM - _RIBBON_TOP) * left


def _line(start: tuple[float, float], end: tuple[float, float], width: float) -> Path:
    return Path((Move(*start), Line(*end)), Role.INK, stroke=width)


def _step(step: Step) -> Iterator[Shape]:
    left, width = _x(step.begins), max(0.5, _x(step.ends) - _x(step.begins))
    top = _RIBBON_TOP if step.left is None or not step.counts else _height(step.left)
    box = polygon((left, top), (left + width, top), (left + width, _RIBBON_BOTTOM), (left, _RIBBON_BOTTOM))
    if not step.counts:
        yield Path(box, Role.INK, stroke=1.5)
        if width > 150:
            middle = left + width / 2
            yield Text(middle, 140, "second fixer", _TYPE, anchor=Anchor.MIDDLE)
            yield Text(middle, 158, "nothing counts in it yet", _TYPE, anchor=Anchor.MIDDLE)
        return
    role = Role.LIQUID_NEAR_END if step.is_near_end else Role.LIQUID_PLENTY
    yield Rect(left, top, width, _RIBBON_BOTTOM - top, Role.LIQUID_UNKNOWN if step.left is None else role)
    yield _line((left, top), (left + width, top), 2.2)


def _done(done: Sequence[Mark]) -> Iterator[Shape]:
    """Each with a line down to the ribbon; its words where there is room, in the upper row or else the lower."""
    taken = [LEFT - 100.0 for _ in _ROWS]
    for mark in done:
        x = _x(mark.at)
        width = 8 + _ROOM_FOR_A_LETTER * max(len(mark.words), len(mark.detail))
        is_at_end = x + width > WIDTH
        begins = x - width if is_at_end else x
        row = next((row for row, until in enumerate(taken) if begins >= until), None)
        yield _line((x, _ROWS[row] - 10 if row is not None else _RIBBON_TOP - 8), (x, _RIBBON_TOP), 1.5)
        if row is None:
            continue
        taken[row] = begins + width + 12
        at, anchor = (x - 7, Anchor.END) if is_at_end else (x + 7, Anchor.START)
        yield Text(at, _ROWS[row], mark.words, _TYPE, anchor=anchor)
        if mark.detail:
            yield Text(at, _ROWS[row] + 16, mark.detail, _TYPE, anchor=anchor)


def _loads(loads: Sequence[Mark]) -> Iterator[Shape]:
    last = 0.0
    for load in loads:
        x = _x(load.at)
        yield _line((x, _RIBBON_BOTTOM), (x, _RIBBON_BOTTOM + 12), 1.5)
        if x - last >= _BETWEEN_LOADS:
            yield Text(x, _LOADS, load.words, _TYPE, anchor=Anchor.MIDDLE)
            last = x


def _lane(lane: Lane) -> Iterator[Shape]:
    def height(share: float) -> float:
        return _TESTS_BOTTOM - 6 - (_TESTS_BOTTOM - _TESTS_TOP - 12) * share

    yield Text(0, (_TESTS_TOP + _TESTS_BOTTOM) / 2, lane.name, _TYPE)
    if lane.limit:
        value, words = lane.limit
        yield dotted(LEFT, WIDTH, height(value))
        yield Text(LEFT, height(value) - 5, words, _TYPE)
    points = [(_x(at), height(share), words) for at, share, words in lane.tests]
    joined: list[Segment] = [Line(x, y) for x, y, _ in points]
    yield Path((Move(*points[0][:2]), *joined), Role.INK, stroke=1.6)
    last = 0.0
    for x, y, words in points:
        yield from dot(x, y)
        if x - last >= _ROOM_FOR_A_LETTER * len(words) + 14:
            at, anchor = (x - 8, Anchor.END) if x > WIDTH - 70 else (x + 8, Anchor.START)
            yield Text(at, y + 16, words, _TYPE, anchor=anchor)
            last = x


def _ahead(ahead: Ahead, now: float) -> Iterator[Shape]:
    """What is foreseen: dotted from what is left now down to where it may end, with the span below."""
    start, first, last = (_x(now), _height(ahead.left)), _x(ahead.earliest), _x(ahead.latest)
    yield Path(polygon(start, (last, _RIBBON_BOTTOM), (first, _RIBBON_BOTTOM)), Role.LIQUID_UNKNOWN)
    yield _line(start, (first, _RIBBON_BOTTOM), 2)
    yield _line(start, (last, _RIBBON_BOTTOM), 2)
    bracket: list[Segment] = [Move(first, _RIBBON_BOTTOM), Line(first, _RIBBON_BOTTOM + 8)]
    bracket += [Line(last, _RIBBON_BOTTOM + 8), Line(last, _RIBBON_BOTTOM)]
    yield Path(tuple(bracket), Role.INK, stroke=2)
    at, anchor = (last, Anchor.END) if last > WIDTH - 80 else ((first + last) / 2, Anchor.MIDDLE)
    yield Text(at, _LOADS, ahead.words, _TYPE, anchor=anchor)


def _days(days: Sequence[Mark], bottom: float) -> Iterator[Shape]:
    yield _line((LEFT, bottom + 12), (WIDTH, bottom + 12), 2)
    for day in days:
        yield _line((_x(day.at), bottom + 12), (_x(day.at), bottom + 18), 1.2)
        yield Text(min(_x(day.at), WIDTH - 30), bottom + 34, day.words, _TYPE, anchor=Anchor.START)
