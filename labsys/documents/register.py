"""The chemical register as a document: every product and working solution, hazards, where, SDS, confirmation."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from labsys.database import DbSession
from labsys.documents import blocks
from labsys.documents.blocks import Column, caution, gap, masthead, ruled_table, words
from labsys.documents.document import Document, WholeLab
from labsys.documents.fonts import REGULAR
from labsys.documents.occasion import Occasion
from labsys.documents.page import Issue, bind, text_width
from labsys.drawing.pdf import paint
from labsys.drawing.pictograms import Pictogram, pictogram
from labsys.hazards.protective import DEFERENCE
from labsys.people.permissions import Permission
from labsys.register import queries as register
from labsys.register.rows import RegisterRow, rows
from labsys.timetable.local_time import day_words

CLOSING = f"Hazards of working solutions are estimates, worked out from the SDS of the product. {DEFERENCE}"
_SIDE = 9 * mm


@dataclass(frozen=True, slots=True)
class PrintedRow:
    """One product or working solution, every text ready to print; `concerns` are what is missing or overdue."""

    what: str
    hazards: str
    pictograms: tuple[Pictogram, ...]
    where: str
    sds: str
    confirmed: str
    assessed: str
    marks: tuple[str, ...] = ()
    concerns: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RegisterData:
    """All that the summary prints."""

    issue: Issue
    as_of: str
    rows: tuple[PrintedRow, ...] = ()

    @property
    def verdict(self) -> str:
        """How much is missing or overdue, as a sentence."""
        count = sum(1 for row in self.rows if row.concerns)
        if not count:
            return "Every product is confirmed against its SDS, and nothing is overdue."
        if count == 1:
            return "1 product has something missing or overdue; they come first."
        return f"{count} products have something missing or overdue; they come first."


def collect(session: DbSession, _: WholeLab, occasion: Occasion) -> RegisterData:
    """Read the register as it stands now."""
    registered = rows(register.holdings(session, now=occasion.now), now=occasion.now, zone=occasion.zone)
    return RegisterData(
        issue=occasion.issue("/register", scan_code="the register"),
        as_of=occasion.day(occasion.now),
        rows=tuple(_row(row, occasion) for row in registered),
    )


def _row(row: RegisterRow, occasion: Occasion) -> PrintedRow:
    label = row.label
    told = [f"{code} {text}" for code, text in (*label.hazard_statements, *label.euh_statements)]
    signal = f"{label.signal_word}. " if label.signal_word else ""
    marks = [f"Skin sensitiser: {', '.join(row.hazards.skin_sensitisers)}"] if row.hazards.skin_sensitisers else []
    product, confirmed = row.product, row.confirmed
    return PrintedRow(
        what=f"{row.title}\n{row.kind.capitalize()}, {'working solution' if row.dilution else product.supplier}",
        hazards=f"{signal}{' '.join(told) or 'No hazard statement.'}\n({row.hazards.basis})",
        pictograms=tuple(Pictogram(code) for code in label.pictograms),
        where="\n".join(somewhere.in_words for somewhere in row.whereabouts) or "none now",
        sds=f"{day_words(product.sds_date) if product.sds_date else 'no date'}\n{row.standing.sds}",
        assessed="\n".join(row.assessed_in_words.split("; ")),
        confirmed=f"{confirmed.confirmed_by.name}\n{occasion.day(confirmed.confirmed_at)}"
        if confirmed
        else "not confirmed",
        marks=(*marks, *(f"Restricted. {restriction}" for restriction in row.restrictions)),
        concerns=row.concerns,
    )


def draw(data: RegisterData) -> bytes:
    """Return the summary as a PDF, lying on its long side; equal data gives equal bytes."""
    width = text_width(data.issue.paper, landscape=True)
    return bind(_story(data, width), title="Chemical register", issue=data.issue, closing=CLOSING, landscape=True)


class _Strip(Flowable):
    """Pictograms beside each other, as many a row as fit."""

    def __init__(self, codes: Sequence[Pictogram]) -> None:
        super().__init__()
        self.codes = codes
        self.across = 1

    def wrap(self, width: float, _: float) -> tuple[float, float]:
        self.across = max(1, int(width / _SIDE))
        return (width, -(-len(self.codes) // self.across) * _SIDE)

    def draw(self) -> None:
        for number, code in enumerate(self.codes):
            row, place = divmod(number, self.across)
            top = -(-len(self.codes) // self.across) * _SIDE - row * _SIDE
            paint(pictogram(code), self.canv, x=place * _SIDE, y=top, width=_SIDE, font=REGULAR)


def _story(data: RegisterData, width: float) -> Iterator[Flowable]:
    yield masthead(
        title="Chemical register",
        lead=f"Every product and every working solution, as it stood {data.as_of}.",
        issue=data.issue,
        width=width,
    )
    yield gap(3)
    if any(row.concerns for row in data.rows):
        yield caution(head=data.verdict, width=width)
    else:
        yield blocks.notice(data.verdict, width=width)
    yield gap(3)
    if not data.rows:
        yield words("No product is entered.")
        return
    yield from ruled_table(
        (
            Column("Product or working solution", 5),
            Column("Pictograms", 2.2),
            Column("Hazards", 6),
            Column("Where now", 6),
            Column("SDS of", 2.1),
            Column("Confirmed", 2.6),
            Column("Assessed", 2.6),
        ),
        [
            (
                "\n".join((row.what, *row.marks, *(f"Look: {concern}" for concern in row.concerns))),
                _Strip(row.pictograms) if row.pictograms else "none",
                row.hazards,
                row.where,
                row.sds,
                row.confirmed,
                row.assessed,
            )
            for row in data.rows
        ],
        width=width,
        edged={number for number, row in enumerate(data.rows) if row.concerns},
    )


REGISTER = Document(
    kind="chemical register",
    path="register",
    may_see=Permission.SEE_LAB,
    may_issue=Permission.ISSUE_REGISTER,
    read=lambda form: WholeLab(),
    written=lambda asked, data: {},
    collect=collect,
    title=lambda data: "Chemical register",
    draw=draw,
    shows={"closing": CLOSING},
)
