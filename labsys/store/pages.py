"""Figures and words that the pages of the chemical store need worked out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from flask import url_for

from labsys.chemistry.care import KIND_NAMES
from labsys.drawing.graduate import Liquid, graduate
from labsys.drawing.scene import Scene
from labsys.ledger.models import Unit
from labsys.ledger.rules import show
from labsys.people.permissions import Permission
from labsys.products.models import Product
from labsys.products.standing import ProductStanding, SdsState
from labsys.quantities import UL_PER_ML, counted
from labsys.store.clashes import Clash, clashes_among, clashes_with
from labsys.store.models import Bottle, Shelf
from labsys.timetable.local_time import day_words, to_local

SOON_DAYS = 30  # from when a page counts the days to a bottle's date: common practice, no source


@dataclass(frozen=True)
class BottleView:
    """A bottle as a card: what is left of it, drawn if it is a liquid, and how its date stands."""

    bottle: Bottle
    left: str
    keeping: str
    opened: str
    is_past: bool
    gauge: Scene | None


@dataclass(frozen=True)
class ProductBottles:
    """A product and its bottles that have something in them."""

    product: Product
    kind: str
    bottles: tuple[BottleView, ...]


@dataclass(frozen=True)
class ShelfView:
    shelf: Shelf
    bottles: tuple[Bottle, ...]
    clashes: tuple[Clash, ...]


@dataclass(frozen=True)
class NextStep:
    """One thing on the way from a delivery to a bath; `href` leads to where it is done, for whoever may."""

    words: str
    detail: str
    is_done: bool
    href: str
    needed: tuple[Permission, ...]


def today(now: datetime, *, zone: ZoneInfo) -> date:
    return to_local(now, zone=zone).date()


def bottle_view(bottle: Bottle, *, now: datetime, zone: ZoneInfo) -> BottleView:
    day = today(now, zone=zone)
    is_past = bottle.lapses_on is not None and bottle.lapses_on < day
    keeping = keeping_words(bottle.lapses_on, today=day)
    vessel = bottle.vessel
    left = f"{show(vessel.level, vessel.unit)} of {show(vessel.capacity, vessel.unit)}"
    gauge = None
    if vessel.unit is Unit.UL:
        gauge = graduate(
            level_ml=vessel.level / UL_PER_ML,
            capacity_ml=vessel.capacity / UL_PER_ML,
            liquid=Liquid.UNKNOWN if is_past else Liquid.PLENTY,
            title=f"{left}. {keeping}",
        )
    opened = "Not opened." if bottle.opened_at is None else f"Opened {day_words(today(bottle.opened_at, zone=zone))}."
    return BottleView(bottle, left, keeping, opened, is_past, gauge)


def keeping_words(last_day: date | None, *, today: date) -> str:
    """Say how a bottle's date stands; the day itself still counts as good.

    >>> keeping_words(date(2026, 3, 1), today=date(2026, 3, 2))
    'Past its date since 1 Mar 2026. Nobody knows how good it still is.'
    >>> keeping_words(date(2026, 3, 2), today=date(2026, 3, 2))
    'Today is the last day of its date, 2 Mar 2026.'
    """
    if last_day is None:
        return "No date on it."
    left = (last_day - today).days
    if left < 0:
        return f"Past its date since {day_words(last_day)}. Nobody knows how good it still is."
    if left == 0:
        return f"Today is the last day of its date, {day_words(last_day)}."
    if left <= SOON_DAYS:
        return f"Use before {day_words(last_day)}: {counted(left, 'day')} left."
    return f"Use before {day_words(last_day)}."


def bottles_by_product(
    products: Sequence[Product], bottles: Sequence[Bottle], *, now: datetime, zone: ZoneInfo
) -> tuple[ProductBottles, ...]:
    """Put the bottles to their products, in the order of both."""
    of_product: dict[int, list[BottleView]] = {product.id: [] for product in products}
    for bottle in bottles:
        of_product[bottle.product_id].append(bottle_view(bottle, now=now, zone=zone))
    return tuple(
        ProductBottles(product, KIND_NAMES[product.kind], tuple(of_product[product.id])) for product in products
    )


def next_steps(
    product: Product, standing: ProductStanding, *, bottles: Sequence[object], is_assessed: bool
) -> tuple[NextStep, ...]:
    """Return what is next with a product, in working order."""
    confirmed = product.confirmation is not None
    mixing = standing.may_mix and bool(bottles)
    waits = standing.words if confirmed and not standing.may_mix else "When the steps above are done."
    return (
        NextStep(
            "Have its current SDS here",
            standing.sds_words,
            standing.sds is SdsState.CURRENT,
            url_for("products.add_data_sheet", product_id=product.id),
            (Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT),
        ),
        NextStep(
            "Have its entries confirmed against the SDS",
            "An interim approval stands meanwhile." if standing.interim else standing.words,
            confirmed,
            url_for("store.product", product_id=product.id, _anchor="confirm") if product.sds_date else "",
            (Permission.CONFIRM_PRODUCT,),
        ),
        NextStep(
            "Have the work with it assessed",
            "No approved assessment speaks of it.",
            is_assessed,
            url_for("risk.of_product", product_id=product.id),
            (Permission.KEEP_ASSESSMENTS,),
        ),
        NextStep(
            "Receive a bottle",
            "" if bottles else "No bottle with anything in it.",
            bool(bottles),
            url_for("store.receive", product_id=product.id),
            (Permission.KEEP_STOCK,),
        ),
        NextStep(
            "Mix a bath from it",
            "" if mixing else waits,
            False,
            url_for("baths.mix", product_id=product.id) if mixing else "",
            (Permission.KEEP_BATHS,),
        ),
    )


def shelf_view(shelf: Shelf, bottles: Sequence[Bottle]) -> ShelfView:
    return ShelfView(shelf, tuple(bottles), clashes_among([bottle.product for bottle in bottles]))


def advice(product: Product, standing: Mapping[int, Sequence[Bottle]]) -> dict[str, str]:
    """What a product should not stand with, by the shelf where that stands; no entry where nothing is known."""
    clashing = {
        str(shelf_id): clashes_with(product, [bottle.product for bottle in bottles])
        for shelf_id, bottles in standing.items()
    }
    return {shelf_id: " ".join(clash.words for clash in clashes) for shelf_id, clashes in clashing.items() if clashes}
