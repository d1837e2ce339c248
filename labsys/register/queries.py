"""What the register reads of the other rooms: products, and where each of them is now."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import joinedload, selectinload

from labsys.baths.models import Bath
from labsys.database import DbSession
from labsys.ledger.models import Posting, Vessel
from labsys.people.models import Person
from labsys.stock.models import Bottle, Confirmation, Ingredient, Product
from labsys.waste.models import Pour, WasteContainer


@dataclass(frozen=True)
class Poured:
    """What a waste container in the lab holds of one dilution of a product, by what was poured into it."""

    product_id: int
    water_parts_milli: int
    container_id: int
    label: str
    place: str
    volume_ul: int


@dataclass(frozen=True)
class Holdings:
    """Everything the register speaks of, as it stands now."""

    products: Sequence[Product]
    bottles: Sequence[Bottle]
    baths: Sequence[Bath]
    poured: Sequence[Poured]


def holdings(session: DbSession, *, cas: str | None = None) -> Holdings:
    """Read the products, all or those that hold one substance, and where they are. The number of queries is fixed."""
    chosen = (
        select(Product)
        .options(
            selectinload(Product.ingredients),
            selectinload(Product.dilutions),
            selectinload(Product.confirmations).joinedload(Confirmation.confirmed_by).lazyload(Person.role_rows),
        )
        .order_by(Product.name, Product.supplier, Product.id)
    )
    bottles = (
        select(Bottle)
        .join(Bottle.vessel)
        .where(Vessel.level > 0)
        .order_by(Bottle.product_id, Bottle.opened_at.is_(None), Bottle.id)
    )
    baths = select(Bath).where(Bath.dumped_at.is_(None)).options(joinedload(Bath.line)).order_by(Bath.id)
    poured = (
        select(
            Bath.product_id,
            Bath.water_parts_milli,
            WasteContainer.id,
            WasteContainer.label,
            WasteContainer.place,
            func.sum(Pour.volume_ul),
        )
        .select_from(WasteContainer)
        .join(Pour, Pour.container_id == WasteContainer.id)
        .join(Posting, Posting.movement_id == Pour.movement_id)
        .join(Bath, Bath.vessel_id == Posting.vessel_id)
        .where(WasteContainer.collected_at.is_(None))
        .group_by(
            Bath.product_id, Bath.water_parts_milli, WasteContainer.id, WasteContainer.label, WasteContainer.place
        )
        .order_by(WasteContainer.id, Bath.product_id, Bath.water_parts_milli)
    )
    if cas is not None:
        holding = select(Ingredient.product_id).where(Ingredient.cas == cas)
        chosen = chosen.where(Product.id.in_(holding))
        bottles = bottles.where(Bottle.product_id.in_(holding))
        baths = baths.where(Bath.product_id.in_(holding))
        poured = poured.where(Bath.product_id.in_(holding))
    return Holdings(
        products=list(session.execute(chosen).scalars()),
        bottles=list(session.execute(bottles).scalars().unique()),
        baths=list(session.execute(baths).scalars().unique()),
        poured=[
            Poured(product_id, water, container_id, label, place, int(volume))
            for product_id, water, container_id, label, place, volume in session.execute(poured)
        ],
    )
