"""Paint a scene on a ReportLab canvas: black on white, the hazard frame red, textures as clipped vectors."""

import math

from reportlab.lib.colors import Color
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from labsys.drawing.scene import (
    Anchor,
    Close,
    Curve,
    Group,
    Line,
    Move,
    Path,
    Rect,
    Role,
    Scene,
    Segment,
    Shape,
    Text,
    polygon,
)
from labsys.drawing.texture import TEXTURES, Texture

_BLACK = Color(0, 0, 0)
_WHITE = Color(1, 1, 1)

COLOURS = {
    Role.INK: _BLACK,
    Role.PAPER: _WHITE,
    Role.LINE: Color(0.6, 0.6, 0.6),
    Role.LABEL: _BLACK,
    Role.LIQUID_PLENTY: _BLACK,
    Role.MODULE: _BLACK,
    Role.QUIET_ZONE: _WHITE,
    Role.HAZARD_FRAME: Color(0.82, 0.02, 0.1),
    Role.HAZARD_GROUND: _WHITE,
    Role.HAZARD_SYMBOL: _BLACK,
}


def paint(scene: Scene, canvas: Canvas, *, x: float, y: float, width: float, font: str) -> float:
    """Paint the scene with its top left corner at (x, y) and return the height it took.

    Parameters:
        scene: What to draw. [-]
        canvas: Where to draw; its state is left as it was found. [-]
        x: Left edge on the page. [pt]
        y: Top edge on the page, measured upwards from the foot as PDF does. [pt]
        width: Width on the page; the height follows in proportion. [pt]
        font: Name of a font the canvas knows, for the scene's texts. [-]
    Returns:
        The height taken. [pt]
    """
    scale = width / scene.width
    canvas.saveState()
    canvas.translate(x, y)
    canvas.scale(scale, -scale)
    for shape in scene.shapes:
        _paint(shape, canvas, font)
    canvas.restoreState()
    return scene.height * scale


def _paint(shape: Shape, canvas: Canvas, font: str) -> None:
    match shape:
        case Rect():
            right, foot = shape.x + shape.width, shape.y + shape.height
            outline = polygon((shape.x, shape.y), (right, shape.y), (right, foot), (shape.x, foot))
            _fill(outline, shape.role, canvas, font)
        case Path(stroke=None):
            _fill(shape.segments, shape.role, canvas, font)
        case Path(stroke=float() | int() as stroke):
            canvas.setStrokeColor(COLOURS[shape.role])
            canvas.setLineWidth(stroke)
            canvas.setLineCap(int(shape.rounded))
            canvas.setLineJoin(int(shape.rounded))
            canvas.drawPath(_outline(shape.segments, canvas), stroke=1, fill=0)
        case Text():
            _write(shape, canvas, font)
        case Group():
            canvas.saveState()
            canvas.translate(shape.x, shape.y)
            canvas.rotate(shape.turn)
            canvas.scale(shape.scale, shape.scale)
            for each in shape.shapes:
                _paint(each, canvas, font)
            canvas.restoreState()


def _fill(segments: tuple[Segment, ...], role: Role, canvas: Canvas, font: str) -> None:
    outline = _outline(segments, canvas)
    if role in TEXTURES:
        canvas.saveState()
        canvas.clipPath(outline, stroke=0, fill=0, fillMode=1)
        _lay(TEXTURES[role], _corners(segments), canvas, font)
        canvas.restoreState()
    else:
        canvas.setFillColor(COLOURS[role])
        canvas.drawPath(outline, stroke=0, fill=1, fillMode=1)


def _lay(texture: Texture, corners: list[tuple[float, float]], canvas: Canvas, font: str) -> None:
    """Lay the tiles that cover these corners, from the scene's origin as an SVG pattern does."""
    turn = math.radians(texture.turn)
    cos, sin = math.cos(turn), math.sin(turn)
    turned = [(x * cos + y * sin, y * cos - x * sin) for x, y in corners]
    columns, rows = (
        range(math.floor(min(axis) / texture.pitch), math.ceil(max(axis) / texture.pitch))
        for axis in zip(*turned, strict=True)
    )
    canvas.rotate(texture.turn)
    for row in rows:
        for column in columns:
            _paint(Group(texture.tile, x=column * texture.pitch, y=row * texture.pitch), canvas, font)


def _corners(segments: tuple[Segment, ...]) -> list[tuple[float, float]]:
    ends = [segment for segment in segments if not isinstance(segment, Close)]
    across, down = [end.x for end in ends], [end.y for end in ends]
    return [(x, y) for x in (min(across), max(across)) for y in (min(down), max(down))]


def _outline(segments: tuple[Segment, ...], canvas: Canvas) -> PDFPathObject:
    outline = canvas.beginPath()
    for segment in segments:
        match segment:
            case Move():
                outline.moveTo(segment.x, segment.y)
            case Line():
                outline.lineTo(segment.x, segment.y)
            case Curve():
                outline.curveTo(segment.x1, segment.y1, segment.x2, segment.y2, segment.x, segment.y)
            case Close():
                outline.close()
    return outline


def _write(text: Text, canvas: Canvas, font: str) -> None:
    canvas.saveState()
    canvas.translate(text.x, text.y)
    canvas.scale(1, -1)
    canvas.setFillColor(COLOURS[text.role])
    canvas.setFont(font, text.size)
    draw = {
        Anchor.START: canvas.drawString,
        Anchor.MIDDLE: canvas.drawCentredString,
        Anchor.END: canvas.drawRightString,
    }
    draw[text.anchor](0, 0, text.words)
    canvas.restoreState()
