"""The label of a guest bottle: a quarter of a sheet to cut out and tie or stick to the bottle.

The text is set as large as the quarter allows; a label with more to say takes the length of the sheet, and none is set
smaller than `SMALLEST` points.

Source:
    Regulation (EC) 1272/2008 (CLP), Annex I 1.2.1: a bottle of up to three litres has a label of at least 52 by 74 mm,
    with pictograms of at least 10 mm a side, 16 mm if possible (from memory). What a guest bottle says besides: common
    practice, no source.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from flask import url_for
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Table

from labsys.brought_in import queries as brought_in
from labsys.brought_in import rules
from labsys.database import DbSession
from labsys.documents import blocks
from labsys.documents.blocks import gap, grid, height_of, stack, style, words
from labsys.documents.document import Document
from labsys.documents.fonts import BOLD, MEDIUM, REGULAR, fitted
from labsys.documents.occasion import Occasion
from labsys.documents.page import BLACK, GREY, RULE, Issue, single_sheet
from labsys.documents.rules import DocumentRefused, DoesNotFit
from labsys.drawing.pictograms import DIAGONAL, Pictogram, pictogram
from labsys.drawing.qr import qr_code
from labsys.hazards.label import from_h_codes
from labsys.hazards.nations import rules_of
from labsys.ledger.rules import show
from labsys.people.permissions import Permission
from labsys.products.rules import codes_of

NOT_OURS = "Not the lab's. Not to be used by others."
NO_HAZARDS = "Its SDS gives no hazard statements."
NOT_KNOWN = "What it can do is not known: nobody gave its H-codes."

SMALLEST = 7.5  # [pt]
_SIZES = (10.0, 9.0, 8.0, SMALLEST)
_EDGE = 8 * mm
_FOOT_HEIGHT = 10 * mm
_QR_SIDE = 24 * mm
_PICTOGRAM_SIDE = 13 * mm
_ACROSS = 4


@dataclass(frozen=True, slots=True)
class GuestLabelData:
    """All that the label of a guest bottle prints, ready to print."""

    issue: Issue
    name: str
    supplier: str
    whose: str
    until: str
    amount: str
    conditions: str
    signal_word: str
    pictograms: tuple[Pictogram, ...]
    statements: tuple[str, ...]
    keep_from: tuple[str, ...]
    emergency: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OfDeclaration:
    """What was declared and let in."""

    declaration_id: int


def collect(session: DbSession, asked: OfDeclaration, occasion: Occasion) -> GuestLabelData:
    """Read what was declared and decided. Raises NotFound, or DocumentRefused for what was not let in or is gone."""
    declared = brought_in.declaration_or_raise(session, asked.declaration_id)
    if declared.code is None or declared.ended_at is not None:
        raise DocumentRefused("Only a chemical that was let in and is still here has a label.")
    names = tuple(ingredient.name for ingredient in declared.ingredients) or (declared.name,)
    elements = from_h_codes(codes_of(declared.h_codes), names=names, rules=rules_of(occasion.lab.nation))
    told = tuple(f"{code} {text}" for code, text in (*elements.hazard_statements, *elements.euh_statements))
    meetings = rules.keep_apart(declared.ingredients, h_codes=declared.h_codes).meetings
    return GuestLabelData(
        issue=occasion.issue_with_code(declared.code),
        name=declared.name,
        supplier=declared.supplier,
        whose=declared.person.name,
        until=f"{declared.last_on:%-d %B %Y}",
        amount=show(declared.amount, declared.unit),
        conditions=declared.conditions,
        signal_word=elements.signal_word,
        pictograms=tuple(Pictogram(code) for code in elements.pictograms),
        statements=told if declared.h_codes else (NOT_KNOWN,),
        keep_from=tuple(meeting.solution.capitalize() for meeting in meetings),
        emergency=occasion.emergency,
    )


def draw(data: GuestLabelData) -> bytes:
    """Return the label as a one-page PDF; equal data gives equal bytes.

    Raises:
        DoesNotFit: More to say than the length of a sheet holds at the smallest type.
    """
    target = io.BytesIO()
    canvas = single_sheet(target, title=f"Guest bottle {data.issue.scan_code}: {data.name}", issue=data.issue)
    width, height = data.issue.paper.size()
    label_width = width / 2
    story, foot = _fitting(data, width=label_width - 2 * _EDGE, height=height)
    canvas.setFillColor(BLACK)
    stack(canvas, story, x=_EDGE, top=height - _EDGE, width=label_width - 2 * _EDGE)
    canvas.setFillColor(GREY)
    canvas.setFont(REGULAR, SMALLEST)
    for line, told in enumerate((f"{data.issue.lab_name}. Page 1 of 1.", data.issue.signature)):
        told = fitted(told, font=REGULAR, size=SMALLEST, width=label_width - 2 * _EDGE)
        canvas.drawString(_EDGE, foot + 7 * mm - line * 3.2 * mm, told)
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.setDash(4, 3)
    canvas.line(label_width, foot, label_width, height)
    canvas.line(0, foot, label_width, foot)
    canvas.save()
    return target.getvalue()


def _fitting(data: GuestLabelData, *, width: float, height: float) -> tuple[list[Flowable], float]:
    """The label in the largest type that fits, and where it ends on the sheet."""
    for foot in (height / 2, 0.0):
        for size in _SIZES:
            story = _story(data, size=size, width=width)
            if height_of(story, width) <= height - foot - _EDGE - _FOOT_HEIGHT:
                return story, foot
    raise DoesNotFit("The label has more to say than a sheet holds. Print this page instead.")


def _story(data: GuestLabelData, *, size: float, width: float) -> list[Flowable]:
    text = style(REGULAR, size, leading=1.25)
    story: list[Flowable] = [_head(data, size=size, width=width), gap(1.5)]
    story += [blocks.caution(head=NOT_OURS, body=data.conditions, width=width, size=size), gap(1.5)]
    if data.signal_word:
        story.append(words(data.signal_word, style(BOLD, 1.8 * size, leading=1.2)))
    if data.pictograms:
        story += [gap(0.8), _diamonds(data.pictograms), gap(0.8)]
    story += [words(line, style(MEDIUM, size, leading=1.25)) for line in data.statements or (NO_HAZARDS,)]
    if data.keep_from:
        story += [gap(1), words("Keep away from", style(BOLD, size))]
        story += [words(solution, text) for solution in data.keep_from]
    first, *rest = data.emergency
    return [*story, gap(1.5), words(first, style(BOLD, size, leading=1.25)), *(words(line, text) for line in rest)]


def _head(data: GuestLabelData, *, size: float, width: float) -> Table:
    left: list[Flowable] = [
        words("Guest bottle", style(MEDIUM, 9)),
        words(data.name, style(BOLD, 1.5 * size, leading=1.15)),
        words(f"{data.supplier} · {data.amount}", style(REGULAR, size, leading=1.25)),
        gap(0.8),
        words(f"Belongs to {data.whose}", style(MEDIUM, size, leading=1.25)),
        words(f"Here until {data.until}", style(BOLD, size, leading=1.25)),
    ]
    code = blocks.Figure(qr_code(data.issue.scan_address, title=data.issue.scan_code), width=_QR_SIDE)
    right, air = [code, words(data.issue.scan_code, style(BOLD, 9))], 3 * mm
    return grid([[left, right]], [width - _QR_SIDE - air, _QR_SIDE + air], ("LEFTPADDING", (1, 0), (1, 0), air))


def _diamonds(codes: Sequence[Pictogram]) -> Table:
    side = DIAGONAL * _PICTOGRAM_SIDE
    drawn: list[Flowable | str] = [blocks.Figure(pictogram(code), width=side) for code in codes]
    rows = [drawn[start : start + _ACROSS] for start in range(0, len(drawn), _ACROSS)]
    across = max(map(len, rows))
    return grid(
        [row + [""] * (across - len(row)) for row in rows], [side + 1 * mm] * across, valign="BOTTOM", hAlign="LEFT"
    )


GUEST_LABEL = Document(
    kind="guest bottle label",
    path="guest-label/<int:declaration_id>",
    may_see=Permission.SEE_LAB,
    may_issue=Permission.DECIDE_CHEMICAL,
    read=lambda form, declaration_id: OfDeclaration(declaration_id),
    written=lambda asked, data: {"declaration": asked.declaration_id},
    collect=collect,
    title=lambda data: f"Guest bottle label {data.issue.scan_code}",
    draw=draw,
    shows={"not_ours": NOT_OURS, "no_hazards": NO_HAZARDS},
    back=lambda form, asked: url_for("brought_in.show", declaration_id=asked.declaration_id),
)
