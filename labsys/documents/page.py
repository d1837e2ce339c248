"""The sheet every document stands on: paper, margins, running head and foot, title and language."""

import io
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from reportlab.lib.colors import Color
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.pagesizes import landscape as turned
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate

from labsys.documents.fonts import BOLD, MEDIUM, REGULAR, fitted

LANGUAGE = "en-GB"

BLACK = Color(0, 0, 0)
GREY = Color(0.36, 0.34, 0.31)
RULE = Color(0.72, 0.7, 0.66)

SIDE = 18 * mm
HEAD = 26 * mm
FOOT = 24 * mm
_SMALL = 7.5
_TOTAL = "page-total"
_CREATOR = "labsys"


class Paper(StrEnum):
    """The papers a lab prints on."""

    A4 = "A4"
    LETTER = "Letter"

    def size(self, *, landscape: bool = False) -> tuple[float, float]:
        """Return width and height. [pt]"""
        upright = {Paper.A4: A4, Paper.LETTER: LETTER}[self]
        return turned(upright) if landscape else upright


@dataclass(frozen=True, slots=True)
class Issue:
    """Who issued a document, when, and where the record stood.

    `issued_at` is already in words, in the lab's own time. `record_number` and `record_hash` are those of the record's
    head at that moment; `scan_address` leads back to the live page. `scan_code` stands under the code to scan: what a
    person types instead or, where there is nothing to type, what it leads to.
    """

    lab_name: str
    issued_by: str
    issued_at: str
    record_number: int
    record_hash: str
    scan_address: str
    scan_code: str
    paper: Paper = Paper.A4

    @property
    def record(self) -> str:
        """The place of this document in the record, for people."""
        return f"Record {self.record_number:,} · {self.record_hash}…"

    @property
    def signature(self) -> str:
        """Where the record stood, when it was issued and by whom: what must not be cut short comes first."""
        return f"{self.record} · Issued {self.issued_at} by {self.issued_by}"


def single_sheet(target: io.BytesIO, *, title: str, issue: Issue) -> Canvas:
    """Return a canvas for one free sheet, its title, language and issuer set as on every other document."""
    canvas = Canvas(target, pagesize=issue.paper.size(), invariant=1, lang=LANGUAGE)
    canvas.setTitle(title)
    canvas.setAuthor(issue.lab_name)
    canvas.setSubject(issue.record)
    canvas.setCreator(_CREATOR)
    canvas.setViewerPreference("DisplayDocTitle", "true")
    return canvas


def bind(story: Iterable[Flowable], *, title: str, issue: Issue, closing: str, landscape: bool = False) -> bytes:
    """Lay the story out on pages with head, foot and "page x of y", and return the PDF.

    Parameters:
        story: What to print; used up by printing. [-]
        title: The document's title, in its properties and at the head of each page. [-]
        issue: Who, when, record and paper. [-]
        closing: One plain sentence at the foot of every page. [-]
        landscape: Whether the sheet lies on its long side. [-]
    Returns:
        The PDF. [byte]
    """
    target = io.BytesIO()
    width, height = issue.paper.size(landscape=landscape)
    template = BaseDocTemplate(
        target,
        pagesize=(width, height),
        title=title,
        author=issue.lab_name,
        subject=issue.record,
        creator=_CREATOR,
        displayDocTitle=True,
        lang=LANGUAGE,
        invariant=1,
    )

    def dress(canvas: Canvas, _: BaseDocTemplate) -> None:
        canvas.saveState()
        _running_head(canvas, width=width, height=height, title=title, issue=issue)
        _running_foot(canvas, width=width, issue=issue, closing=closing)
        canvas.restoreState()

    frame = Frame(SIDE, FOOT, text_width(issue.paper, landscape=landscape), height - HEAD - FOOT, 0, 0, 0, 0)
    template.addPageTemplates(PageTemplate(id="sheet", frames=[frame], onPage=dress))
    template.build([*story, _PageTotal()])
    return target.getvalue()


def text_width(paper: Paper, *, landscape: bool = False) -> float:
    """Return the width between the margins. [pt]"""
    return paper.size(landscape=landscape)[0] - 2 * SIDE


class _PageTotal(Flowable):
    """The last thing in a story: only here is the number of pages known, so every foot names a form drawn here."""

    def wrap(self, *_: float) -> tuple[float, float]:
        return (0, 0)

    def draw(self) -> None:
        self.canv.beginForm(_TOTAL)
        self.canv.setFont(MEDIUM, _SMALL)
        self.canv.setFillColor(BLACK)
        self.canv.drawString(0, 0, str(self.canv.getPageNumber()))
        self.canv.endForm()


def _running_head(canvas: Canvas, *, width: float, height: float, title: str, issue: Issue) -> None:
    baseline = height - 15 * mm
    half = (width - 2 * SIDE) / 2 - 2 * mm
    canvas.setFillColor(BLACK)
    canvas.setFont(BOLD, 10.5)
    canvas.drawString(SIDE, baseline, fitted(issue.lab_name, font=BOLD, size=10.5, width=half))
    canvas.setFont(REGULAR, 9)
    canvas.setFillColor(GREY)
    canvas.drawRightString(width - SIDE, baseline, fitted(title, font=REGULAR, size=9, width=half))
    canvas.setStrokeColor(BLACK)
    canvas.setLineWidth(1.2)
    canvas.line(SIDE, baseline - 2.6 * mm, width - SIDE, baseline - 2.6 * mm)


def _running_foot(canvas: Canvas, *, width: float, issue: Issue, closing: str) -> None:
    top = 15.5 * mm
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.5)
    canvas.line(SIDE, top + 3.8 * mm, width - SIDE, top + 3.8 * mm)
    canvas.setFont(MEDIUM, _SMALL)
    canvas.setFillColor(BLACK)
    counted = f"Page {canvas.getPageNumber()} of "
    canvas.drawString(SIDE, top, counted)
    canvas.saveState()
    canvas.translate(SIDE + stringWidth(counted, MEDIUM, _SMALL), top)
    canvas.doForm(_TOTAL)
    canvas.restoreState()
    canvas.setFont(REGULAR, _SMALL)
    canvas.setFillColor(GREY)
    line = width - 2 * SIDE
    signed = fitted(issue.signature, font=REGULAR, size=_SMALL, width=line - 25 * mm)
    canvas.drawRightString(width - SIDE, top, signed)
    canvas.drawString(SIDE, top - 3.8 * mm, fitted(closing, font=REGULAR, size=_SMALL, width=line))
