"""Invitation cards, ten to a sheet, to cut out and hand over: a name, the link and its code to scan."""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from labsys.documents.blocks import gap, height_of, stack, style, words
from labsys.documents.fonts import BOLD, MEDIUM, REGULAR
from labsys.documents.page import RULE, Issue, single_sheet
from labsys.drawing.pdf import paint
from labsys.drawing.qr import qr_code

ACROSS, DOWN = 2, 5
_WIDTH, _HEIGHT = 95 * mm, 52 * mm
_EDGE = 4 * mm
_CODE = 34 * mm
_TEXT = _WIDTH - _CODE - 3 * _EDGE
_SIZES = (12.0, 10.5, 9.0, 8.0, 7.0)  # [pt], of the name; no other type is smaller than 6.5


@dataclass(frozen=True, slots=True)
class Card:
    """What one card says; `until` is in words."""

    name: str
    address: str
    until: str


def draw(cards: Sequence[Card], *, issue: Issue) -> bytes:
    """Return the sheets of cards as a PDF; equal data gives equal bytes."""
    target = io.BytesIO()
    canvas = single_sheet(target, title="Invitation cards", issue=issue)
    sheet_width, sheet_height = issue.paper.size()
    left, top = (sheet_width - ACROSS * _WIDTH) / 2, (sheet_height + DOWN * _HEIGHT) / 2
    for number, card in enumerate(cards):
        if number and number % (ACROSS * DOWN) == 0:
            canvas.showPage()
        row, column = divmod(number % (ACROSS * DOWN), ACROSS)
        _paint(canvas, card, lab_name=issue.lab_name, x=left + column * _WIDTH, y=top - row * _HEIGHT)
    canvas.save()
    return target.getvalue()


def _paint(canvas: Canvas, card: Card, *, lab_name: str, x: float, y: float) -> None:
    """Paint one card with its top left corner at (x, y), framed where it is cut."""
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.5)
    canvas.setDash(4, 3)
    canvas.rect(x, y - _HEIGHT, _WIDTH, _HEIGHT)
    canvas.setDash()
    stack(canvas, _fitting(card, lab_name), x=x + _EDGE, top=y - _EDGE, width=_TEXT)
    code = qr_code(card.address, title=f"Lets {card.name} in")
    paint(code, canvas, x=x + _WIDTH - _EDGE - _CODE, y=y - (_HEIGHT - _CODE) / 2, width=_CODE, font=REGULAR)


def _fitting(card: Card, lab_name: str) -> list[Flowable]:
    """What a card says, in the largest type that fits."""
    told: list[Flowable] = []
    for size in _SIZES:
        told = _told(card, lab_name, size)
        if height_of(told, _TEXT) <= _HEIGHT - 2 * _EDGE:
            break
    return told


def _told(card: Card, lab_name: str, size: float) -> list[Flowable]:
    small = style(REGULAR, max(6.5, 0.65 * size), leading=1.2)
    return [
        words(card.name, style(BOLD, size, leading=1.15)),
        words(f"You are invited to {lab_name}.", style(MEDIUM, max(6.5, 0.75 * size), leading=1.2)),
        gap(1),
        words("Scan the code, or open this, and choose a password:", small),
        words(card.address, small),
        gap(1),
        words(f"Works once, until {card.until}. Keep it to yourself: whoever has it can get in as you.", small),
    ]
