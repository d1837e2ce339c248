"""The scene: a small immutable drawing made of shapes that say what they are for, never what colour they have.

A scene is measured in its own units, x to the right and y downwards, from (0, 0) at the top left. Painters decide how
large a unit is and what each role looks like: `svg.py` by CSS classes, `pdf.py` in black on white.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    """What a shape is for. Every painter knows every role."""

    INK = "ink"
    PAPER = "paper"
    LINE = "line"
    LABEL = "label"
    LIQUID_PLENTY = "liquid-plenty"
    LIQUID_NEAR_END = "liquid-near-end"
    LIQUID_EXHAUSTED = "liquid-exhausted"
    LIQUID_UNKNOWN = "liquid-unknown"
    MODULE = "module"
    QUIET_ZONE = "quiet-zone"
    HAZARD_FRAME = "hazard-frame"
    HAZARD_GROUND = "hazard-ground"
    HAZARD_SYMBOL = "hazard-symbol"


class Anchor(StrEnum):
    """Which end of a text stands at its x."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True, slots=True)
class Move:
    """Lift the pen and set it down at a point."""

    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Line:
    """Draw straight to a point."""

    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Curve:
    """Draw a cubic Bézier curve to (x, y), steered by two control points."""

    x1: float
    y1: float
    x2: float
    y2: float
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Close:
    """Draw straight back to the last move."""


Segment = Move | Line | Curve | Close


@dataclass(frozen=True, slots=True)
class Rect:
    """A filled upright rectangle."""

    x: float
    y: float
    width: float
    height: float
    role: Role


@dataclass(frozen=True, slots=True)
class Path:
    """A filled outline (non-zero winding), or with a `stroke` width a drawn line."""

    segments: tuple[Segment, ...]
    role: Role
    stroke: float | None = None
    rounded: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text on its baseline."""

    x: float
    y: float
    words: str
    size: float
    role: Role = Role.LABEL
    anchor: Anchor = Anchor.START


@dataclass(frozen=True, slots=True)
class Group:
    """Shapes drawn elsewhere: scaled first, then turned clockwise by degrees, then moved to (x, y)."""

    shapes: tuple[Shape, ...]
    x: float = 0
    y: float = 0
    scale: float = 1
    turn: float = 0


Shape = Rect | Path | Text | Group


@dataclass(frozen=True, slots=True)
class Scene:
    """A finished drawing.

    `kind` names the drawing for style sheets ("graduate"); `title` says what it shows to whoever cannot see it;
    `stretches` allows a painter to pull it to a shape of its own, which only a plain bar can bear.
    """

    kind: str
    width: float
    height: float
    title: str
    shapes: tuple[Shape, ...]
    stretches: bool = False


class UnreadablePath(ValueError):
    """A path was written in something other than absolute M, L, H, V, C and Z."""

    def __init__(self, words: str) -> None:
        super().__init__(f"cannot read this path: {words!r}")
        self.words = words


_COMMANDS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "Z": 0}
_STEP = re.compile(r"\s*([A-Z])([^A-Za-z]*)")


def trace(words: str) -> tuple[Segment, ...]:
    """Return the segments of a path written in absolute SVG path commands M, L, H, V, C and Z.

    Raises:
        UnreadablePath: Another command, or a wrong number of figures after one.

    >>> trace("M0 0 H4 Z")
    (Move(x=0.0, y=0.0), Line(x=4.0, y=0.0), Close())
    """
    if _STEP.sub("", words).strip():
        raise UnreadablePath(words)
    return tuple(_segments(words))


def _segments(words: str) -> Iterator[Segment]:
    x = y = 0.0
    for command, written in _STEP.findall(words):
        figures = [float(figure) for figure in written.replace(",", " ").split()]
        count = _COMMANDS.get(command, -1)
        if count == 0 and not figures:
            yield Close()
            continue
        if count < 1 or not figures or len(figures) % count:
            raise UnreadablePath(words)
        for start in range(0, len(figures), count):
            match command, figures[start : start + count]:
                case "M", [x, y]:
                    yield Move(x, y)
                case "C", [x1, y1, x2, y2, x, y]:
                    yield Curve(x1, y1, x2, y2, x, y)
                case "H", [x]:
                    yield Line(x, y)
                case "V", [y]:
                    yield Line(x, y)
                case "L", [x, y]:
                    yield Line(x, y)


_ROUND = 0.5522847498  # control distance that lets four cubic curves pass for a circle


def ellipse(*, x: float, y: float, rx: float, ry: float) -> tuple[Segment, ...]:
    """Return a closed ellipse about (x, y), drawn clockwise from its right-hand end."""
    kx, ky = rx * _ROUND, ry * _ROUND
    return (
        Move(x + rx, y),
        Curve(x + rx, y + ky, x + kx, y + ry, x, y + ry),
        Curve(x - kx, y + ry, x - rx, y + ky, x - rx, y),
        Curve(x - rx, y - ky, x - kx, y - ry, x, y - ry),
        Curve(x + kx, y - ry, x + rx, y - ky, x + rx, y),
        Close(),
    )


def polygon(*corners: tuple[float, float]) -> tuple[Segment, ...]:
    """Return the closed outline through these corners."""
    first, *rest = corners
    return (Move(*first), *(Line(*corner) for corner in rest), Close())
