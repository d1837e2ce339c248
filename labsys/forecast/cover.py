"""Cover over time and the shopping list: how long what is in the store lasts, and what to buy for it."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import Row, select

from labsys.database import DbSession
from labsys.drawing.scene import Anchor, Path, Role, Scene, Shape, Text, polygon, trace
from labsys.forecast import queries, words
from labsys.forecast.models import Pack, ProductForecast, Run
from labsys.forecast.shopping import Basket, basket_for
from labsys.ledger.models import Unit, Vessel
from labsys.ledger.rules import show
from labsys.products.models import Product
from labsys.store import queries as store
from labsys.store.models import Bottle
from labsys.timetable.local_time import day_words, to_local

HEADS = ("Product", "Supplier", "In the store, not past its date", "Will be taken", "To buy", "Why")
_WIDTH, _HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM = 360.0, 120.0, 44.0, 354.0, 10.0, 96.0
_TYPE = 9.0
_WEEK = 7


@dataclass(frozen=True)
class WeekOfCover:
    """What is left of a product at the end of a week, as the table beside the drawing tells it."""

    ends: str
    left: str


@dataclass(frozen=True)
class Cover:
    """One product: how long it lasts, drawn and in a table, and what to buy."""

    product: Product
    row: ProductForecast
    in_store: int
    lasts: str
    wanted: str
    to_buy: str
    basket: Basket | None
    sizes: tuple[int, ...]
    is_own_sizes: bool
    weeks: tuple[WeekOfCover, ...]
    drawing: Scene

    @property
    def is_to_buy(self) -> bool:
        return self.row.missing > 0 or self.row.short_from is not None

    def cells(self) -> tuple[str, ...]:
        """The product as a row of the shopping list, under `HEADS`."""
        stands = show(self.in_store, self.product.unit)
        return (self.product.name, self.product.supplier, stands, self.wanted, self.to_buy, self.lasts)


def covers(session: DbSession, run: Run, *, now: datetime, zone: ZoneInfo) -> list[Cover]:
    """Every product of the newest forecast, those to be bought first, then those of which it is not known."""
    rows = queries.product_rows(session)
    own = _packs(session, [row.product_id for row in rows])
    received = _sizes_received(session, [row.product_id for row in rows])
    good = _good_now(session, today=to_local(now, zone=zone).date())
    made = [
        _cover(
            row,
            run,
            own=own.get(row.product_id, ()),
            received=received.get(row.product_id, ()),
            in_store=good.get(row.product_id, 0),
            now=now,
            zone=zone,
        )
        for row in rows
    ]
    return sorted(made, key=lambda each: (not each.is_to_buy, not each.row.why_not_known, each.product.name))


def _cover(
    row: ProductForecast,
    run: Run,
    *,
    own: tuple[int, ...],
    received: tuple[int, ...],
    in_store: int,
    now: datetime,
    zone: ZoneInfo,
) -> Cover:
    unit, sizes = row.product.unit, own or received
    levels = [(int(low), int(high)) for low, high in json.loads(row.cover)]
    a_day = row.wanted_high / max(1, (run.until - run.made_at) // timedelta(days=1))
    basket = basket_for(row.missing, sizes, a_day=a_day)
    at_least = "at least " if row.why_not_known else ""
    return Cover(
        product=row.product,
        row=row,
        in_store=in_store,
        lasts=words.short_in_words(row, now=now, zone=zone),
        wanted=f"{at_least}{_between(row.wanted_low, row.wanted_high, unit)} by {_day(run.until, zone)}",
        to_buy=_to_buy(row, basket, unit, at_least),
        basket=basket,
        sizes=sizes,
        is_own_sizes=bool(own),
        weeks=tuple(_weeks(levels, run, unit, zone)),
        drawing=drawn(levels, row.product.name, unit, run=run, zone=zone),
    )


def _to_buy(row: ProductForecast, basket: Basket | None, unit: Unit, at_least: str) -> str:
    """What to buy, in sizes where they are known; that it is not known how much, where it is not."""
    if not row.missing:
        return "not known" if row.why_not_known else "nothing"
    if basket is None:
        return f"{at_least}{show(row.missing, unit)}; in which sizes it is sold is not known"
    return at_least + " and ".join(f"{count} × {show(size, unit)}" for size, count in basket.packs)


def _between(low: int, high: int, unit: Unit) -> str:
    return show(high, unit) if low == high else f"{show(low, unit) if low else '0'} to {show(high, unit)}"


def _day(instant: datetime, zone: ZoneInfo) -> str:
    return day_words(to_local(instant, zone=zone).date())


def _weeks(levels: list[tuple[int, int]], run: Run, unit: Unit, zone: ZoneInfo) -> Iterable[WeekOfCover]:
    today = to_local(run.made_at, zone=zone).date()
    for number in range(_WEEK - 1, len(levels), _WEEK):
        yield WeekOfCover(day_words(today + timedelta(days=number)), _between(*levels[number], unit))


def _good_now(session: DbSession, *, today: date) -> dict[int, int]:
    """What is in the bottles of each product that are offered to mix from."""
    good: dict[int, int] = {}
    for bottle in store.offered(session, today=today):
        good[bottle.product_id] = good.get(bottle.product_id, 0) + bottle.vessel.level
    return good


def _packs(session: DbSession, product_ids: list[int]) -> dict[int, tuple[int, ...]]:
    """The sizes that a product is sold in, as somebody entered them."""
    query = select(Pack.product_id, Pack.amount).where(Pack.product_id.in_(product_ids)).order_by(Pack.amount)
    return _grouped(session.execute(query))


def _sizes_received(session: DbSession, product_ids: list[int]) -> dict[int, tuple[int, ...]]:
    """The sizes in which it came before; a bottle that was filled to the brim counts by what it holds."""
    query = (
        select(Bottle.product_id, Vessel.capacity)
        .join(Bottle.vessel)
        .where(Bottle.product_id.in_(product_ids))
        .distinct()
        .order_by(Vessel.capacity)
    )
    return _grouped(session.execute(query))


def _grouped(rows: Iterable[Row[int, int]]) -> dict[int, tuple[int, ...]]:
    sizes: dict[int, list[int]] = {}
    for product_id, amount in rows:
        sizes.setdefault(product_id, []).append(amount)
    return {product_id: tuple(of_it) for product_id, of_it in sizes.items()}


def drawn(levels: list[tuple[int, int]], name: str, unit: Unit, *, run: Run, zone: ZoneInfo) -> Scene:
    """Draw what is left of a product day by day: solid what is left in any case, hatched what may be left."""
    most = max((high for _, high in levels), default=0) or 1
    count = max(2, len(levels))

    def x(place: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * place / (count - 1)

    def y(amount: float) -> float:
        return _BOTTOM - (_BOTTOM - _TOP) * amount / most

    shapes: list[Shape] = []
    if levels:
        highs = [(x(place), y(high)) for place, (_, high) in enumerate(levels)]
        lows = [(x(place), y(low)) for place, (low, _) in enumerate(levels)]
        ground = [(x(len(levels) - 1), _BOTTOM), (x(0), _BOTTOM)]
        shapes.append(Path(polygon(*lows, *ground), Role.LIQUID_PLENTY))
        shapes.append(Path(polygon(*highs, *reversed(lows)), Role.LIQUID_NEAR_END))
        shapes.append(Path(polygon(*highs, *reversed(lows)), Role.INK, stroke=1))
    shapes.append(Path(trace(f"M{_LEFT} {_TOP} V{_BOTTOM} H{_RIGHT}"), Role.INK, stroke=1))
    shapes.append(Text(_LEFT - 4, _TOP + 6, show(most, unit), _TYPE, anchor=Anchor.END))
    shapes.append(Text(_LEFT - 4, _BOTTOM, "0", _TYPE, anchor=Anchor.END))
    start = to_local(run.made_at, zone=zone).date()
    for place in range(0, count, _WEEK):
        day = start + timedelta(days=place)
        shapes.append(Path(trace(f"M{x(place)} {_BOTTOM} V{_BOTTOM + 4}"), Role.INK, stroke=1))
        shapes.append(Text(x(place), _BOTTOM + 14, f"{day:%-d %b}", _TYPE, anchor=Anchor.MIDDLE))
    title = f"{name}: what is left day by day; the table beside it says the same"
    return Scene(kind="cover", width=_WIDTH, height=_HEIGHT, title=title, shapes=tuple(shapes))
