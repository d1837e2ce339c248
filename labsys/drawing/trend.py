"""A trend: readings in the order of time, joined by a line, with the limits they have to keep within."""

from collections.abc import Sequence
from dataclasses import dataclass

from labsys.drawing.scene import Anchor, Line, Move, Path, Role, Scene, Segment, Shape, Text, ellipse

WIDTH, HEIGHT = 360.0, 128.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 8.0, 312.0, 18.0, 100.0
_TYPE = 12.0
_DOT, _GAP = 2.0, 4.0
_RADIUS = 4.0


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: when, from 0 to 1 of the time drawn; its value; and how it is written."""

    at: float
    value: float
    words: str


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit across the whole drawing, with what it says."""

    value: float
    words: str


def trend(*, readings: Sequence[Reading], bounds: Sequence[Bound], first: str, last: str, title: str) -> Scene:
    """Return the readings joined by a line, the limits dotted across, and the first and the last day below.

    Parameters:
        readings: In the order of time, at least one. [-]
        bounds: The limits, any number. [-]
        first: The day at the left end. [-]
        last: The day at the right end. [-]
        title: What it says to whoever cannot see it. [-]
    Returns:
        A scene 360 wide and 128 high. [-]
    """
    values = [reading.value for reading in readings] + [bound.value for bound in bounds]
    low, high = min(values), max(values)
    room = (high - low) * 0.15 or abs(high) * 0.1 or 1

    def height_of(value: float) -> float:
        return _BOTTOM - (_BOTTOM - _TOP) * (value - low + room) / (high - low + 2 * room)

    points = [(_LEFT + (_RIGHT - _LEFT) * reading.at, height_of(reading.value)) for reading in readings]
    shapes: list[Shape] = []
    for bound in bounds:
        at = height_of(bound.value)
        shapes.append(dotted(_LEFT, WIDTH, at))
        shapes.append(Text(_LEFT, at - 4, bound.words, _TYPE))
    joined: list[Segment] = [Move(*points[0]), *(Line(*point) for point in points[1:])]
    shapes.append(Path(tuple(joined), Role.INK, stroke=1.6))
    shapes += [shape for x, y in points for shape in dot(x, y)]
    shapes.append(Text(points[-1][0] + 8, points[-1][1] + 4, readings[-1].words, _TYPE))
    shapes.append(Path((Move(_LEFT, _BOTTOM + 6), Line(WIDTH, _BOTTOM + 6)), Role.INK, stroke=1.2))
    shapes.append(Text(_LEFT, _BOTTOM + 22, first, _TYPE))
    if last != first:
        shapes.append(Text(_RIGHT, _BOTTOM + 22, last, _TYPE, anchor=Anchor.MIDDLE))
    return Scene(kind="trend", width=WIDTH, height=HEIGHT, title=title, shapes=tuple(shapes))


def dotted(start: float, end: float, y: float) -> Path:
    """A dotted line across."""
    segments: list[Segment] = []
    x = start
    while x < end:
        segments += [Move(x, y), Line(min(x + _DOT, end), y)]
        x += _DOT + _GAP
    return Path(tuple(segments), Role.INK, stroke=1.2)


def dot(x: float, y: float, *, radius: float = _RADIUS) -> tuple[Shape, Shape]:
    """A ring that a line runs through."""
    ring = ellipse(x=x, y=y, rx=radius, ry=radius)
    return Path(ring, Role.PAPER), Path(ring, Role.INK, stroke=1.6)
