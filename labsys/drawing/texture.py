"""The textures of a liquid: one square tile each, repeated from the scene's origin.

Solid means plenty, hatched near its end, crossed exhausted, dotted not known. They differ in black-and-white print, in
one red on black, and whatever the eyesight. Both painters lay the same tiles.
"""

from dataclasses import dataclass

from labsys.drawing.scene import Path, Rect, Role, Shape, ellipse, trace


@dataclass(frozen=True, slots=True)
class Texture:
    """A square tile of side `pitch`, laid without gaps after turning the whole plane by `turn` degrees."""

    pitch: float
    tile: tuple[Shape, ...]
    turn: float = 0


TEXTURES = {
    Role.LIQUID_NEAR_END: Texture(pitch=6, turn=45, tile=(Rect(0, 0, 3, 6, Role.LIQUID_PLENTY),)),
    Role.LIQUID_EXHAUSTED: Texture(
        pitch=7, tile=(Path(trace("M-1 -1 L8 8 M8 -1 L-1 8"), Role.LIQUID_PLENTY, stroke=1.6),)
    ),
    Role.LIQUID_UNKNOWN: Texture(pitch=6, tile=(Path(ellipse(x=3, y=3, rx=1.15, ry=1.15), Role.LIQUID_PLENTY),)),
}
