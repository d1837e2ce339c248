"""The waste log: every litre from mixing to collection, container by container, and whether the sums agree."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, Table

from labsys.documents import blocks
from labsys.documents.blocks import Column, caution, gap, ruled_table, words
from labsys.documents.page import Issue, bind, text_width
from labsys.drawing.graduate import Liquid, graduate
from labsys.quantities import MG_PER_G, UL_PER_L, UL_PER_ML, show_mass, show_volume

CLOSING = "Silver is an estimate, never a measurement. The carrier's note and the local code come first."


@dataclass(frozen=True, slots=True)
class SilverRange:
    """The least and the most silver a pour may have held, estimated. [mg]"""

    low_mg: int
    high_mg: int

    def __str__(self) -> str:
        if self.high_mg < MG_PER_G:
            return f"{self.low_mg} to {self.high_mg} mg"
        return f"{self.low_mg / MG_PER_G:.1f} to {self.high_mg / MG_PER_G:.1f} g"


@dataclass(frozen=True, slots=True)
class Pour:
    """One pour into a container; `wrong_because` is empty for a pour that belonged there."""

    poured_at: str
    bath: str
    volume_ul: int
    silver: SilverRange | None
    by: str
    wrong_because: str = ""


@dataclass(frozen=True, slots=True)
class Collection:
    """One collection of a container. The carrier may give a weight, a volume, both or neither."""

    collected_on: str
    note_code: str
    carrier: str
    book_ul: int
    carrier_ul: int | None = None
    weight_mg: int | None = None


@dataclass(frozen=True, slots=True)
class Container:
    """One waste container over the period, its level as it stands at the end of it.

    `quarantined_because` is empty unless nobody may use or collect it before someone has decided.
    """

    code: str
    stream: str
    waste_code: str
    opened_at: str
    closed_at: str
    level_ul: int
    capacity_ul: int
    pours: tuple[Pour, ...] = ()
    collections: tuple[Collection, ...] = ()
    quarantined_because: str = ""


@dataclass(frozen=True, slots=True)
class BalanceLine:
    """One line of the balance: where liquid came from or where it is now."""

    named: str
    volume_ul: int
    estimate: bool = False


@dataclass(frozen=True, slots=True)
class Balance:
    """What came in and where it went. `unexplained_ul` is what the lab has written down as unexplained."""

    came_in: tuple[BalanceLine, ...]
    went: tuple[BalanceLine, ...]
    unexplained_ul: int = 0

    @property
    def in_ul(self) -> int:
        """All that came in. [µL]"""
        return sum(line.volume_ul for line in self.came_in)

    @property
    def accounted_ul(self) -> int:
        """All that is written down as being somewhere, the unexplained included. [µL]"""
        return sum(line.volume_ul for line in self.went) + self.unexplained_ul


@dataclass(frozen=True, slots=True)
class WasteLogData:
    """All that a waste log prints."""

    issue: Issue
    period: str
    balance: Balance
    containers: tuple[Container, ...] = ()


def draw(data: WasteLogData) -> bytes:
    """Return the waste log as a PDF; equal data gives equal bytes."""
    title = f"Waste log, {data.period}"
    return bind(_story(data), title=title, issue=data.issue, closing=CLOSING)


def verdict(balance: Balance) -> str:
    """Return whether the sums agree, or by how much they do not, as a sentence.

    >>> verdict(Balance((BalanceLine("tap", 5_000_000),), (BalanceLine("now in baths", 5_000_000),)))
    'The sums agree: 5.00 L came in and all of it is accounted for.'
    """
    missing = balance.in_ul - balance.accounted_ul
    if missing:
        more, less = ("came in", "is accounted for") if missing > 0 else ("is accounted for", "came in")
        return f"The sums do not agree: {litres(abs(missing))} more {more} than {less}. Look for a missing entry."
    if balance.unexplained_ul:
        amount = litres(abs(balance.unexplained_ul))
        change = "lost" if balance.unexplained_ul > 0 else "gained"
        came_in = litres(balance.in_ul)
        return f"The sums agree only with {amount} {change} and written down as unexplained; {came_in} came in."
    return f"The sums agree: {litres(balance.in_ul)} came in and all of it is accounted for."


def litres(ul: int) -> str:
    """Return a volume in litres with two decimals, so that a column of them can be added by eye.

    >>> litres(18_240_000), litres(-350_000)
    ('18.24 L', '−0.35 L')
    """
    return f"{'−' if ul < 0 else ''}{Decimal(abs(ul)) / UL_PER_L:,.2f} L"


def millilitres(ul: int) -> str:
    """Return a volume as a bare number of whole millilitres, for a column that says so.

    >>> millilitres(1_049_000)
    '1,049'
    """
    return f"{round(Decimal(ul) / UL_PER_ML):,}"


def _story(data: WasteLogData) -> Iterator[Flowable]:
    width = text_width(data.issue.paper)
    count = len(data.containers)
    pours = sum(len(container.pours) for container in data.containers)
    lead = f"{data.period}. {count} {_many('container', count)}, {pours} {_many('pour', pours)}."
    yield blocks.masthead(title="Waste log", lead=lead, issue=data.issue, width=width)
    yield gap(4)
    yield from _balance(data.balance, width)
    for container in data.containers:
        yield gap(9)
        yield CondPageBreak(75 * mm)
        yield from _container(container, width)


def _many(noun: str, count: int) -> str:
    return noun if count == 1 else f"{noun}s"


def _balance(balance: Balance, width: float) -> Iterator[Flowable]:
    said = verdict(balance)
    if balance.in_ul == balance.accounted_ul and not balance.unexplained_ul:
        yield words(said, blocks.SAYING)
    else:
        yield caution(head=said, width=width)
    yield gap(3)
    came_in = [(line.named, litres(line.volume_ul)) for line in balance.came_in]
    yield from ruled_table(
        (Column("Came in", 3), Column("Litres", 1, figures=True)),
        [*came_in, ("In all", litres(balance.in_ul))],
        width=width,
        strong={len(came_in)},
    )
    yield gap(4)
    went = [
        (f"{line.named}, estimate" if line.estimate else line.named, litres(line.volume_ul)) for line in balance.went
    ]
    went.append(("Unexplained", litres(balance.unexplained_ul)))
    yield from ruled_table(
        (Column("Where it is now, or went", 3), Column("Litres", 1, figures=True)),
        [*went, ("Accounted for", litres(balance.accounted_ul))],
        width=width,
        strong={len(went)},
    )
    yield gap(1.5)
    yield words("Each line is rounded to 0.01 L; the sums are exact.", blocks.NOTE)


def _container(container: Container, width: float) -> Iterator[Flowable]:
    yield _heading(container, width)
    if container.quarantined_because:
        yield gap(3)
        yield caution(
            head=f"Quarantined: do not pour into {container.code}, do not hand it over.",
            body=container.quarantined_because,
            width=width,
        )
    yield gap(3)
    yield from _pours(container, width)
    if container.collections:
        yield gap(4)
        yield from _collections(container, width)


def _heading(container: Container, width: float) -> Table:
    held = f"{show_volume(container.level_ul)} of {show_volume(container.capacity_ul)}"
    condition = "quarantined" if container.quarantined_because else "in use" if not container.closed_at else "closed"
    gauge = blocks.Figure(
        graduate(
            level_ml=container.level_ul / UL_PER_ML,
            capacity_ml=container.capacity_ul / UL_PER_ML,
            liquid=Liquid.EXHAUSTED if container.quarantined_because else Liquid.PLENTY,
            title=f"{container.code}: {held}, {condition}",
        ),
        width=18 * mm,
    )
    opened = f"Opened {container.opened_at}, " + (
        f"closed {container.closed_at}." if container.closed_at else "still open."
    )
    told = [
        words(f"{container.stream} · {container.code}", blocks.HEADING),
        gap(1),
        words(f"Holds {held}, {condition}", blocks.SAYING),
        gap(1),
        words(f"List of Waste {container.waste_code}", blocks.BODY),
        words(opened, blocks.BODY),
    ]
    head = Table([[gauge, told]], colWidths=[25 * mm, width - 25 * mm])
    head.setStyle([*blocks.TIGHT, ("VALIGN", (0, 0), (-1, -1), "TOP")])
    return head


def _pours(container: Container, width: float) -> Iterator[Flowable]:
    if not container.pours:
        yield words("Nothing was poured into it in this period.")
        return
    rows = [
        (
            pour.poured_at,
            f"{pour.bath}\nWrong: {pour.wrong_because}" if pour.wrong_because else pour.bath,
            millilitres(pour.volume_ul),
            str(pour.silver) if pour.silver else "not estimated",
            pour.by,
        )
        for pour in container.pours
    ]
    total = millilitres(sum(pour.volume_ul for pour in container.pours))
    rows.append((f"{len(rows)} {_many('pour', len(rows))}", "", total, _silver_in_all(container.pours), ""))
    yield from ruled_table(
        (
            Column("Poured", 3),
            Column("What", 5.6),
            Column("mL", 1.5, figures=True),
            Column("Silver, estimate", 3, figures=True),
            Column("By", 3.9),
        ),
        rows,
        width=width,
        strong={len(container.pours)},
        edged={number for number, pour in enumerate(container.pours) if pour.wrong_because},
    )


def _silver_in_all(pours: tuple[Pour, ...]) -> str:
    known = [pour.silver for pour in pours if pour.silver]
    if not known:
        return "not estimated"
    total = str(SilverRange(sum(silver.low_mg for silver in known), sum(silver.high_mg for silver in known)))
    unknown = len(pours) - len(known)
    return f"{total}\nbesides {unknown} not estimated" if unknown else total


def _collections(container: Container, width: float) -> Iterator[Flowable]:
    rows = [
        (
            collection.collected_on,
            f"{collection.note_code}\n{collection.carrier}",
            "" if collection.weight_mg is None else show_mass(collection.weight_mg),
            litres(collection.book_ul),
            "" if collection.carrier_ul is None else litres(collection.carrier_ul),
            "" if collection.carrier_ul is None else litres(collection.carrier_ul - collection.book_ul),
        )
        for collection in container.collections
    ]
    yield from ruled_table(
        (
            Column("Collected", 2.6),
            Column("Consignment note code, carrier", 5.4),
            Column("Weight", 2, figures=True),
            Column("By our book", 2.2, figures=True),
            Column("By carrier", 2.2, figures=True),
            Column("Difference", 2.2, figures=True),
        ),
        rows,
        width=width,
    )
