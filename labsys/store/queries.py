"""What pages and other rooms read of bottles and shelves."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import String, case, cast, select
from sqlalchemy.orm import joinedload

from labsys.database import DbSession, Model
from labsys.ledger.models import Vessel
from labsys.people.row_kinds import NEVER, NOTHING, Page, RowKind, Search
from labsys.products.models import Product
from labsys.records.models import CodeKind
from labsys.records.queries import get_or_raise
from labsys.store.models import Bottle, BottlePlace, Shelf


@dataclass(frozen=True)
class Went:
    """What one bottle gave to a bath, at its mixing or when it was replenished."""

    bath_id: int
    bath_name: str
    bath_code: str
    amount: int
    mixed_at: datetime


def bottles(session: DbSession, *, product_id: int | None = None) -> list[Bottle]:
    """Bottles with something left in them: the one to use up first comes first."""
    query = (
        select(Bottle)
        .join(Bottle.vessel)
        .join(Bottle.product)
        .where(Bottle.vessel.has(level=0).is_(False))
        .options(joinedload(Bottle.product).selectinload(Product.confirmations))
        .order_by(
            Product.name,
            Bottle.opened_at.is_(None),
            Bottle.expires_on.is_(None),  # databases differ on where an absent date goes
            Bottle.expires_on,
            Bottle.id,
        )
    )
    if product_id is not None:
        query = query.where(Bottle.product_id == product_id)
    return list(session.execute(query).scalars().unique())


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
