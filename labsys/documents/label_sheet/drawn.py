"""Sheets of labels for bottles, baths and waste containers, in three plain sizes, by measurements of our own.

A label says all it can hold: statements and precautions; else statements alone; else their codes with every note; else
with the first notes only, and the page of its code for the rest. Type is never smaller than `SMALLEST` points. A sheet
can be begun at any place, so that a part-used one is used up.

Source:
    Regulation (EC) 1272/2008 (CLP), Annex I Table 1.3: a label of 52 × 74 mm to 3 L, 74 × 105 mm to 50 L, if possible;
    pictograms of at least 10 mm a side. The smallest size here keeps neither: it is for what is filled in the lab,
    where identity and hazards must be told and no size is set. Margins and gaps: our own.
"""

import io
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum, StrEnum, auto

from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from labsys.documents.blocks import gap, height_of, stack, style, words
from labsys.documents.fonts import BOLD, MEDIUM, REGULAR, fitted, printable
from labsys.documents.page import GREY, RULE, Issue, Paper, single_sheet
from labsys.documents.rules import DoesNotFit
from labsys.drawing.pdf import paint
from labsys.drawing.pictograms import DIAGONAL, Pictogram, pictogram
from labsys.drawing.qr import qr_code

SMALLEST = 6.5  # [pt], an x-height of 1.2 mm
_SIZES = (12.0, 11.0, 10.0, 9.0, 8.5, 8.0, 7.5, 7.0, SMALLEST)
_PAD = 2.5 * mm
_NOTES_BY_CODES = 2  # how many notes a label still says where its statements stand by their codes
_FOOT = 5.5  # [pt], of the line that says which issue this is: not part of the label's message


class Layout(StrEnum):
    """The sizes of labels, as labels across × labels down a sheet."""

    LARGE = "2 × 2"
    MEDIUM = "2 × 4"
    SMALL = "3 × 8"


@dataclass(frozen=True, slots=True)
class Grid:
    """Where labels stand on a sheet. All lengths in millimetres."""

    across: int
    down: int
    width: float
    height: float
    gap: float
    qr: float
    pictogram: float

    @property
    def places(self) -> int:
        return self.across * self.down

    def corner(self, place: int, *, paper: Paper) -> tuple[float, float]:
        """Return left and top edge of a place counted from 0, from the sheet's top left corner. [mm]"""
        sheet_width, sheet_height = (length / mm for length in paper.size())
        row, column = divmod(place, self.across)
        left = (sheet_width - self.across * self.width - (self.across - 1) * self.gap) / 2
        top = (sheet_height - self.down * self.height) / 2
        return left + column * (self.width + self.gap), top + row * self.height


GRIDS = {
    (Paper.A4, Layout.LARGE): Grid(2, 2, 97, 138, 4, 32, 18),
    (Paper.A4, Layout.MEDIUM): Grid(2, 4, 97, 69, 4, 24, 11),
    (Paper.A4, Layout.SMALL): Grid(3, 8, 64, 34, 3, 15.5, 10),
    (Paper.LETTER, Layout.LARGE): Grid(2, 2, 100, 128, 4, 32, 18),
    (Paper.LETTER, Layout.MEDIUM): Grid(2, 4, 100, 64, 4, 24, 11),
    (Paper.LETTER, Layout.SMALL): Grid(3, 8, 66, 31, 3, 14, 10),
}


@dataclass(frozen=True, slots=True)
class LabelFacts:
    """What one label says, ready to print. `lines` stand under the name, `notes` below the statements.

    A `banner` stands right across it, before everything else: this is no ordinary label.
    """

    code: str
    scan_address: str
    name: str
    lines: tuple[str, ...]
    pictograms: tuple[Pictogram, ...]
    signal_word: str
    statements: tuple[tuple[str, str], ...]
    precautions: tuple[tuple[str, str], ...]
    not_known: tuple[str, ...]
    notes: tuple[str, ...]
    basis: str
    emergency: str
    banner: str = ""


@dataclass(frozen=True, slots=True)
class LabelSheetData:
    """Labels of one size, the first of them at place `first` of the sheet, counted from 1."""

    issue: Issue
    layout: Layout
    first: int
    labels: tuple[LabelFacts, ...]


def draw(data: LabelSheetData) -> bytes:
    """Return the sheets as a PDF; equal data gives equal bytes.

    Raises:
        DoesNotFit: A label has more to say than the size holds.
    """
    target = io.BytesIO()
    canvas = single_sheet(target, title=f"Labels {data.layout}", issue=data.issue)
    grid = GRIDS[data.issue.paper, data.layout]
    height = data.issue.paper.size()[1]
    for number, label in enumerate(data.labels):
        place = data.first - 1 + number
        if number and place % grid.places == 0:
            canvas.showPage()
        left, top = grid.corner(place % grid.places, paper=data.issue.paper)
        _Label(label, data).paint(canvas, x=left * mm, y=height - top * mm)
    canvas.save()
    return target.getvalue()


class _Telling(Enum):
    """How much a label says, the most first."""

    ALL = auto()
    WITHOUT_PRECAUTIONS = auto()
    CODES_AND_NOTES = auto()
    BY_CODES = auto()


class _Label:
    """One label, set as large as its place allows."""

    def __init__(self, label: LabelFacts, data: LabelSheetData) -> None:
        self.label = label
        self.layout = data.layout
        self.signature = data.issue.signature
        self.grid = grid = GRIDS[data.issue.paper, data.layout]
        self.width, self.height = grid.width * mm, grid.height * mm
        self.band = 0.13 * self.height if label.banner else 0.0
        self.side = grid.qr * mm
        self.text_width = self.width - 2 * _PAD - self.side - 1.5 * mm

    def paint(self, canvas: Canvas, *, x: float, y: float) -> None:
        """Paint the label with its top left corner at (x, y). Raises DoesNotFit."""
        told = self._fitting()
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.4)
        canvas.rect(x, y - self.height, self.width, self.height)
        if self.label.banner:
            self._banner(canvas, x=x, y=y)
            y -= self.band
        stack(canvas, told, x=x + _PAD, top=y - _PAD, width=self.text_width)
        right = x + self.width - _PAD - self.side
        code = qr_code(self.label.scan_address, title=f"Leads to {self.label.code}")
        below = y - 1 * mm - paint(code, canvas, x=right, y=y - 1 * mm, width=self.side, font=REGULAR)
        size = min(14.0, 10 * self.side / stringWidth(printable(self.label.code), BOLD, 10))
        canvas.setFillGray(0)
        canvas.setFont(BOLD, size)
        canvas.drawCentredString(right + self.side / 2, below - 0.8 * size, printable(self.label.code))
        self._diamonds(canvas, x=right, y=below - 1.3 * size, floor=y + self.band - self.height + 3.5 * mm)
        y += self.band
        canvas.setFillColor(GREY)
        canvas.setFont(REGULAR, _FOOT)
        foot = fitted(self.signature, font=REGULAR, size=_FOOT, width=self.width - 2 * _PAD)
        canvas.drawString(x + _PAD, y - self.height + 1.4 * mm, foot)

    def _banner(self, canvas: Canvas, *, x: float, y: float) -> None:
        """A black band right across, with its words in white."""
        words_of_it = printable(self.label.banner)
        size = min(0.62 * self.band, 10 * (self.width - 2 * _PAD) / stringWidth(words_of_it, BOLD, 10))
        canvas.setFillGray(0)
        canvas.rect(x, y - self.band, self.width, self.band, stroke=0, fill=1)
        canvas.setFillGray(1)
        canvas.setFont(BOLD, size)
        canvas.drawCentredString(x + self.width / 2, y - self.band / 2 - 0.35 * size, words_of_it)
        canvas.setFillGray(0)

    def _diamonds(self, canvas: Canvas, *, x: float, y: float, floor: float) -> None:
        """Pictograms between the code and the floor, in the rows that let them be largest, up to the size's own."""
        codes = self.label.pictograms
        if not codes:
            return

        def largest(across: int) -> float:
            return min(self.grid.pictogram * mm * DIAGONAL, self.side / across, (y - floor) / -(-len(codes) // across))

        across = max(range(1, len(codes) + 1), key=largest)
        side = largest(across)
        for number, code in enumerate(codes):
            row, place = divmod(number, across)
            left = x + (self.side - across * side) / 2 + place * side
            paint(pictogram(code), canvas, x=left, y=y - row * side, width=side, font=REGULAR)

    def _fitting(self) -> list[Flowable]:
        room = self.height - self.band - _PAD - 4 * mm
        told_in_full = (text for _, text in (*self.label.statements, *self.label.precautions))
        longest = max(" ".join(told_in_full).split(), key=len, default="")
        unbroken = [size for size in _SIZES if stringWidth(longest, MEDIUM, size) <= self.text_width] or [SMALLEST]
        for telling in _Telling:
            for size in unbroken:
                told = list(self._told(telling, size))
                if height_of(told, self.text_width) <= room:
                    return told
        raise DoesNotFit(f"The label of {self.label.code} does not fit {self.layout}. Choose a larger size.")

    def _told(self, telling: _Telling, size: float) -> Iterator[Flowable]:
        label = self.label
        plain, strong = style(REGULAR, size, leading=1.15), style(MEDIUM, size, leading=1.15)
        yield words(label.name, style(BOLD, 1.25 * size, leading=1.12))
        yield from (words(line, plain) for line in label.lines)
        if label.signal_word:
            yield gap(0.4)
            yield words(label.signal_word, style(BOLD, 1.5 * size, leading=1.1))
        statements = [f"{code} {text}" for code, text in label.statements]
        if telling is _Telling.ALL:
            yield from (words(statement, strong) for statement in statements)
            if label.precautions:
                yield words(" ".join(f"{code} {text}" for code, text in label.precautions), plain)
        elif statements:
            codes = " ".join(code for code, _ in label.statements)
            in_full = telling is _Telling.WITHOUT_PRECAUTIONS
            yield words(" ".join(statements) if in_full else f"{codes}: read what they say by the code.", strong)
        if telling in (_Telling.CODES_AND_NOTES, _Telling.BY_CODES):
            notes = label.notes if telling is _Telling.CODES_AND_NOTES else label.notes[:_NOTES_BY_CODES]
            yield words(" ".join(f"{note.rstrip('.')}." for note in notes), strong)
            more = "More to mind, and not" if len(notes) < len(label.notes) else "Not"
            if label.not_known:
                yield words(f"{more} all of it is known: read it by the code.", strong)
            elif len(notes) < len(label.notes):
                yield words("More to mind: read it by the code.", strong)
            return
        yield from (words(note, strong) for note in label.notes)
        yield from (words(told, plain) for told in label.not_known)
        yield words(f"{label.basis} {label.emergency}", style(REGULAR, max(SMALLEST, 0.9 * size), leading=1.15))
