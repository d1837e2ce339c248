"""The first-aid card for the wall: one page in big type, what to do first; section 4 of each SDS comes first.

Source:
    Rinsing for 20 minutes: published advice ranges from 10 to 20; from memory. Rinsing with lids apart and lenses out,
    clothes off, fresh air, and not making anybody sick follow P305+P351+P338, P303+P361+P353, P304+P340 and
    P301+P330+P331 of CLP Annex IV. That alkali feels slippery and goes on burning, that nothing is neutralised on skin,
    and that an allergy can begin after years: common practice, no source.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Table

from labsys.documents import blocks
from labsys.documents.blocks import TIGHT, caution, gap, masthead, style, words
from labsys.documents.fonts import BOLD, REGULAR
from labsys.documents.page import BLACK, FOOT, HEAD, Issue, bind, text_width

CLOSING = "Section 4 of the supplier's SDS comes first: where it asks for more, do more. Take the SDS to hospital."
SOURCES = (
    "20 minutes: published advice ranges from 10 to 20 (from memory). The rest follows P301+P330+P331, P303+P361+P353, "
    "P304+P340 and P305+P351+P338 of CLP Annex IV, and common practice."
)
NO_EMERGENCY = "No emergency line is entered for this lab: the manager enters it, and this card is printed again."
NOT_STATED = "not stated: ask the lab's manager"
_LEFT = 42 * mm
_SIZES = (14.0, 13.0, 12.0, 11.0, 10.0, 9.0)


@dataclass(frozen=True, slots=True)
class FirstAid:
    """One kind of accident: where, what to do first in large type, then what; `products` of this lab that can do it."""

    where: str
    first: str
    then: str
    products: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FirstAidData:
    """All that the card prints."""

    issue: Issue
    emergency: str
    facts: tuple[tuple[str, str], ...]
    aids: tuple[FirstAid, ...]

    @property
    def stated(self) -> list[tuple[str, str]]:
        """Where help is in this lab; what nobody has stated is said to be so, never left out."""
        return [(name, text or NOT_STATED) for name, text in self.facts]

    @property
    def call(self) -> str:
        return f"Help here: {self.emergency}" if self.emergency else NO_EMERGENCY


class CardOverflow(ValueError):
    """The card has more products to name than one page holds."""


def draw(data: FirstAidData) -> bytes:
    """Return the card as a one-page PDF; equal data gives equal bytes.

    Raises:
        CardOverflow: More to say than one page holds at the smallest type.
    """
    width = text_width(data.issue.paper)
    room = data.issue.paper.size()[1] - HEAD - FOOT
    for size in _SIZES:
        if sum(one.wrap(width, room)[1] for one in _story(data, width, size)) <= room:
            return bind(_story(data, width, size), title="First aid", issue=data.issue, closing=CLOSING)
    raise CardOverflow("the first-aid card does not fit a page")


def _story(data: FirstAidData, width: float, size: float) -> Iterator[Flowable]:
    yield masthead(title="First aid", lead="Help first. Write it down later.", issue=data.issue, width=width)
    yield gap(2)
    yield caution(head=data.call, width=width, size=size + 3)
    yield gap(1)
    yield _where(data.stated, width, size)
    yield gap(1.5)
    for aid in data.aids:
        yield _aid(aid, width, size)
    yield gap(2)
    yield words(f"{CLOSING} {SOURCES}", blocks.NOTE)


def _where(stated: Sequence[tuple[str, str]], width: float, size: float) -> Flowable:
    rows = [
        [words(name, style(BOLD, size, leading=1.15)), words(text, style(REGULAR, size, leading=1.15))]
        for name, text in stated
    ]
    table = Table(rows, colWidths=[_LEFT, width - _LEFT])
    table.setStyle([*TIGHT, ("VALIGN", (0, 0), (-1, -1), "TOP"), ("BOTTOMPADDING", (0, 0), (-1, -1), 0.6 * mm)])
    return table


def _aid(aid: FirstAid, width: float, size: float) -> Flowable:
    told: list[Flowable] = [
        words(aid.first, style(BOLD, 1.6 * size, leading=1.15)),
        words(aid.then, style(REGULAR, size, leading=1.25)),
    ]
    if aid.products:
        told.append(words(f"Here: {'; '.join(aid.products)}.", style(REGULAR, max(7.5, 0.7 * size), leading=1.25)))
    row = Table([[words(aid.where, style(BOLD, 1.2 * size, leading=1.15)), told]], colWidths=[_LEFT, width - _LEFT])
    row.setStyle(
        [
            *TIGHT,
            ("RIGHTPADDING", (0, 0), (0, -1), 3 * mm),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LINEABOVE", (0, 0), (-1, 0), 0.8, BLACK, 0),
            ("TOPPADDING", (0, 0), (-1, -1), 1.4 * mm),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.4 * mm),
        ]
    )
    return row
