"""What is read of shelves and of what stands on them."""

from collections.abc import Iterable, Sequence

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.database import DbSession
from labsys.records.errors import NotFound
from labsys.stock.models import Bottle, Product
from labsys.stock.shelf_models import BottlePlace, Shelf


def shelves(session: DbSession) -> list[Shelf]:
    """All shelves by name; a lab has some dozens."""
    return list(session.execute(select(Shelf).options(joinedload(Shelf.room)).order_by(Shelf.name)).scalars())


def shelf_or_raise(session: DbSession, shelf_id: int) -> Shelf:
    shelf = session.get(Shelf, shelf_id)
    if shelf is None:
        raise NotFound("shelf", shelf_id)
    return shelf


def shelf_by_name(session: DbSession, name: str) -> Shelf | None:
    return session.execute(select(Shelf).where(Shelf.name == name)).scalar_one_or_none()


def place_of(session: DbSession, bottle_id: int) -> BottlePlace | None:
    chosen = select(BottlePlace).where(BottlePlace.bottle_id == bottle_id).options(joinedload(BottlePlace.shelf))
    return session.execute(chosen).scalar_one_or_none()


def standing_on(session: DbSession, shelf_ids: Iterable[int]) -> dict[int, list[Bottle]]:
    """Bottles with something in them by the shelf they stand on, with what their products are made of."""
    found: dict[int, list[Bottle]] = {shelf_id: [] for shelf_id in shelf_ids}
    chosen = (
        select(BottlePlace.shelf_id, Bottle)
        .join(Bottle, BottlePlace.bottle_id == Bottle.id)
        .where(BottlePlace.shelf_id.in_(found), Bottle.vessel.has(level=0).is_(False))
        .options(joinedload(Bottle.product).selectinload(Product.ingredients))
        .order_by(Bottle.id)
    )
    for shelf_id, bottle in session.execute(chosen).unique():
        found[shelf_id].append(bottle)
    return found


def nowhere(session: DbSession) -> Sequence[Bottle]:
    """Bottles with something in them that nobody has put on a shelf."""
    placed = select(BottlePlace.id).where(BottlePlace.bottle_id == Bottle.id).exists()
    chosen = (
        select(Bottle)
        .where(~placed, Bottle.vessel.has(level=0).is_(False))
        .options(joinedload(Bottle.product))
        .order_by(Bottle.id)
    )
    return session.execute(chosen).scalars().unique().all()
