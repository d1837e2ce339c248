"""What pages and other rooms read of bottles and shelves."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import String, case, cast, func, select
from sqlalchemy.orm import joinedload, selectinload

from labsys.database import DbSession, Model
from labsys.ledger.models import Movement, Unit, Vessel
from labsys.people.models import Person
from labsys.people.row_kinds import NEVER, NOTHING, Page, RowKind, Search
from labsys.products.models import Product
from labsys.records.models import CodeKind
from labsys.records.queries import get_or_raise
from labsys.store.models import (
    Bottle,
    BottleCorrection,
    BottleLeft,
    BottlePlace,
    BottleQuarantine,
    Reason,
    Shelf,
    ShelfLife,
    StockCount,
    UnlabelledBottle,
    WayOut,
)
from labsys.store.rules import BottleRefused, first_to_lapse, is_offered


@dataclass(frozen=True)
class Went:
    """What one bottle gave to a bath, at its mixing or when it was replenished."""

    bath_id: int
    bath_name: str
    bath_code: str
    amount: int
    mixed_at: datetime


def bottles(session: DbSession, *, product_id: int | None = None) -> list[Bottle]:
    """Bottles with something left in them, by product, the first to lapse first; lapsed and set apart ones too."""
    query = (
        select(Bottle)
        .join(Bottle.vessel)
        .join(Bottle.product)
        .where(Bottle.vessel.has(level=0).is_(False))
        .options(joinedload(Bottle.product).selectinload(Product.confirmations))
    )
    if product_id is not None:
        query = query.where(Bottle.product_id == product_id)
    found = session.execute(query).scalars().unique()
    return sorted(found, key=lambda bottle: (bottle.product.name, *first_to_lapse(bottle)))


def offered(
    session: DbSession, *, today: date, product_id: int | None = None, named: Collection[int] = ()
) -> list[Bottle]:
    """Bottles to mix from, the first to lapse first: never one that is lapsed, set apart or empty.

    This is asked wherever bottles are offered. Those `named` on a form that was sent come along whatever became of
    them since, so that the form keeps its rows; the act refuses what may not be used.
    """
    kept = [bottle for bottle in bottles(session, product_id=product_id) if is_offered(bottle, today=today)]
    missing = set(named) - {bottle.id for bottle in kept}
    if missing:
        query = select(Bottle).where(Bottle.id.in_(missing)).options(joinedload(Bottle.product)).order_by(Bottle.id)
        kept += session.execute(query).scalars().unique()
    return kept


def all_bottles_of(session: DbSession, product_id: int) -> list[Bottle]:
    """Every bottle there ever was of a product."""
    query = select(Bottle).where(Bottle.product_id == product_id).options(joinedload(Bottle.product))
    return list(session.execute(query.order_by(Bottle.id)).scalars().unique())


def shelf_life(session: DbSession, product_id: int) -> ShelfLife | None:
    return session.execute(select(ShelfLife).where(ShelfLife.product_id == product_id)).scalar_one_or_none()


def quarantine_of(session: DbSession, bottle_id: int) -> BottleQuarantine | None:
    """The quarantine a bottle is in now, locked."""
    query = select(BottleQuarantine).where(BottleQuarantine.bottle_id == bottle_id, BottleQuarantine.ended_at.is_(None))
    return session.execute(query.with_for_update(of=BottleQuarantine)).scalar_one_or_none()


def quarantines_of(session: DbSession, bottle_id: int) -> Sequence[BottleQuarantine]:
    """Every quarantine a bottle was in, the newest first."""
    people = joinedload(BottleQuarantine.started_by), joinedload(BottleQuarantine.ended_by)
    query = select(BottleQuarantine).where(BottleQuarantine.bottle_id == bottle_id).options(*people)
    return session.execute(query.order_by(BottleQuarantine.id.desc())).scalars().unique().all()


def unlabelled_or_raise(session: DbSession, unlabelled_id: int, *, lock: bool = False) -> UnlabelledBottle:
    whole = (
        joinedload(UnlabelledBottle.found_by),
        joinedload(UnlabelledBottle.ended_by),
        joinedload(UnlabelledBottle.bottle),
    )
    return get_or_raise(session, UnlabelledBottle, unlabelled_id, "unlabelled bottle", lock=lock, options=whole)


def unlabelled_here(session: DbSession) -> Sequence[UnlabelledBottle]:
    """Bottles without a label about which nobody has decided."""
    query = select(UnlabelledBottle).where(UnlabelledBottle.ended_at.is_(None)).order_by(UnlabelledBottle.id)
    return session.execute(query).scalars().all()


def bottle_of_code_or_refuse(session: DbSession, code: str, *, field: str = "also_here") -> Bottle:
    """The bottle that bears a code as typed. Raises BottleRefused where none does."""
    query = select(Bottle).where(Bottle.code == code.strip().upper()).options(joinedload(Bottle.product))
    bottle = session.execute(query).unique().scalar_one_or_none()
    if bottle is None:
        raise BottleRefused(
            f"No bottle bears the code {code.strip()}. Without a label it goes to quarantine: report it as unlabelled.",
            field=field,
        )
    return bottle


def bottle_or_raise(session: DbSession, bottle_id: int, *, lock: bool = False) -> Bottle:
    return get_or_raise(session, Bottle, bottle_id, "bottle", lock=lock, options=[joinedload(Bottle.product)])


def where_it_went(session: DbSession, *, bottle_id: int, limit: int) -> list[Went]:
    """The baths a bottle went into, newest first.

    The room of the baths lies below this one and is not imported: its tables are taken from the metadata by name.
    A mixing that was taken back is left out.
    """
    tables = Model.metadata.tables
    parts, batches, baths, movements = (tables[name] for name in ("batch_parts", "batches", "baths", "movements"))
    undone = select(movements.c.id).where(movements.c.reverses_id == batches.c.movement_id).exists()
    query = (
        select(baths.c.id, baths.c.name, baths.c.code, parts.c.amount, batches.c.mixed_at)
        .join_from(parts, batches, parts.c.batch_id == batches.c.id)
        .join(baths, batches.c.bath_id == baths.c.id)
        .where(parts.c.bottle_id == bottle_id, ~undone)
        .order_by(batches.c.mixed_at.desc(), batches.c.id.desc())
        .limit(limit)
    )
    return [Went(*row) for row in session.execute(query)]


def is_assessed(session: DbSession, product_id: int) -> bool:
    """Whether an approved assessment speaks of a product.

    The room of the assessments lies below this one and is not imported: its tables are taken from the metadata by name.
    """
    tables = Model.metadata.tables
    assessments, versions, substances = (tables[f"risk_{name}"] for name in ("assessments", "versions", "substances"))
    approved = (
        select(substances.c.id)
        .join(versions, substances.c.version_id == versions.c.id)
        .join(assessments, versions.c.assessment_id == assessments.c.id)
        .where(
            substances.c.product_id == product_id, versions.c.state == "approved", assessments.c.withdrawn_at.is_(None)
        )
        .exists()
    )
    return bool(session.execute(select(approved)).scalar_one())


def shelves(session: DbSession) -> list[Shelf]:
    """All shelves by name; a lab has some dozens."""
    return list(session.execute(select(Shelf).options(joinedload(Shelf.room)).order_by(Shelf.name)).scalars())


def shelf_or_raise(session: DbSession, shelf_id: int) -> Shelf:
    return get_or_raise(session, Shelf, shelf_id, "shelf")


def shelf_by_name(session: DbSession, name: str) -> Shelf | None:
    return session.execute(select(Shelf).where(Shelf.name == name)).scalar_one_or_none()


def place_of(session: DbSession, bottle_id: int) -> BottlePlace | None:
    query = select(BottlePlace).where(BottlePlace.bottle_id == bottle_id).options(joinedload(BottlePlace.shelf))
    return session.execute(query).scalar_one_or_none()


def standing_on(session: DbSession, shelf_ids: Iterable[int]) -> dict[int, list[Bottle]]:
    """Bottles with something in them by the shelf they stand on, with what their products are made of."""
    standing: dict[int, list[Bottle]] = {shelf_id: [] for shelf_id in shelf_ids}
    query = (
        select(BottlePlace.shelf_id, Bottle)
        .join(Bottle, BottlePlace.bottle_id == Bottle.id)
        .where(BottlePlace.shelf_id.in_(standing), Bottle.vessel.has(level=0).is_(False))
        .options(joinedload(Bottle.product).selectinload(Product.ingredients))
        .order_by(Bottle.id)
    )
    for shelf_id, bottle in session.execute(query).unique():
        standing[shelf_id].append(bottle)
    return standing


def nowhere(session: DbSession) -> Sequence[Bottle]:
    """Bottles with something in them that nobody has put on a shelf."""
    placed = select(BottlePlace.id).where(BottlePlace.bottle_id == Bottle.id).exists()
    query = (
        select(Bottle)
        .where(~placed, Bottle.vessel.has(level=0).is_(False))
        .options(joinedload(Bottle.product))
        .order_by(Bottle.id)
    )
    return session.execute(query).scalars().unique().all()


def standing_at(session: DbSession, shelf_id: int | None) -> Sequence[Bottle]:
    """Bottles with something in them on a shelf, or on none."""
    return nowhere(session) if shelf_id is None else standing_on(session, [shelf_id])[shelf_id]


def left_of(session: DbSession, bottle_id: int) -> BottleLeft | None:
    """How what was in a bottle left at last, where it did not go into baths."""
    query = select(BottleLeft).where(BottleLeft.bottle_id == bottle_id).options(joinedload(BottleLeft.recorded_by))
    return session.execute(query.order_by(BottleLeft.id.desc()).limit(1)).scalar_one_or_none()


def count_or_raise(session: DbSession, count_id: int) -> StockCount:
    bottles = selectinload(StockCount.corrections).joinedload(BottleCorrection.bottle).joinedload(Bottle.product)
    whole = joinedload(StockCount.shelf), joinedload(StockCount.counted_by), bottles
    return get_or_raise(session, StockCount, count_id, "count", options=whole)


def newest_counts(session: DbSession) -> dict[int | None, StockCount]:
    """The newest count of each shelf; without a shelf, of what stands on none."""
    newest = select(func.max(StockCount.id)).group_by(StockCount.shelf_id)
    query = select(StockCount).where(StockCount.id.in_(newest)).options(joinedload(StockCount.counted_by))
    return {count.shelf_id: count for count in session.execute(query).scalars()}


@dataclass(frozen=True)
class FoundOtherwise:
    """A bottle in which other than the book said was found within a period: found less book, and why."""

    happened_at: datetime
    code: str
    product: str
    unit: Unit
    difference: int
    reason: Reason
    note: str
    by: str


def found_otherwise(session: DbSession, *, start: datetime, end: datetime) -> list[FoundOtherwise]:
    """Every difference found in the store within a period, in the order in which they were found."""
    query = (
        select(
            Movement.happened_at,
            Bottle.code,
            Product.name,
            Vessel.unit,
            BottleCorrection.difference,
            BottleCorrection.reason,
            BottleCorrection.note,
            Person.name,
        )
        .join_from(BottleCorrection, Bottle, BottleCorrection.bottle_id == Bottle.id)
        .join(Product, Bottle.product_id == Product.id)
        .join(Vessel, Bottle.vessel_id == Vessel.id)
        .join(Movement, BottleCorrection.movement_id == Movement.id)
        .join(Person, Movement.recorded_by_id == Person.id)
        .where(Movement.happened_at >= start, Movement.happened_at < end)
        .order_by(Movement.happened_at, BottleCorrection.id)
    )
    return [FoundOtherwise(*row) for row in session.execute(query)]


def left_otherwise(session: DbSession, *, start: datetime, end: datetime) -> Sequence[BottleLeft]:
    """What left the store within a period other than into a bath or a waste container, in the order it left."""
    query = (
        select(BottleLeft)
        .where(BottleLeft.left_at >= start, BottleLeft.left_at < end, BottleLeft.way != WayOut.CONTAINER)
        .options(joinedload(BottleLeft.bottle).joinedload(Bottle.product), joinedload(BottleLeft.recorded_by))
        .order_by(BottleLeft.left_at, BottleLeft.id)
    )
    return session.execute(query).scalars().unique().all()


BOTTLE = RowKind(
    table=Bottle,
    called="bottle",
    many="bottles",
    pages=(Page("store.bottle", "bottle_id"),),
    coded=CodeKind.BOTTLE,
    label=Page("documents.labels", "label", written="bottle-{}"),
    search=Search(
        select(
            Bottle.id,
            Product.name,
            Bottle.code,
            case((Bottle.lot == "", ""), else_="lot " + Bottle.lot),
            Vessel.level == 0,
        )
        .join(Bottle.product)
        .join(Bottle.vessel),
        by=(Bottle.lot,),
        gone="empty",
    ),
)
SHELF = RowKind(
    table=Shelf,
    called="shelf",
    many="shelves",
    pages=(Page("store.shelves"),),
    search=Search(select(Shelf.id, Shelf.name, NOTHING, cast(Shelf.kind, String), NEVER), by=(Shelf.name,)),
)
UNLABELLED = RowKind(
    table=UnlabelledBottle,
    called="unlabelled bottle",
    many="unlabelled bottles",
    pages=(Page("store.unlabelled", "unlabelled_id"),),
    coded=CodeKind.UNLABELLED,
    search=Search(
        select(
            UnlabelledBottle.id,
            UnlabelledBottle.looks,
            UnlabelledBottle.code,
            UnlabelledBottle.place,
            UnlabelledBottle.ended_at.is_not(None),
        ),
        by=(UnlabelledBottle.looks,),
        gone="decided",
    ),
)
COUNT = RowKind(
    table=StockCount, called="stock count", many="stock counts", pages=(Page("store.stock_count", "count_id"),)
)
