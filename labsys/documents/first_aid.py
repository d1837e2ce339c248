"""The first-aid card for the wall: one page in big type, what to do first; section 4 of each SDS comes first.

Source:
    Rinsing for 20 minutes: published advice ranges from 10 to 20; from memory. Rinsing with lids apart and lenses out,
    clothes off, fresh air, and not making anybody sick follow P305+P351+P338, P303+P361+P353, P304+P340 and
    P301+P330+P331 of CLP Annex IV. That alkali feels slippery and goes on burning, that nothing is neutralised on skin,
    and that an allergy can begin after years: common practice, no source.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

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
from labsys.people.permissions import Permission
from labsys.register import queries as register
from labsys.register.rows import RegisterRow, rows

CLOSING = "Section 4 of the supplier's SDS comes first: where it asks for more, do more. Take the SDS to hospital."
SOURCES = (
    "20 minutes: published advice ranges from 10 to 20 (from memory). The rest follows P301+P330+P331, P303+P361+P353, "
    "P304+P340 and P305+P351+P338 of CLP Annex IV, and common practice."
)
NO_EMERGENCY = "No emergency line is entered for this lab: the manager enters it, and this card is printed again."
NOT_STATED = "not stated: ask the lab's manager"
_LEFT = 42 * mm
_AIDS = (
    (
        "Eyes",
        "Rinse. 20 minutes.",
        "At once, lids held apart, lenses out if they come easily. Somebody else calls for help. Then hospital, with "
        "the SDS.",
        ("H314", "H318", "H319"),
    ),
    (
        "Skin",
        "Clothes off. Rinse. 20 minutes.",
        "Start under the clothes while they come off. Shoes and watch too. A rash, even days later: show it and say "
        "what you worked with.",
        ("H310", "H311", "H312", "H315", "H317"),
    ),
    (
        "Acid or alkali burn",
        "Rinse. Never neutralise.",
        "Nothing on it but water. Alkali feels slippery and burns on when it no longer hurts: keep rinsing. Then help.",
        ("H314",),
    ),
    (
        "Breathed in",
        "Out, to fresh air.",
        "Sit up, loosen the collar. Short of breath, chest tight, or asthma: call an ambulance. Nobody goes back in "
        "alone.",
        ("H330", "H331", "H332", "H334", "H335", "EUH031", "EUH032"),
    ),
    (
        "Swallowed",
        "Rinse the mouth. No vomiting.",
        "Sips of water if wide awake, nothing if not. Get help at once, with the SDS or the bottle in hand.",
        ("H300", "H301", "H302", "H314"),
    ),
)
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


def collect(session: DbSession, _: WholeLab, occasion: Occasion) -> FirstAidData:
    """Put together the card: our own words, and which products of this lab each accident can come from."""
    products = [
        row
        for row in rows(register.holdings(session, now=occasion.now), now=occasion.now, zone=occasion.zone)
        if not row.dilution
    ]
    return FirstAidData(
        issue=occasion.issue("/register", scan_code="the register"),
        emergency=occasion.lab.emergency,
        facts=(
            ("First aider", occasion.lab.first_aider),
            ("Eyewash", occasion.lab.eyewash),
            ("Spill kit", occasion.lab.spill_kit),
            ("Hospital", occasion.lab.hospital),
            ("Telephone here", occasion.lab.telephone),
            ("Out of hours", occasion.lab.out_of_hours),
            ("We are at", occasion.lab.address),
        ),
        aids=tuple(
            FirstAid(where, first, then, _names(row for row in products if set(row.codes) & set(codes)))
            for where, first, then, codes in _AIDS
        ),
    )


def _names(products: Iterable[RegisterRow]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(row.product.name for row in products))


def draw(data: FirstAidData) -> bytes:
    """Return the card as a one-page PDF; equal data gives equal bytes.

    Raises:
        DoesNotFit: More to say than one page holds at the smallest type.
    """
    width = text_width(data.issue.paper)
    room = data.issue.paper.size()[1] - HEAD - FOOT
    for size in _SIZES:
        if height_of(_story(data, width, size), width) <= room:
            return bind(_story(data, width, size), title="First aid", issue=data.issue, closing=CLOSING)
    raise DoesNotFit("The card does not fit a page. Print this page instead.")


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
    return grid(rows, [_LEFT, width - _LEFT], ("BOTTOMPADDING", *ALL, 0.6 * mm))


def _aid(aid: FirstAid, width: float, size: float) -> Flowable:
    told: list[Flowable] = [
        words(aid.first, style(BOLD, 1.6 * size, leading=1.15)),
        words(aid.then, style(REGULAR, size, leading=1.25)),
    ]
    if aid.products:
        told.append(words(f"Here: {'; '.join(aid.products)}.", style(REGULAR, max(7.5, 0.7 * size), leading=1.25)))
    return grid(
        [[words(aid.where, style(BOLD, 1.2 * size, leading=1.15)), told]],
        [_LEFT, width - _LEFT],
        ("RIGHTPADDING", (0, 0), (0, -1), 3 * mm),
        ("LINEABOVE", (0, 0), (-1, 0), 0.8, BLACK, 0),
        ("TOPPADDING", *ALL, 1.4 * mm),
        ("BOTTOMPADDING", *ALL, 2.4 * mm),
    )


FIRST_AID = Document(
    kind="first-aid card",
    path="first-aid",
    may_see=Permission.SEE_LAB,
    may_issue=Permission.ISSUE_REGISTER,
    read=lambda form: WholeLab(),
    written=lambda asked, data: {},
    collect=collect,
    title=lambda data: "First-aid card",
    draw=draw,
    shows={"closing": CLOSING, "sources": SOURCES},
)
