"""The label of a bath: half a sheet to cut out and fix to the tank or hang above the tray.

Name, dilution and code read at two metres, in `LARGE` points or more; the rest reads at arm's length. The text is set
as large as the half sheet allows. Only a label with more to say than fits there takes the whole sheet; none is ever
set smaller than `SMALLEST` points (an x-height of 1.4 mm).

Source:
    Regulation (EC) 1272/2008 (CLP), Annex I 1.2.1: pictograms of at least 10 mm a side, 16 mm if possible; a
    published example label of the German safety institute names 1.2 mm of x-height as the least that reads.
    What a filled tray or tank must say besides, and how large: common practice, no source.
"""

import io
from collections.abc import Iterator, Sequence
from itertools import chain, count, islice

from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Table

from labsys.documents import blocks
from labsys.documents.bath_label.data import ESTIMATE, NO_CLASS, BathLabelData
from labsys.documents.blocks import ALL, gap, grid, height_of, stack, style, words
from labsys.documents.fonts import BOLD, MEDIUM, REGULAR, fitted, printable
from labsys.documents.page import BLACK, GREY, RULE, single_sheet
from labsys.documents.rules import DoesNotFit
from labsys.drawing.pdf import paint
from labsys.drawing.pictograms import DIAGONAL, Pictogram, pictogram
from labsys.drawing.qr import qr_code

SMALLEST, LARGE = 7.5, 24  # [pt]
_ON_HALF = (12.0, 11.0, 10.0, 9.5, 9.0, 8.5, 8.0, SMALLEST)
_ON_WHOLE = (14.0, 13.0, *_ON_HALF)

EDGE = 10 * mm
COLUMN_GAP = 7 * mm
QR_SIDE = 29 * mm
SMALLEST_SIDE, LARGEST_SIDE = 16 * mm, 24 * mm  # of a pictogram

_AIR = 2.5 * mm
_APART = 2  # between the sections of a column, and above the alarm [mm]
_FOOT_HEIGHT = 11 * mm


def draw(data: BathLabelData) -> bytes:
    """Return the label as a one-page PDF; equal data gives equal bytes.

    Raises:
        DoesNotFit: More to say than a whole sheet holds at the smallest type.
    """
    target = io.BytesIO()
    canvas = single_sheet(target, title=f"Label of {data.issue.scan_code}: {_name(data)}", issue=data.issue)
    width, height = data.issue.paper.size()
    _fitting(data, width=width, height=height).paint(canvas)
    canvas.save()
    return target.getvalue()


def _fitting(data: BathLabelData, *, width: float, height: float) -> "_Label":
    for foot, sizes in ((height / 2, _ON_HALF), (0.0, _ON_WHOLE)):
        for size in sizes:
            label = _Label(data, size=size, width=width, top=height, foot=foot)
            if label.fits:
                return label
    raise DoesNotFit(
        f"The label of {data.issue.scan_code} does not fit a sheet. Print this page instead, and shorten the product's "
        "names and ingredients."
    )


class _Label:
    """A label set in one size of type between two heights of the sheet."""

    def __init__(self, data: BathLabelData, *, size: float, width: float, top: float, foot: float) -> None:
        self.data = data
        self.width, self.top, self.foot = width, top, foot
        self.inner = width - 2 * EDGE
        self.column = (self.inner - COLUMN_GAP) / 2
        self.head = _head(data, self.inner)
        self.texts = _balanced([_hazards(data, size, self.column), *_sections(data, size)], self.column)
        first, *rest = data.emergency
        self.alarm = blocks.caution(head=first, body="\n".join(rest), width=self.inner, size=max(9.5, size))

    @property
    def fits(self) -> bool:
        fixed = height_of([self.head], self.inner) + height_of([self.alarm], self.inner) + _FOOT_HEIGHT + 3 * _AIR
        tallest = max(height_of(text, self.column) for text in self.texts)
        return fixed + tallest <= self.top - self.foot - EDGE

    def paint(self, canvas: Canvas) -> None:
        y = stack(canvas, [self.head], x=EDGE, top=self.top - EDGE, width=self.inner) - _AIR
        canvas.setStrokeColor(BLACK)
        canvas.setLineWidth(1.4)
        canvas.line(EDGE, y, self.width - EDGE, y)
        y -= _AIR
        for x, text in zip((EDGE, EDGE + self.column + COLUMN_GAP), self.texts, strict=True):
            stack(canvas, text, x=x, top=y, width=self.column)
        alarm_top = self.foot + _FOOT_HEIGHT + _AIR + height_of([self.alarm], self.inner)
        stack(canvas, [self.alarm], x=EDGE, top=alarm_top, width=self.inner)
        self._sign(canvas)

    def _sign(self, canvas: Canvas) -> None:
        issue = self.data.issue
        canvas.setFillColor(GREY)
        canvas.setFont(REGULAR, SMALLEST)
        for line, told in enumerate((f"{ESTIMATE} Page 1 of 1.", f"{issue.signature} · {issue.lab_name}")):
            told = fitted(told, font=REGULAR, size=SMALLEST, width=self.inner)
            canvas.drawString(EDGE, self.foot + _FOOT_HEIGHT - 3 * mm - line * 3.4 * mm, told)
        if self.foot:
            canvas.setStrokeColor(RULE)
            canvas.setLineWidth(0.6)
            canvas.setDash(4, 3)
            canvas.line(0, self.foot, self.width, self.foot)


class _Diamonds(Flowable):
    """Pictograms set point to point, each second row in the gaps of the first."""

    def __init__(self, codes: Sequence[Pictogram], *, side: float, width: float) -> None:
        super().__init__()
        self.codes = codes
        self.diagonal = DIAGONAL * side
        self.places = list(islice(self._places(max(1, int(width / self.diagonal))), len(codes)))
        self.height = max(y for _, y in self.places) + self.diagonal

    def wrap(self, *_: float) -> tuple[float, float]:
        return (0, self.height)

    def draw(self) -> None:
        for code, (x, y) in zip(self.codes, self.places, strict=True):
            paint(pictogram(code), self.canv, x=x, y=self.height - y, width=self.diagonal, font=REGULAR)

    def _places(self, across: int) -> Iterator[tuple[float, float]]:
        for row in count():
            nested = row % 2 if across > 1 else 0
            for place in range(across - nested):
                step = self.diagonal / (2 if across > 1 else 1)
                yield (nested * self.diagonal / 2 + place * self.diagonal, row * step)


def _name(data: BathLabelData) -> str:
    return f"{data.product}, {data.dilution}" if data.dilution else data.product


def _head(data: BathLabelData, width: float) -> Table:
    mark = style(BOLD, LARGE, leading=1.15, align=TA_RIGHT)
    right = max(QR_SIDE, stringWidth(printable(data.issue.scan_code), BOLD, LARGE) + 1)  # a point spare: no line break
    left = width - right - COLUMN_GAP
    name = printable(_name(data))
    size = next((size for size in range(36, LARGE, -1) if stringWidth(name, BOLD, size) <= left), LARGE)
    facts = (f"{data.mixed_at}\n{data.mixed_by}", data.use_by, data.capacity)
    facts_table = grid(
        [
            [words(label, blocks.NOTE) for label in ("Mixed", "Use by", "Takes when fresh")],
            [words(fact, style(MEDIUM, 10, leading=1.25)) for fact in facts],
        ],
        [0.36 * left, 0.35 * left, 0.29 * left],
        ("RIGHTPADDING", *ALL, 3 * mm),
    )
    told: list[Flowable] = [
        words(_name(data), style(BOLD, size, leading=1.2)),
        words(f"{data.volume} · {data.place}", style(MEDIUM, 14, leading=1.3)),
        words(data.made_from, style(REGULAR, 10)),
        gap(2),
        facts_table,
        words(f"When printed: {data.when_printed}", style(REGULAR, 9, leading=1.25)),
    ]
    code = blocks.Figure(qr_code(data.issue.scan_address, title=data.issue.scan_code), width=QR_SIDE)
    return grid(
        [[told, [code, words(data.issue.scan_code, mark)]]],
        [width - right, right],
        ("ALIGN", (1, 0), (1, 0), "RIGHT"),
        ("RIGHTPADDING", (0, 0), (0, 0), COLUMN_GAP),
    )


def _hazards(data: BathLabelData, size: float, width: float) -> list[Flowable]:
    shown: list[Flowable] = []
    if data.headline:
        loud = 1.5 if data.headline == NO_CLASS else 2.2
        shown += [words(data.headline, style(BOLD, loud * size, leading=1.2)), gap(1)]
    for number, told in enumerate(data.under_headline):
        shown += [words(told, style(REGULAR if number else MEDIUM, size if number else 1.2 * size)), gap(0.8)]
    if data.pictograms:
        side = min(max(SMALLEST_SIDE, 2 * mm * size), LARGEST_SIDE)
        shown += [_Diamonds(data.pictograms, side=side, width=width), gap(2.5)]
    for statement in data.statements:
        shown += [words(statement, style(MEDIUM, size)), gap(0.8)]
    return [*shown, gap(_APART)]


def _sections(data: BathLabelData, size: float) -> list[list[Flowable]]:
    contents = "; ".join(f"{each.named}, {each.share}" for each in data.ingredients).replace(" %", "\u00a0%")
    told = (
        ("Wear and use", data.wear),
        ("Keep away from", data.keep_from),
        ("Waste", tuple(filter(None, (data.waste, data.waste_code and f"List of Waste {data.waste_code}")))),
        ("Not known, or assumed", data.not_known),
        ("Contains", (contents,) if contents else ()),
        ("Precautions", data.precautions),
    )
    heading, text = style(BOLD, size), style(REGULAR, size, leading=1.3)
    return [
        [words(head, heading), *(words(line, text) for line in lines), gap(_APART)] for head, lines in told if lines
    ]


def _balanced(sections: list[list[Flowable]], width: float) -> tuple[list[Flowable], list[Flowable]]:
    """Return the sections in two columns, the first of them leading, cut where the taller of the two is shortest."""

    def halves(cut: int) -> tuple[list[Flowable], list[Flowable]]:
        return list(chain(*sections[:cut])), list(chain(*sections[cut:]))

    return min(
        (halves(cut) for cut in range(1, len(sections) + 1)),
        key=lambda columns: max(height_of(column, width) for column in columns),
    )
