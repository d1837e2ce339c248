"""The graduate: one gauge for what a vessel holds, filled to its true level; and the plain bar for shares."""

import math
from enum import StrEnum
from functools import lru_cache

from labsys.drawing.scene import Path, Rect, Role, Scene, Shape, Text, trace


class Liquid(StrEnum):
    """How good a liquid is, shown by texture and said in words."""

    PLENTY = "plenty"
    NEAR_END = "near its end"
    EXHAUSTED = "exhausted"
    UNKNOWN = "not known"


ROLE_OF = {
    Liquid.PLENTY: Role.LIQUID_PLENTY,
    Liquid.NEAR_END: Role.LIQUID_NEAR_END,
    Liquid.EXHAUSTED: Role.LIQUID_EXHAUSTED,
    Liquid.UNKNOWN: Role.LIQUID_UNKNOWN,
}

# Inside of the glass, in scene units: the liquid's rectangle is read off these.
LEFT, RIGHT, TOP, BOTTOM = 8.0, 38.0, 10.0, 122.0

_BAR_WIDTH, _BAR_HEIGHT = 160.0, 8.0
_MOST_NUMBERED = 6
_TYPE_SIZE = 9.0
_ROUNDING = 1e-9  # a full vessel's own mark must not be lost to binary fractions


class LevelOutOfRange(ValueError):
    """A level is below nothing or above its vessel's capacity, or the capacity is not positive."""

    def __init__(self, level_ml: float, capacity_ml: float) -> None:
        super().__init__(f"a level of {level_ml} mL does not fit a capacity of {capacity_ml} mL")
        self.level_ml = level_ml
        self.capacity_ml = capacity_ml


class ShareOutOfRange(ValueError):
    """A share is not between 0 and 1."""

    def __init__(self, share: float) -> None:
        super().__init__(f"a share lies between 0 and 1, not {share}")
        self.share = share


def scale_marks(*, capacity_ml: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the numbered marks and the marks between them that a vessel of this capacity carries.

    Numbered marks stand 1, 2 or 5 times a power of ten apart, at most six of them, with one mark half way between.

    Parameters:
        capacity_ml: What the vessel holds when full, above 0. [mL]
    Returns:
        Numbered marks and the marks between, rising, neither with 0. [mL]
    Raises:
        LevelOutOfRange: The capacity is not positive.
    Source:
        Common practice, no source.

    >>> scale_marks(capacity_ml=2500)[0]
    (500.0, 1000.0, 1500.0, 2000.0, 2500.0)
    """
    if not capacity_ml > 0:
        raise LevelOutOfRange(0, capacity_ml)
    decade = 10.0 ** math.floor(math.log10(capacity_ml))
    steps = (lead * power for power in (decade / 10, decade) for lead in (1, 2, 5))
    half = next(step for step in steps if capacity_ml / step <= _MOST_NUMBERED + _ROUNDING) / 2
    marks = [(index, index * half) for index in range(1, math.floor(capacity_ml / half + _ROUNDING) + 1)]
    return tuple(at for index, at in marks if index % 2 == 0), tuple(at for index, at in marks if index % 2)


def graduate(*, level_ml: float, capacity_ml: float, liquid: Liquid, title: str | None = None) -> Scene:
    """Return a measuring cylinder with its scale, filled to level over capacity.

    Parameters:
        level_ml: What the vessel holds now, from 0 to the capacity. [mL]
        capacity_ml: What it holds when full, above 0. [mL]
        liquid: How good the liquid is; chooses the texture. [-]
        title: What to say to whoever cannot see it; volumes and state if not given. [-]
    Returns:
        A scene 64 wide and 132 high. [-]
    Raises:
        LevelOutOfRange: The level does not fit the vessel.
    """
    if not capacity_ml > 0 or not 0 <= level_ml <= capacity_ml:
        raise LevelOutOfRange(level_ml, capacity_ml)
    if title is None:
        title = f"{_said(level_ml)} of {_said(capacity_ml)}, {liquid}"
    return _filled(level_ml, capacity_ml, liquid, title)


@lru_cache(maxsize=512)  # the same few vessels stand on page after page
def _filled(level_ml: float, capacity_ml: float, liquid: Liquid, title: str) -> Scene:
    surface = _height_of(level_ml, capacity_ml)
    numbered, between = scale_marks(capacity_ml=capacity_ml)
    shapes: list[Shape] = []
    if level_ml:
        shapes.append(Rect(LEFT, surface, RIGHT - LEFT, BOTTOM - surface, ROLE_OF[liquid]))
        shapes.append(_stroke(f"M{LEFT} {surface} H{RIGHT}", 1.4))
    for length, marks in ((5.0, between), (10.0, numbered)):
        for mark in marks:
            over = liquid if level_ml >= mark else None
            shapes += _mark(_height_of(mark, capacity_ml), length=length, over=over)
    shapes += _glass()
    shapes += _numbers(numbered, capacity_ml)
    return Scene(kind="graduate", width=64, height=132, title=title, shapes=tuple(shapes))


def life_bar(share_left: float | None) -> Scene:
    """Return a plain ruled bar of the share that is left; dotted throughout where it is not known.

    Parameters:
        share_left: From 0 to 1, or None where nobody knows. [-]
    Returns:
        A scene 160 wide and 8 high that may be stretched. [-]
    Raises:
        ShareOutOfRange: The share is not between 0 and 1.
    """
    if share_left is None:
        return _bar(Rect(0, 0, _BAR_WIDTH, _BAR_HEIGHT, Role.LIQUID_UNKNOWN), title="Life left: not known")
    return share_bar(share_left, of="Life left")


def share_bar(share: float, *, of: str) -> Scene:
    """Return a plain ruled bar of a share.

    Parameters:
        share: From 0 to 1. [-]
        of: What it is a share of, for those who do not see it. [-]
    Returns:
        A scene 160 wide and 8 high that may be stretched. [-]
    Raises:
        ShareOutOfRange: The share is not between 0 and 1.
    """
    if not 0 <= share <= 1:
        raise ShareOutOfRange(share)
    title = f"{of}: {share:.0%}".replace("%", " %")
    return _bar(Rect(0, 0, _BAR_WIDTH * share, _BAR_HEIGHT, Role.INK), title=title)


def _bar(inside: Rect, *, title: str) -> Scene:
    frame = _stroke("M0.5 0.5 H159.5 V7.5 H0.5 Z", 1)
    return Scene(
        kind="life-bar", width=_BAR_WIDTH, height=_BAR_HEIGHT, title=title, shapes=(inside, frame), stretches=True
    )


def _height_of(volume_ml: float, capacity_ml: float) -> float:
    return BOTTOM - (BOTTOM - TOP) * volume_ml / capacity_ml


def _glass() -> list[Shape]:
    return [_stroke(f"M3 3 L{LEFT} 6 V{BOTTOM} H{RIGHT} V6 L41 4.5", 2), _stroke("M2 126.5 H44", 3)]


def _mark(at: float, *, length: float, over: Liquid | None) -> list[Shape]:
    """One mark of the scale: cut out of solid liquid, or inked on a cleared line so that no texture hides it."""
    words = f"M{RIGHT - length} {at} H{RIGHT}"
    if over is Liquid.PLENTY:
        return [_stroke(words, 1.2, Role.PAPER)]
    cleared = [] if over is None else [_stroke(words, 3.2, Role.PAPER)]
    return [*cleared, _stroke(words, 1.1)]


def _numbers(marks: tuple[float, ...], capacity_ml: float) -> list[Shape]:
    unit, in_ml = ("L", 1000) if capacity_ml >= 1000 else ("mL", 1)
    decimals = max(len(f"{mark / in_ml:g}".partition(".")[2]) for mark in marks)
    numbers = [
        Text(42, _height_of(mark, capacity_ml) + 3.2, f"{mark / in_ml:.{decimals}f}", _TYPE_SIZE) for mark in marks
    ]
    return [*numbers, Text(50, 130.5, unit, _TYPE_SIZE)]


def _said(volume_ml: float) -> str:
    return f"{volume_ml / 1000:.4g} L" if volume_ml >= 1000 else f"{volume_ml:.4g} mL"


def _stroke(words: str, width: float, role: Role = Role.INK) -> Path:
    return Path(trace(words), role, stroke=width)
