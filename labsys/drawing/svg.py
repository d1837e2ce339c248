"""Paint a scene as inline SVG: a class for each role, no style attribute, no script, no outside reference.

The rules for the classes stand in `static/drawing.css`, on the tokens of the three looks. Figures are rounded to a
thousandth of a unit, so equal scenes give equal text.
"""

import re
from functools import lru_cache

from markupsafe import Markup, escape

from labsys.drawing import texture
from labsys.drawing.scene import Close, Curve, Group, Line, Move, Path, Rect, Role, Scene, Segment, Shape, Text

_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")


class BadDrawingName(ValueError):
    """A drawing's name cannot begin an HTML id."""

    def __init__(self, name: str) -> None:
        super().__init__(f"a drawing's name is a letter, then letters, digits, '-' or '_': {name!r}")
        self.name = name


def to_svg(scene: Scene, *, name: str) -> Markup:
    """Return the scene as one inline `<svg>` element.

    Parameters:
        scene: What to draw. [-]
        name: Begins the ids inside, so it must be unique on the page ("bath-41"). [-]
    Returns:
        Markup that needs no further escaping. [-]
    Raises:
        BadDrawingName: The name cannot begin an id.
    """
    if not _NAME.fullmatch(name):
        raise BadDrawingName(name)
    return _painted(scene, name)


@lru_cache(maxsize=512)  # the same few vessels stand on page after page
def _painted(scene: Scene, name: str) -> Markup:
    width, height = figure(scene.width), figure(scene.height)
    pull = ' preserveAspectRatio="none"' if scene.stretches else ""
    title = escape(scene.title)
    parts = [
        f'<svg class="drawing drawing-{escape(scene.kind)}" viewBox="0 0 {width} {height}" width="{width}"'
        f' height="{height}"{pull} role="img" aria-label="{title}"><title>{title}</title>'
    ]
    used = sorted({shape.role for shape in _flat(scene.shapes) if shape.role in texture.TEXTURES})
    if used:
        parts += ["<defs>", *(_pattern(role, name) for role in used), "</defs>"]
    parts += [_paint(shape, name) for shape in scene.shapes]
    parts.append("</svg>")
    return Markup("".join(parts))  # noqa: S704 - every word that came from outside was escaped above


def figure(value: float) -> str:
    """Return a coordinate as SVG writes it: at most three decimals, no trailing zeros, no minus zero.

    >>> figure(2.50), figure(-0.0001), figure(1 / 3)
    ('2.5', '0', '0.333')
    """
    written = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if written == "-0" else written


def path_data(segments: tuple[Segment, ...]) -> str:
    """Return segments as the text of a path's `d`.

    >>> path_data((Move(0, 0), Line(4, 0), Line(4, 2.5), Close()))
    'M0 0H4V2.5Z'
    """
    words: list[str] = []
    x = y = ""
    for segment in segments:
        match segment:
            case Move():
                x, y = figure(segment.x), figure(segment.y)
                words.append(f"M{x} {y}")
            case Line():
                was_x, was_y, x, y = x, y, figure(segment.x), figure(segment.y)
                words.append(f"H{x}" if y == was_y else f"V{y}" if x == was_x else f"L{x} {y}")
            case Curve():
                x, y = figure(segment.x), figure(segment.y)
                steer = " ".join(map(figure, (segment.x1, segment.y1, segment.x2, segment.y2)))
                words.append(f"C{steer} {x} {y}")
            case Close():
                words.append("Z")
    return "".join(words)


def _flat(shapes: tuple[Shape, ...]) -> list[Rect | Path | Text]:
    flat: list[Rect | Path | Text] = []
    for shape in shapes:
        flat += _flat(shape.shapes) if isinstance(shape, Group) else [shape]
    return flat


def _paint(shape: Shape, name: str) -> str:
    match shape:
        case Rect():
            place = " ".join(f'{key}="{figure(getattr(shape, key))}"' for key in ("x", "y", "width", "height"))
            return f"<rect {_filled(shape.role, name)} {place}/>"
        case Path(stroke=None):
            return f'<path {_filled(shape.role, name)} d="{path_data(shape.segments)}"/>'
        case Path(stroke=float() | int() as stroke):
            ends = " d-rounded" if shape.rounded else ""
            return (
                f'<path class="d-{shape.role} d-stroke{ends}" stroke-width="{figure(stroke)}"'
                f' d="{path_data(shape.segments)}"/>'
            )
        case Text():
            return (
                f'<text class="d-{shape.role} d-fill" x="{figure(shape.x)}" y="{figure(shape.y)}"'
                f' font-size="{figure(shape.size)}" text-anchor="{shape.anchor}">{escape(shape.words)}</text>'
            )
        case Group():
            inside = "".join(_paint(each, name) for each in shape.shapes)
            return f"<g{_placed(shape)}>{inside}</g>"
    raise AssertionError(shape)


def _filled(role: Role, name: str) -> str:
    if role in texture.TEXTURES:
        return f'fill="url(#{name}-{role})"'
    return f'class="d-{role} d-fill"'


def _placed(group: Group) -> str:
    moves = []
    if group.x or group.y:
        moves.append(f"translate({figure(group.x)} {figure(group.y)})")
    if group.turn:
        moves.append(f"rotate({figure(group.turn)})")
    if group.scale != 1:
        moves.append(f"scale({figure(group.scale)})")
    return f' transform="{" ".join(moves)}"' if moves else ""


def _pattern(role: Role, name: str) -> str:
    woven = texture.TEXTURES[role]
    side = figure(woven.pitch)
    turn = f' patternTransform="rotate({figure(woven.turn)})"' if woven.turn else ""
    inside = "".join(_paint(shape, name) for shape in woven.tile)
    return (
        f'<pattern id="{name}-{role}" width="{side}" height="{side}" patternUnits="userSpaceOnUse"{turn}>'
        f"{inside}</pattern>"
    )
