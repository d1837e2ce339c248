"""The first-aid card for the wall: one page in big type, what to do first; section 4 of each SDS comes first.

Its words are those of `labsys.hazards.first_aid`, its numbers and places those of `labsys.lab.emergency`.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from labsys.database import DbSession
from labsys.documents import blocks
from labsys.documents.blocks import ALL, caution, gap, grid, height_of, masthead, style, words
from labsys.documents.document import Document, WholeLab
from labsys.documents.fonts import BOLD, REGULAR
from labsys.documents.occasion import Occasion
from labsys.documents.page import BLACK, FOOT, HEAD, Issue, bind, text_width
from labsys.documents.rules import DoesNotFit
from labsys.hazards.first_aid import FIRST_AID, HELP_FIRST, SDS_FIRST, SOURCES, SPILLS, FirstAid, Spill
from labsys.lab.emergency import Emergency, emergency_of
from labsys.people.permissions import Permission
from labsys.register import queries as register
from labsys.register.rows import RegisterRow, rows

_LEFT = 42 * mm
_LARGE = 18.0  # what to do first reads across a room, unless the smallest type alone has room for the rest [pt]
_SIZES = (14.0, 13.0, 12.0, 11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5)


@dataclass(frozen=True, slots=True)
class Accident:
    """One kind of accident, and the `products` of this lab that it can come from."""

    aid: FirstAid
    products: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FirstAidData:
    """All that the card prints."""

    issue: Issue
    emergency: Emergency
    accidents: tuple[Accident, ...]
    spills: tuple[Spill, ...] = SPILLS


def collect(session: DbSession, _: WholeLab, occasion: Occasion) -> FirstAidData:
    """Put together the card, and which products of this lab each accident can come from."""
    products = [
        row
        for row in rows(register.holdings(session, now=occasion.now), now=occasion.now, zone=occasion.zone)
        if not row.dilution
    ]
    return FirstAidData(
        issue=occasion.issue("/register", scan_code="the register"),
        emergency=emergency_of(occasion.lab),
        accidents=tuple(
            Accident(aid, _names(row for row in products if set(row.codes) & set(aid.codes))) for aid in FIRST_AID
        ),
    )


def _names(products: Iterable[RegisterRow]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(row.product.name for row in products))


def draw(data: FirstAidData) -> bytes:
    """Return the card as a one-page PDF; equal data gives equal bytes.

    Raises:
        DoesNotFit: More to say than one page holds at the smallest type.
    """
    story = fitted_story(data, text_width(data.issue.paper))
    return bind(story, title="First aid", issue=data.issue, closing=SDS_FIRST)


def fitted_story(data: FirstAidData, width: float) -> Iterator[Flowable]:
    """The card in the largest type in which it fits a page. Raises DoesNotFit."""
    room = data.issue.paper.size()[1] - HEAD - FOOT
    for size in _SIZES:
        if height_of(_story(data, width, size), width) <= room:
            return _story(data, width, size)
    raise DoesNotFit("The card does not fit a page. Print this page instead.")


def _story(data: FirstAidData, width: float, size: float) -> Iterator[Flowable]:
    yield masthead(title="First aid", lead=HELP_FIRST, issue=data.issue, width=width)
    yield gap(2)
    yield caution(head=data.emergency.call, width=width, size=size + 3)
    yield gap(1)
    yield _where(data.emergency.facts, width, size)
    yield gap(1.5)
    for accident in data.accidents:
        yield _accident(accident, width, size)
    yield gap(1)
    yield _spills(data.spills, width, size)
    yield gap(1)
    yield words(SOURCES, blocks.NOTE)


def _where(stated: Sequence[tuple[str, str]], width: float, size: float) -> Flowable:
    small = max(7.5, 0.85 * size)
    rows = [
        [words(name, style(BOLD, small, leading=1.15)), words(text, style(REGULAR, small, leading=1.15))]
        for name, text in stated
    ]
    return grid(rows, [_LEFT, width - _LEFT], ("BOTTOMPADDING", *ALL, 0.4 * mm))


def _accident(accident: Accident, width: float, size: float) -> Flowable:
    aid = accident.aid
    told: list[Flowable] = [
        words(aid.first, style(BOLD, max(min(_LARGE, 2.1 * size), 1.6 * size), leading=1.05)),
        words(aid.then, style(REGULAR, size, leading=1.2)),
    ]
    if accident.products:
        told.append(words(f"Here: {'; '.join(accident.products)}.", style(REGULAR, max(7.5, 0.7 * size), leading=1.2)))
    return grid(
        [[words(aid.where, style(BOLD, 1.2 * size, leading=1.15)), told]],
        [_LEFT, width - _LEFT],
        ("RIGHTPADDING", (0, 0), (0, -1), 3 * mm),
        ("LINEABOVE", (0, 0), (-1, 0), 0.8, BLACK, 0),
        ("TOPPADDING", *ALL, 0.6 * mm),
        ("BOTTOMPADDING", *ALL, 0.8 * mm),
    )


def _spills(spills: Sequence[Spill], width: float, size: float) -> Flowable:
    """What to do about each kind, in two columns."""
    text = style(REGULAR, max(7.5, 0.8 * size), leading=1.2)
    told = [words(f"{spill.kind}: {spill.do}", text) for spill in spills]
    rows = list(zip_longest(told[::2], told[1::2], fillvalue=""))
    columns = grid([list(row) for row in rows], [width / 2] * 2, ("RIGHTPADDING", *ALL, 3 * mm))
    return grid(
        [[words("Spilled", style(BOLD, 1.2 * size, leading=1.15))], [columns]],
        [width],
        ("LINEABOVE", (0, 0), (-1, 0), 0.8, BLACK, 0),
        ("TOPPADDING", *ALL, 0.6 * mm),
    )


FIRST_AID_CARD = Document(
    kind="first-aid card",
    path="first-aid",
    may_see=Permission.SEE_LAB,
    may_issue=Permission.ISSUE_REGISTER,
    read=lambda form: WholeLab(),
    written=lambda asked, data: {},
    collect=collect,
    title=lambda data: "First-aid card",
    draw=draw,
    shows={"closing": SDS_FIRST, "sources": SOURCES},
)
