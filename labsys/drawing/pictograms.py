"""The nine hazard pictograms, drawn by us to the published shapes: black symbol, white ground, red frame on a point.

A scene is 100 units square and shows the whole diamond, corner to corner. The law speaks of the *side* of the square:
to print a side of 16 mm, paint `DIAGONAL * 16` mm wide.

Source:
    CLP Regulation (EC) 1272/2008, Annex V, for codes and shapes (from memory); Annex I 1.2.1 for the frame and sizes.
"""

import math
from enum import StrEnum
from functools import cache

from labsys.drawing.scene import Group, Path, Role, Scene, Segment, Shape, ellipse, polygon, trace

DIAGONAL = math.sqrt(2)  # width of the diamond over the side of the square

# Half the width, height of the white ground: the frame's band is what lies between it and 50.
GROUND = 43.5


class Pictogram(StrEnum):
    """The codes of the nine pictograms."""

    EXPLODING_BOMB = "GHS01"
    FLAME = "GHS02"
    FLAME_OVER_CIRCLE = "GHS03"
    GAS_CYLINDER = "GHS04"
    CORROSION = "GHS05"
    SKULL_AND_CROSSBONES = "GHS06"
    EXCLAMATION_MARK = "GHS07"
    HEALTH_HAZARD = "GHS08"
    ENVIRONMENT = "GHS09"


NAMES = {
    Pictogram.EXPLODING_BOMB: "exploding bomb",
    Pictogram.FLAME: "flame",
    Pictogram.FLAME_OVER_CIRCLE: "flame over circle",
    Pictogram.GAS_CYLINDER: "gas cylinder",
    Pictogram.CORROSION: "corrosion",
    Pictogram.SKULL_AND_CROSSBONES: "skull and crossbones",
    Pictogram.EXCLAMATION_MARK: "exclamation mark",
    Pictogram.HEALTH_HAZARD: "health hazard",
    Pictogram.ENVIRONMENT: "environment",
}


@cache
def pictogram(code: Pictogram) -> Scene:
    """Return one hazard pictogram.

    Parameters:
        code: Which of the nine. [-]
    Returns:
        A scene 100 wide and 100 high. [-]

    >>> pictogram(Pictogram("GHS05")).title
    'Hazard pictogram: corrosion (GHS05)'
    """
    outer, inner = _diamond(50), _diamond(GROUND)
    return Scene(
        kind="pictogram",
        width=100,
        height=100,
        title=f"Hazard pictogram: {NAMES[code]} ({code})",
        shapes=(
            Path(polygon(*outer), Role.HAZARD_FRAME),
            Path(polygon(*inner), Role.HAZARD_GROUND),
            Group(_SYMBOLS[code]()),
        ),
    )


def _diamond(half: float) -> tuple[tuple[float, float], ...]:
    return ((50, 50 - half), (50 + half, 50), (50, 50 + half), (50 - half, 50))


def _black(segments: str | tuple[Segment, ...]) -> Path:
    return Path(trace(segments) if isinstance(segments, str) else segments, Role.HAZARD_SYMBOL)


def _white(segments: str | tuple[Segment, ...]) -> Path:
    return Path(trace(segments) if isinstance(segments, str) else segments, Role.HAZARD_GROUND)


def _black_line(words: str, width: float) -> Path:
    return Path(trace(words), Role.HAZARD_SYMBOL, stroke=width, rounded=True)


def _white_line(words: str, width: float) -> Path:
    return Path(trace(words), Role.HAZARD_GROUND, stroke=width, rounded=True)


def _disc(x: float, y: float, r: float) -> Path:
    return _black(ellipse(x=x, y=y, rx=r, ry=r))


# A flame about 40 wide and 50 high, standing on (0, 0).
_FLAME = (
    _black(
        "M-8 0 C-16 -2 -21 -10 -19.5 -19 C-18.8 -23.5 -16 -27 -14.5 -31.5 C-12.8 -29 -11.8 -26.5 -11.2 -23.5"
        " C-11 -33 -4.5 -39 -5.5 -50 C2 -46 7 -39 6.6 -30.5 C8.8 -32.6 10 -35.5 9.8 -39 C14.8 -34.5 16.6 -29 16.2 -23.5"
        " C17.8 -24.8 18.6 -26.6 18.8 -28.6 C22.5 -18 20 -4.5 8.5 0 Z"
    ),
    _white(
        "M-4.2 -2 C-9.4 -5 -10.2 -10.6 -7.2 -15.4 C-6.6 -13 -5.6 -11.4 -4 -10.4 C-4.4 -16.4 -0.6 -19.6 -0.6 -25.6"
        " C3.8 -21.6 6.2 -16.6 5.4 -11 C6.8 -12 7.6 -13.4 7.8 -15 C11 -10.4 9.6 -4.6 5 -2 Z"
    ),
)


def _flame() -> tuple[Shape, ...]:
    return (Group(_FLAME, x=50, y=63, scale=0.95), _black("M30.5 66 H69.5 V71 H30.5 Z"))


def _flame_over_circle() -> tuple[Shape, ...]:
    return (
        Group(_FLAME, x=50, y=46, scale=0.65),
        _disc(50, 55, 12.6),
        _white(ellipse(x=50, y=55, rx=8.2, ry=8.2)),
        _black("M34.5 71 H65.5 V75 H34.5 Z"),
    )


def _gas_cylinder() -> tuple[Shape, ...]:
    body = _black(
        "M-27 -6.5 C-27 -8 -26 -9 -24.5 -9 H12 C16.5 -9 19.5 -5.2 21.5 -3.4 H24 V-4.8 H29 V4.8 H24 V3.4 H21.5"
        " C19.5 5.2 16.5 9 12 9 H-24.5 C-26 9 -27 8 -27 6.5 Z"
    )
    shine = _white_line("M-21 -4.4 H10.5", 2)
    return (Group((body, shine), x=49.4, y=51, turn=-32),)


def _corrosion() -> tuple[Shape, ...]:
    bar = _black("M25.5 60.6 H30.6 L31.8 63.6 L33.4 62 L35 65 L36.8 61.8 L38.4 63.4 L39.6 60.6 H47 V67 H25.5 Z")
    hand = _black(
        "M75 60.4 H69.8 L68.4 63.4 L66.8 61.8 L65 64.8 L63.2 61.8 L61.6 63 L60.6 59.8 C57.6 60 55 61 52.2 62.8"
        " C50.6 64 51.8 66 53.6 65.4 L57.8 63.8 L51.8 67.2 C50.4 68.4 51.6 70.4 53.6 69.8 L58.6 67.4 L55 70.4"
        " C54 71.6 55.2 73.2 57 72.6 C61.4 70.4 63.4 70.6 67 69.4 C70 68.4 72 66.8 75 66 Z"
    )
    drop = _black("M0 -3 C1.2 -1 1.8 0 1.8 1 C1.8 3.4 -1.8 3.4 -1.8 1 C-1.8 0 -1.2 -1 0 -3 Z")
    drops = (Group((drop,), x=x, y=y) for x in (35.1, 64.9) for y in (47, 55))
    fumes = (
        _black_line(f"M{x} 58.4 C{x - 2.4} 56.4 {x + 2.4} 54 {x} 52 C{x - 2} 50.4 {x + 1.6} 48.8 {x} 47.2", 1.5)
        for x in (29.6, 40.6, 59.4, 70.4)
    )
    return (
        Group(_tube(liquid=1), x=39.2, y=32, turn=-36),
        Group(_tube(liquid=-1), x=60.8, y=32, turn=216),
        *drops,
        *fumes,
        bar,
        hand,
    )


def _tube(*, liquid: int) -> tuple[Shape, ...]:
    """A test tube lying along x, its mouth to the left, the liquid below (1) or above (-1) its middle."""
    return (
        _black_line("M-10 -4.6 H6 C12.4 -4.6 12.4 4.6 6 4.6 H-10", 2.1),
        _black_line("M-10.4 -6 V6", 2.6),
        _black(f"M-10 {4 * liquid} H6 C10 {4 * liquid} 10.8 {2 * liquid} 10.4 {-1.6 * liquid} L-10 {2.6 * liquid} Z"),
    )


def _skull_and_crossbones() -> tuple[Shape, ...]:
    bone = (_black_line("M-17.5 0 H17.5", 5), *(_disc(x, y, 3.3) for x in (-19, 19) for y in (-2.7, 2.7)))
    skull = (
        _black(
            "M50 17.5 C60.5 17.5 66.5 24.5 66.5 33 C66.5 37 65.6 38.6 65.6 41 C65.6 43.6 66.4 44.4 65.6 46"
            " C64.4 48.2 60.6 47.2 59.4 49 C58.6 50.4 59.4 53.4 58.2 55 C56.4 57.2 43.6 57.2 41.8 55"
            " C40.6 53.4 41.4 50.4 40.6 49 C39.4 47.2 35.6 48.2 34.4 46 C33.6 44.4 34.4 43.6 34.4 41"
            " C34.4 38.6 33.5 37 33.5 33 C33.5 24.5 39.5 17.5 50 17.5 Z"
        ),
        _white("M37.4 36.2 C38.6 33.4 46.4 33.6 47.2 36.6 C48 39.6 46 43 43 43.2 C39.6 43.4 36.2 39.4 37.4 36.2 Z"),
        _white("M62.6 36.2 C61.4 33.4 53.6 33.6 52.8 36.6 C52 39.6 54 43 57 43.2 C60.4 43.4 63.8 39.4 62.6 36.2 Z"),
        _white(
            "M50 41.6 C51.6 43.4 52.8 45.6 52.2 47 C51.6 48 50.6 47.2 50 46.4 C49.4 47.2 48.4 48 47.8 47"
            " C47.2 45.6 48.4 43.4 50 41.6 Z"
        ),
        *(_white_line(f"M{x} 51 V54", 1) for x in (45.2, 48.4, 51.6, 54.8)),
    )
    return (Group(bone, x=50, y=61.4, turn=18), Group(bone, x=50, y=61.4, turn=-18), *skull)


def _exclamation_mark() -> tuple[Shape, ...]:
    stroke = _black(
        "M50 18.5 C54.6 18.5 57.4 22 57.2 26.4 L54.8 56 C54.4 59.6 52.6 61.4 50 61.4 C47.4 61.4 45.6 59.6 45.2 56"
        " L42.8 26.4 C42.6 22 45.4 18.5 50 18.5 Z"
    )
    return (stroke, _disc(50, 71.6, 5.9))


def _health_hazard() -> tuple[Shape, ...]:
    head = _black(ellipse(x=50, y=24.4, rx=7, ry=8.4))
    torso = _black(
        "M46.6 30 V35.6 C46 38.4 41 39.4 37.4 40.8 C33.4 42.4 31.8 45.4 31.2 49 L28.6 63 L34.6 65.6 L38.4 53"
        " V77 H61.6 V53 L65.4 65.6 L71.4 63 L68.8 49 C68.2 45.4 66.6 42.4 62.6 40.8 C59 39.4 54 38.4 53.4 35.6 V30 Z"
    )
    reach = (13.5, 3.2, 8.5, 3.2) * 4  # long ray, waist, short ray, waist
    burst = [
        (50 + far * math.cos(step * math.pi / 8), 56 + far * math.sin(step * math.pi / 8))
        for step, far in enumerate(reach)
    ]
    return (head, torso, _white(polygon(*burst)))


def _environment() -> tuple[Shape, ...]:
    trunk = _black("M33.4 65 C37.6 61 38.2 54 38 46 L37.6 28 H40.6 L42 44 C42.4 54 43 61 47.4 65 Z")
    branches = (
        ("M40 53 L29 43.4 L24.6 43", 2.2),
        ("M31 45 L29 37.4", 1.7),
        ("M40.6 47 L50.6 37 L56.6 36", 2.2),
        ("M48 39.4 L48.6 31", 1.7),
        ("M39.4 40 L32 31.4", 1.8),
        ("M39.4 31 L39 21.6", 1.8),
        ("M40 35 L45.2 25", 1.7),
    )
    ground = _black("M22.6 64.6 C29 62.6 38 62.6 45.4 63.8 C47 68.4 53 71.4 63.4 71.8 L59.6 76 H36.4 Z")
    fish = (
        _black("M-14 0.6 C-8.6 -6.8 2 -7 9.4 -1.4 L15.4 -6.8 C14 -2.2 14 2.2 15.4 6.8 L9.4 1.4 C2 7 -8.6 7 -14 0.6 Z"),
        _white(ellipse(x=-8.8, y=-1, rx=1.4, ry=1.4)),
        _white_line("M-4.6 -4 C-3 -1.4 -3 1.4 -4.6 4", 1.1),
    )
    return (
        trunk,
        *(_black_line(words, width) for words, width in branches),
        ground,
        Group(fish, x=62, y=61.4, scale=0.92, turn=-16),
    )


def _exploding_bomb() -> tuple[Shape, ...]:
    ball = (_disc(0, 0, 12.4), _white_line("M-7.4 1.4 C-7.6 -3.4 -4.6 -6.8 -0.6 -7.2", 1.8))
    rays = ((-172, 23), (-150, 21), (-128, 27), (-108, 22), (-90, 33), (-70, 24), (-52, 34), (-33, 24), (-15, 31))
    blast = [
        Group((_black(f"M15 -1.7 L{far} 0 L15 1.7 Z"),), turn=degrees) for degrees, far in (*rays, (6, 22), (30, 20))
    ]
    shard = _black("M-2.4 -1.4 L0.8 -2.6 L2.6 0.6 L-0.6 2.4 Z")
    flights = ((-141, 27.5, 1), (-110, 30, 1.1), (-80, 29, 0.9), (-61, 31, 1.2), (-24, 29, 1.1), (-42, 27, 0.8))
    shards = [
        Group((Group((shard,), x=far, scale=size, turn=3 * degrees),), turn=degrees) for degrees, far, size in flights
    ]
    return (Group((*ball, *blast, *shards), x=45, y=60, scale=1.12),)


_SYMBOLS = {
    Pictogram.EXPLODING_BOMB: _exploding_bomb,
    Pictogram.FLAME: _flame,
    Pictogram.FLAME_OVER_CIRCLE: _flame_over_circle,
    Pictogram.GAS_CYLINDER: _gas_cylinder,
    Pictogram.CORROSION: _corrosion,
    Pictogram.SKULL_AND_CROSSBONES: _skull_and_crossbones,
    Pictogram.EXCLAMATION_MARK: _exclamation_mark,
    Pictogram.HEALTH_HAZARD: _health_hazard,
    Pictogram.ENVIRONMENT: _environment,
}
