"""The waste log: every litre from mixing to collection, container by container, and whether the sums agree."""

from collections.abc import Iterator

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, Table

from labsys.documents import blocks
from labsys.documents.blocks import Column, caution, gap, grid, ruled_table, words
from labsys.documents.page import bind, text_width
from labsys.documents.waste_log.data import (
    NO_SILVER,
    NOT_ESTIMATED,
    Balance,
    BalanceLine,
    Container,
    Correction,
    Discharge,
    Pour,
    Powders,
    SilverRange,
    StoreRow,
    StreamTotal,
    WasteLogData,
    litres,
    millilitres,
    signed,
    verdict,
)
from labsys.drawing.graduate import Liquid, graduate
from labsys.quantities import UL_PER_ML, show_mass, show_volume

CLOSING = "Silver is an estimate, never a measurement. The carrier's note and the local code come first."


def draw(data: WasteLogData) -> bytes:
    """Return the waste log as a PDF; equal data gives equal bytes."""
    title = f"Waste log, {data.period}"
    return bind(_story(data), title=title, issue=data.issue, closing=CLOSING)


def _story(data: WasteLogData) -> Iterator[Flowable]:
    width = text_width(data.issue.paper)
    count = len(data.containers)
    pours = sum(len(container.pours) for container in data.containers)
    lead = f"{data.period}. {count} {_many('container', count)}, {pours} {_many('pour', pours)}."
    yield blocks.masthead(title="Waste log", lead=lead, issue=data.issue, width=width)
    yield gap(3)
    yield from _balance(data.balance, width)
    if data.streams:
        yield gap(4)
        yield from _streams(data.streams, width)
    for container in data.containers:
        yield gap(6)
        yield CondPageBreak((70 if container.quarantined_because else 52) * mm)
        yield from _container(container, width)
    for heading, table in (
        ("To the foul sewer", _discharges(data.discharges, width)),
        ("Levels corrected", _corrections(data.corrections, width)),
        ("Found in the store, against the book", _store_rows(data.found_in_store, width)),
        ("Left the store in other ways", _store_rows(data.left_the_store, width)),
        ("Powders, by weight", _powders(data.powders, width)),
    ):
        rows = list(table)
        if rows:
            yield gap(6)
            yield CondPageBreak(30 * mm)
            yield words(heading, blocks.HEADING)
            yield gap(1)
            yield from rows


def _many(noun: str, count: int) -> str:
    return noun if count == 1 else f"{noun}s"


def _balance(balance: Balance, width: float) -> Iterator[Flowable]:
    said = verdict(balance)
    if balance.in_ul == balance.accounted_ul and not balance.unexplained_ul:
        yield blocks.notice(said, width=width)
    else:
        yield caution(head=said, width=width, size=11)
    yield gap(3)
    between = 7 * mm
    went = [*_lines(balance.went), ("Unexplained", litres(balance.unexplained_ul))]
    yield blocks.side_by_side(
        _sum("Came in", _lines(balance.came_in), total=("In all", litres(balance.in_ul)), width=(width - between) / 2),
        _sum(
            "Where it is now, or went",
            went,
            total=("Accounted for", litres(balance.accounted_ul)),
            width=(width - between) / 2,
        ),
        width=width,
        between=between,
    )
    yield gap(1)
    yield words("Each line is rounded to 0.01 L; the sums are exact.", blocks.NOTE)


def _lines(lines: tuple[BalanceLine, ...]) -> list[tuple[str, str]]:
    return [(f"{line.named}, estimate" if line.estimate else line.named, litres(line.volume_ul)) for line in lines]


def _sum(head: str, rows: list[tuple[str, str]], *, total: tuple[str, str], width: float) -> Iterator[Flowable]:
    columns = (Column(head, 3), Column("Litres", 1, figures=True))
    return ruled_table(columns, [*rows, total], width=width, strong={len(rows)})


def _streams(streams: tuple[StreamTotal, ...], width: float) -> Iterator[Flowable]:
    rows = [
        (one.stream, one.waste_code, litres(one.poured_ul), litres(one.collected_ul), litres(one.here_ul))
        for one in streams
    ]
    poured, collected, here = (
        litres(sum(amounts))
        for amounts in zip(*((one.poured_ul, one.collected_ul, one.here_ul) for one in streams), strict=True)
    )
    yield from ruled_table(
        (
            Column("Stream of waste", 3.4),
            Column("List of Waste", 2),
            Column("Poured in the period", 2.4, figures=True),
            Column("Collected, by our book", 2.4, figures=True),
            Column("Still here at the end", 2.4, figures=True),
        ),
        [*rows, ("All streams", "", poured, collected, here)],
        width=width,
        strong={len(rows)},
    )


def _container(container: Container, width: float) -> Iterator[Flowable]:
    yield _heading(container, width)
    if container.quarantined_because:
        yield gap(2)
        yield caution(head=f"In quarantine. {container.quarantined_because}", body=container.advice, width=width)
    yield gap(2)
    yield from _pours(container, width)
    if container.collections:
        yield gap(2)
        yield from _collections(container, width)


def _heading(container: Container, width: float) -> Table:
    held = f"{show_volume(container.level_ul)} of {show_volume(container.capacity_ul)}"
    condition = "in quarantine" if container.quarantined_because else "closed" if container.closed_at else "in use"
    gauge = blocks.Figure(
        graduate(
            level_ml=container.level_ul / UL_PER_ML,
            capacity_ml=container.capacity_ul / UL_PER_ML,
            liquid=Liquid.EXHAUSTED if container.quarantined_because else Liquid.PLENTY,
            title=f"{container.code}: {held}, {condition}",
        ),
        width=12 * mm,
    )
    opened = f"Opened {container.opened_at}, " + (
        f"closed {container.closed_at}." if container.closed_at else "still open."
    )
    told = [
        words(f"{container.stream} · {container.code}", blocks.HEADING),
        words(f"Holds {held}, {condition}", blocks.SAYING),
        words(f"List of Waste {container.waste_code}", blocks.BODY),
        words(opened, blocks.BODY),
    ]
    return grid([[gauge, told]], [17 * mm, width - 17 * mm])


def _pours(container: Container, width: float) -> Iterator[Flowable]:
    if not container.pours:
        yield words("Nothing was poured into it in this period.")
        return
    rows = [
        (
            pour.poured_at,
            _flagged(pour.bath, wrong_because=pour.wrong_because),
            millilitres(pour.volume_ul),
            pour.silver_in_words,
            pour.by,
        )
        for pour in container.pours
    ]
    total = millilitres(sum(pour.volume_ul for pour in container.pours))
    rows.append((f"{len(rows)} {_many('pour', len(rows))}", "", total, _silver_in_all(container.pours), ""))
    yield from ruled_table(
        (
            Column("Poured", 3),
            Column("What", 6.6),
            Column("mL", 1.5, figures=True),
            Column("Silver, estimate", 2.9, figures=True),
            Column("By", 3),
        ),
        rows,
        width=width,
        strong={len(container.pours)},
        edged={number for number, pour in enumerate(container.pours) if pour.wrong_because},
    )


def _flagged(what: str, *, wrong_because: str) -> str:
    return f"{what}\nWrong: {wrong_because}" if wrong_because else what


def _silver_in_all(pours: tuple[Pour, ...]) -> str:
    known = [pour.silver for pour in pours if pour.silver]
    unknown = sum(pour.holds_silver for pour in pours if not pour.silver)
    if not known:
        return NOT_ESTIMATED if unknown else NO_SILVER
    total = str(SilverRange(sum(silver.low_mg for silver in known), sum(silver.high_mg for silver in known)))
    return f"{total}\nbesides {unknown} not estimated" if unknown else total


def _collections(container: Container, width: float) -> Iterator[Flowable]:
    rows = [
        (
            collection.collected_on,
            f"{collection.note_code}\n{collection.carrier}\nHazardous properties: {collection.properties}",
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


def _discharges(discharges: tuple[Discharge, ...], width: float) -> Iterator[Flowable]:
    return ruled_table(
        (
            Column("Discharged", 3),
            Column("What", 6),
            Column("List of Waste", 2.1),
            Column("mL", 1.5, figures=True),
            Column("By", 3),
        ),
        [
            (
                one.discharged_at,
                "\n".join(filter(None, (_flagged(one.what, wrong_because=one.wrong_because), one.measured))),
                one.waste_code,
                millilitres(one.volume_ul),
                one.by,
            )
            for one in discharges
        ],
        width=width,
        edged={number for number, one in enumerate(discharges) if one.wrong_because},
    )


def _corrections(corrections: tuple[Correction, ...], width: float) -> Iterator[Flowable]:
    return ruled_table(
        (
            Column("Corrected", 3),
            Column("Container", 6),
            Column("Found, against the book", 3.6, figures=True),
            Column("By", 3),
        ),
        [(one.corrected_at, f"{one.stream} {one.container}", signed(one.difference_ul), one.by) for one in corrections],
        width=width,
    )


def _store_rows(rows: tuple[StoreRow, ...], width: float) -> Iterator[Flowable]:
    return ruled_table(
        (
            Column("When", 2.6),
            Column("Bottle", 4),
            Column("Amount", 2, figures=True),
            Column("Why", 5),
            Column("By", 2.6),
        ),
        [(each.happened_at, each.bottle, each.amount, each.why, each.by) for each in rows],
        width=width,
    )


def _powders(powders: Powders | None, width: float) -> Iterator[Flowable]:
    heads = ("When the period began", "From suppliers", "Dissolved", "Left otherwise", "Unexplained", "When it ended")
    figures = ("before_mg", "bought_mg", "dissolved_mg", "otherwise_mg", "unexplained_mg", "left_mg")
    weights = [[getattr(powders, figure) for figure in figures]] if powders else []
    return ruled_table(
        [Column(head, 1, figures=True) for head in heads], [[*map(show_mass, row)] for row in weights], width=width
    )
