"""The label of a bath: half a sheet to cut out and fix to the tank or hang above the tray.

The name, the code and the hazards read from where a person stands; the rest reads at arm's length. The text is set as
large as the half sheet allows. A label with more to say than reads well there takes the whole sheet, and even so is
never set smaller than `SMALLEST` points (an x-height of 1.3 mm).

Source:
    Regulation (EC) 1272/2008 (CLP), Annex I 1.2.1: pictograms of at least 10 mm a side, 16 mm if possible; a
    published example label of the German safety institute names 1.2 mm of x-height as the least that reads.
    What a filled tray or tank must say besides: common practice, no source.
"""

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, count, islice

from reportlab.lib.enums import TA_CENTER
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Table

from labsys.documents import blocks
from labsys.documents.blocks import gap, style, words
from labsys.documents.fonts import BOLD, MEDIUM, REGULAR, fitted, printable
from labsys.documents.page import BLACK, GREY, RULE, Issue, single_sheet
from labsys.drawing.pdf import paint
from labsys.drawing.pictograms import DIAGONAL, Pictogram, pictogram
from labsys.drawing.qr import qr_code

ESTIMATE = "Estimate: hazards worked out for this dilution from the concentrate's SDS. The SDS comes first."

# Rinsing for 20 minutes: published advice ranges from 10 to 20; from memory.
EMERGENCY = (
    "In the eyes: rinse now, lids apart, 20 minutes. Then tell someone and take the SDS to hospital.",
    "On the skin: wet clothes off, rinse. Spill: air, gloves, absorb it; never pour another bath on it.",
)

SMALLEST = 7.0
_ON_HALF = (12.0, 11.0, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5)
_ON_WHOLE = (14.0, 13.0, *_ON_HALF, SMALLEST)

EDGE = 10 * mm
COLUMN_GAP = 7 * mm
CODE_SIDE = 32 * mm
SMALLEST_SIDE, LARGEST_SIDE = 16 * mm, 24 * mm  # of a pictogram

_AIR = 2.5 * mm
_FOOT_HEIGHT = 11 * mm
_ENDLESS = 10_000.0


@dataclass(frozen=True, slots=True)
class Ingredient:
    """A hazardous ingredient of the working solution; `share` is in words, "4.2 % w/w"."""

    named: str
    share: str


@dataclass(frozen=True, slots=True)
class BathLabelData:
    """All that a bath's label prints; every text is ready to print, every list in the order to print it.

    `statements` are the H and EUH statements in full, `precautions` the P statements. `classified` is false when the
    dilution works out as not hazardous: the label then says so in words, and still prints every statement given. Of
    `emergency`, at least one line, the first is set in heavier type.
    """

    issue: Issue
    product: str
    dilution: str
    volume: str
    place: str
    mixed_at: str
    mixed_by: str
    use_by: str
    capacity: str
    classified: bool
    pictograms: tuple[Pictogram, ...] = ()
    signal_word: str = ""
    statements: tuple[str, ...] = ()
    precautions: tuple[str, ...] = ()
    ingredients: tuple[Ingredient, ...] = ()
    protective_equipment: tuple[str, ...] = ()
    keep_from: tuple[str, ...] = ()
    waste: str = ""
    waste_code: str = ""
    emergency: tuple[str, ...] = EMERGENCY


class LabelOverflow(ValueError):
    """A label has more to say than a whole sheet holds at the smallest type."""

    def __init__(self, code: str) -> None:
        super().__init__(f"the label of {code} does not fit a sheet")
        self.code = code


def draw(data: BathLabelData) -> bytes:
    """Return the label as a one-page PDF; equal data gives equal bytes.

    Raises:
        LabelOverflow: More to say than a whole sheet holds at the smallest type.
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
    raise LabelOverflow(data.issue.scan_code)


class _Label:
    """A label set in one size of type between two heights of the sheet."""

    def __init__(self, data: BathLabelData, *, size: float, width: float, top: float, foot: float) -> None:
        self.data = data
        self.width, self.top, self.foot = width, top, foot
        self.inner = width - 2 * EDGE
        self.hazard_width = 0.37 * self.inner
        self.text_width = (self.inner - self.hazard_width - 2 * COLUMN_GAP) / 2
        self.head = _head(data, self.inner)
        self.hazards = _hazards(data, size, self.hazard_width)
        self.texts = _balanced(_sections(data, size), self.text_width)
        first, *rest = data.emergency
        self.alarm = blocks.caution(head=first, body="\n".join(rest), width=self.inner, size=max(9.5, size))

    @property
    def fits(self) -> bool:
        fixed = _height([self.head], self.inner) + _height([self.alarm], self.inner) + _FOOT_HEIGHT + 4 * _AIR
        tallest = max(
            _height(self.hazards, self.hazard_width), *(_height(text, self.text_width) for text in self.texts)
        )
        return fixed + tallest <= self.top - self.foot - EDGE

    def paint(self, canvas: Canvas) -> None:
        y = _stack(canvas, [self.head], x=EDGE, top=self.top - EDGE, width=self.inner) - _AIR
        canvas.setStrokeColor(BLACK)
        canvas.setLineWidth(1.4)
        canvas.line(EDGE, y, self.width - EDGE, y)
        y -= _AIR
        _stack(canvas, self.hazards, x=EDGE, top=y, width=self.hazard_width)
        x = EDGE + self.hazard_width + COLUMN_GAP
        for text in self.texts:
            _stack(canvas, text, x=x, top=y, width=self.text_width)
            x += self.text_width + COLUMN_GAP
        alarm_top = self.foot + _FOOT_HEIGHT + _AIR + _height([self.alarm], self.inner)
        _stack(canvas, [self.alarm], x=EDGE, top=alarm_top, width=self.inner)
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
    left = width - CODE_SIDE - COLUMN_GAP
    name = printable(_name(data))
    size = next((size for size in range(36, 20, -1) if stringWidth(name, BOLD, size) <= left), 20)
    facts = Table(
        [
            [words(label, blocks.NOTE) for label in ("Mixed", "Use by", "Lasts")],
            [
                words(told, style(MEDIUM, 10.5))
                for told in (f"{data.mixed_at}\n{data.mixed_by}", data.use_by, data.capacity)
            ],
        ],
        colWidths=[0.36 * left, 0.28 * left, 0.36 * left],
    )
    facts.setStyle([*blocks.TIGHT, ("RIGHTPADDING", (0, 0), (-1, -1), 3 * mm), ("VALIGN", (0, 0), (-1, -1), "TOP")])
    code = blocks.Figure(qr_code(data.issue.scan_address, title=data.issue.scan_code), width=CODE_SIDE)
    told: list[Flowable] = [
        words(_name(data), style(BOLD, size)),
        words(f"{data.volume} · {data.place}", style(MEDIUM, 14)),
        gap(3.5),
        facts,
    ]
    mark = printable(data.issue.scan_code)
    mark_size = next((size for size in range(20, 10, -1) if stringWidth(mark, BOLD, size) <= CODE_SIDE), 10)
    head = Table(
        [[told, [code, words(data.issue.scan_code, style(BOLD, mark_size, align=TA_CENTER))]]],
        colWidths=[width - CODE_SIDE, CODE_SIDE],
    )
    head.setStyle([*blocks.TIGHT, ("VALIGN", (0, 0), (-1, -1), "TOP")])
    return head


def _hazards(data: BathLabelData, size: float, width: float) -> list[Flowable]:
    shown: list[Flowable] = []
    if not data.classified:
        reminder = " Wear what is listed all the same." if data.protective_equipment else ""
        told = f"Works out as not classified as hazardous at this dilution.{reminder}"
        shown += [words("Not classified", style(BOLD, 1.8 * size)), words(told, style(MEDIUM, size)), gap(1.5)]
    elif data.signal_word:
        shown += [words(data.signal_word, style(BOLD, 2.3 * size)), gap(1.5)]
    if data.pictograms:
        side = min(max(SMALLEST_SIDE, 2 * mm * size), LARGEST_SIDE)
        shown += [_Diamonds(data.pictograms, side=side, width=width), gap(2.5)]
    for statement in data.statements:
        shown += [words(statement, style(MEDIUM, size + 0.5)), gap(0.8)]
    return shown


def _sections(data: BathLabelData, size: float) -> list[list[Flowable]]:
    told = (
        ("Wear", data.protective_equipment),
        ("Keep away from", data.keep_from),
        ("Waste", tuple(filter(None, (data.waste, data.waste_code and f"List of Waste {data.waste_code}")))),
        ("Contains", tuple(f"{each.named}, {each.share}".replace(" %", "\u00a0%") for each in data.ingredients)),
        ("Precautions", data.precautions),
    )
    return [
        [
            words(head, style(BOLD, size)),
            *chain(*((words(line, style(REGULAR, size)), gap(0.5)) for line in lines)),
            gap(2),
        ]
        for head, lines in told
        if lines
    ]


def _balanced(sections: list[list[Flowable]], width: float) -> tuple[list[Flowable], list[Flowable]]:
    """Return the sections in two columns, cut where the taller of the two is shortest."""

    def halves(cut: int) -> tuple[list[Flowable], list[Flowable]]:
        return list(chain(*sections[:cut])), list(chain(*sections[cut:]))

    return min(
        (halves(cut) for cut in range(len(sections) + 1)),
        key=lambda columns: max(_height(column, width) for column in columns),
    )


def _height(flowables: Sequence[Flowable], width: float) -> float:
    return sum(flowable.wrap(width, _ENDLESS)[1] for flowable in flowables)


def _stack(canvas: Canvas, flowables: Sequence[Flowable], *, x: float, top: float, width: float) -> float:
    """Draw flowables under each other and return where the next would stand."""
    for flowable in flowables:
        top -= flowable.wrap(width, _ENDLESS)[1]
        flowable.drawOn(canvas, x, top)
    return top
