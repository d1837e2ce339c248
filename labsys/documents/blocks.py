"""Building blocks every document is made of: words, facts, cautions, ruled tables, drawings, the code to scan back.

Words handed in are plain text: they are escaped here and made printable, so no caller writes markup.
"""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import islice
from typing import Any, Literal

from reportlab.lib.colors import Color
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, LongTable, Paragraph, Spacer, Table

from labsys.documents.fonts import BOLD, MEDIUM, REGULAR, printable
from labsys.documents.page import BLACK, GREY, RULE, Issue
from labsys.drawing.pdf import paint
from labsys.drawing.qr import qr_code
from labsys.drawing.scene import Scene

Align = Literal[0, 1, 2]  # the library's own numbers for left, centre and right
Command = tuple[str, tuple[int, int], tuple[int, int], *tuple[Any, ...]]

_ENDLESS = 10_000.0  # [pt]
LINES_AT_ONCE = 16  # three such rows and a head fit the lowest page, a sheet on its long side
ROWS_AT_ONCE = 500  # one giant table is laid out several times slower than the same rows in pieces


def style(
    font: str, size: float, *, leading: float = 1.4, colour: Color = BLACK, align: Align = TA_LEFT
) -> ParagraphStyle:
    """Return a style of type; `leading` is the distance between lines over the size. [-]"""
    return ParagraphStyle(
        f"{font} {size}",
        fontName=font,
        bulletFontName=font,  # unused, but its default is a typeface we do not embed
        fontSize=size,
        leading=leading * size,
        textColor=colour,
        alignment=align,
    )


TITLE = style(BOLD, 24, leading=1.17)
LEAD = style(REGULAR, 11.5, colour=GREY)
HEADING = style(BOLD, 14, leading=1.28)
SAYING = style(MEDIUM, 11)
BODY = style(REGULAR, 9.5)
CELL, CELL_RIGHT = style(REGULAR, 8.5, leading=1.25), style(REGULAR, 8.5, leading=1.25, align=TA_RIGHT)
SUM, SUM_RIGHT = style(BOLD, 8.5, leading=1.25), style(BOLD, 8.5, leading=1.25, align=TA_RIGHT)
NOTE, NOTE_RIGHT = style(REGULAR, 8, colour=GREY), style(REGULAR, 8, colour=GREY, align=TA_RIGHT)

# A table cell left alone would name Helvetica, which is not embedded.
ALL = (0, 0), (-1, -1)
_FACE: Command = ("FONTNAME", *ALL, REGULAR)
_EDGE = 2.4 * mm
_BUTT = 0  # square line ends; the default is round

_TIGHT: list[Command] = [_FACE, *((f"{side}PADDING", *ALL, 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM"))]

_BOXED: list[Command] = [
    _FACE,
    ("BOX", *ALL, 1.2, BLACK, _BUTT),
    ("LEFTPADDING", *ALL, 4 * mm),
    ("RIGHTPADDING", *ALL, 4 * mm),
    ("TOPPADDING", *ALL, 1.8 * mm),
    ("BOTTOMPADDING", *ALL, 2.4 * mm),
]

_RULED: list[Command] = [
    _FACE,
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LINEBELOW", (0, 0), (-1, 0), 1, BLACK, _BUTT),
    ("LINEBELOW", (0, 1), (-1, -1), 0.4, RULE, _BUTT),
    ("LEFTPADDING", (0, 0), (-1, -1), 1.6 * mm),
    ("RIGHTPADDING", (0, 0), (-1, -1), 1.6 * mm),
    ("TOPPADDING", (0, 0), (-1, -1), 0.5 * mm),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0.9 * mm),
    ("NOSPLIT", (0, 0), (-1, 2)),  # no head without a row or two, no sum without what it adds up
    ("NOSPLIT", (0, -2), (-1, -1)),
]


def words(text: str, style: ParagraphStyle = BODY) -> Paragraph:
    """Return a paragraph of plain text; a line break in it stays one."""
    lines = (escape(printable(line)) for line in text.split("\n"))
    return Paragraph("<br/>".join(lines), style)


def gap(millimetres: float) -> Spacer:
    """Return empty height. [mm]"""
    return Spacer(0, millimetres * mm)


def height_of(flowables: Iterable[Flowable], width: float) -> float:
    """Return how high flowables stand under each other. [pt]"""
    return sum(flowable.wrap(width, _ENDLESS)[1] for flowable in flowables)


def stack(canvas: Canvas, flowables: Iterable[Flowable], *, x: float, top: float, width: float) -> float:
    """Draw flowables under each other and return where the next would stand. [pt]"""
    for flowable in flowables:
        top -= flowable.wrap(width, _ENDLESS)[1]
        flowable.drawOn(canvas, x, top)
    return top


def grid(
    rows: Sequence[list[Any]], widths: Sequence[float | None], *commands: Command, valign: str = "TOP", **more: Any
) -> Table:
    """Return a table without space or lines but those of the commands."""
    table = Table(rows, colWidths=widths, **more)
    table.setStyle([*_TIGHT, ("VALIGN", *ALL, valign), *commands])
    return table


class Figure(Flowable):
    """A scene in the flow of a page, `width` wide. [pt]"""

    def __init__(self, scene: Scene, *, width: float) -> None:
        super().__init__()
        self.scene = scene
        self.width = width
        self.height = width * scene.height / scene.width

    def wrap(self, *_: float) -> tuple[float, float]:
        return (self.width, self.height)

    def draw(self) -> None:
        paint(self.scene, self.canv, x=0, y=self.height, width=self.width, font=REGULAR)


def scan_block(issue: Issue, *, width: float) -> Table:
    """Return the code that leads back to the live page, with what to type where nothing scans under it."""
    code = Figure(qr_code(issue.scan_address, title=f"Leads back to {issue.scan_code}"), width=width)
    return grid(
        [[code], [words(issue.scan_code, NOTE_RIGHT)]], [width], ("RIGHTPADDING", (0, 1), (0, 1), 4 / 37 * width)
    )


def masthead(*, title: str, lead: str, issue: Issue, width: float, side: float = 27 * mm) -> Table:
    """Return the head of a first page: what this is, what it covers, and the code to scan back, `side` wide. [pt]"""
    told = [words(title, TITLE), gap(1), words(lead, LEAD)]
    return grid([[told, scan_block(issue, width=side)]], [width - side, side])


def caution(*, head: str, body: str = "", width: float, size: float = 9.5) -> Table:
    """Return a box with a heavy left edge: a caution, never decoration. `size` is that of its type. [pt]"""
    inside = [words(head, style(BOLD, size)), *([words(body, style(REGULAR, size))] if body else [])]
    box = Table([["", inside]], colWidths=[_EDGE, width - _EDGE])
    box.setStyle([*_BOXED, ("BACKGROUND", (0, 0), (0, -1), BLACK)])
    return box


def notice(text: str, *, width: float) -> Table:
    """Return a box without the edge of a caution: a result to be seen first that asks for nothing."""
    box = Table([[words(text, SAYING)]], colWidths=[width])
    box.setStyle(_BOXED)
    return box


def side_by_side(left: Iterable[Flowable], right: Iterable[Flowable], *, width: float, between: float) -> Table:
    """Return two short stacks beside each other, each as wide as `width` less `between` allows. [pt]"""
    column = (width - between) / 2
    return grid([[list(left), list(right)]], [column + between, column], ("RIGHTPADDING", (0, 0), (0, 0), between))


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a ruled table; `share` is its part of the width, against the other columns' shares."""

    head: str
    share: float
    figures: bool = False


def ruled_table(
    columns: Sequence[Column],
    rows: Iterable[Sequence[str | Flowable]],
    *,
    width: float,
    strong: Collection[int] = (),
    edged: Collection[int] = (),
) -> Iterator[Flowable]:
    """Yield a table with thin rules between rows, its head repeated on every page.

    Long tables are laid out in pieces of `ROWS_AT_ONCE` rows, each with its head; a row of many lines goes on in rows
    under it, as a page may be too short for it.

    Parameters:
        columns: Heads and shares; a column of figures stands to the right. [-]
        rows: As many texts a row as there are columns; a drawing may stand for a text. [-]
        width: Of the whole table. [pt]
        strong: Numbers of the rows in heavier type, a line above them: totals. [-]
        edged: Numbers of the rows with a heavy left edge: what must not be overlooked. [-]
    """
    whole = sum(column.share for column in columns)
    widths = [width * column.share / whole for column in columns]
    head = [words(column.head, NOTE_RIGHT if column.figures else NOTE) for column in columns]
    remaining = ((number, part) for number, row in enumerate(rows) for part in _in_parts(row))
    while piece := list(islice(remaining, ROWS_AT_ONCE)):
        table = LongTable(
            [head, *(_cells(columns, row, number in strong) for number, row in piece)], widths, repeatRows=1
        )
        commands = list(_RULED)
        for line, (number, _) in enumerate(piece, start=1):
            if number in strong:
                commands.append(("LINEABOVE", (0, line), (-1, line), 1, BLACK, _BUTT))
            if number in edged:
                commands.append(("LINEBEFORE", (0, line), (0, line), 4, BLACK, _BUTT))
        table.setStyle(commands)
        yield table


def _in_parts(row: Sequence[str | Flowable]) -> Iterator[list[str | Flowable]]:
    """A row in as many as its longest cell takes, of `LINES_AT_ONCE` lines each; a drawing stands in the first."""
    lines = [cell.split("\n") if isinstance(cell, str) else [] for cell in row]
    for start in range(0, max(1, *map(len, lines)), LINES_AT_ONCE):
        yield [
            cell if isinstance(cell, Flowable) and not start else "\n".join(of_cell[start : start + LINES_AT_ONCE])
            for cell, of_cell in zip(row, lines, strict=True)
        ]


def _cells(columns: Sequence[Column], row: Sequence[str | Flowable], strong: bool) -> list[Flowable]:
    left, right = (SUM, SUM_RIGHT) if strong else (CELL, CELL_RIGHT)
    return [
        cell if isinstance(cell, Flowable) else words(cell, right if column.figures else left)
        for column, cell in zip(columns, row, strict=True)
    ]
