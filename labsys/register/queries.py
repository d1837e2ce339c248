"""What the register reads of the other rooms: products, and where each of them is now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import BigInteger, cast, func, select
from sqlalchemy.orm import joinedload, selectinload

from labsys.baths.models import Bath
from labsys.database import DbSession
from labsys.ledger.models import Vessel
from labsys.people.models import Person
from labsys.products import queries as product_queries
from labsys.products.models import Confirmation, Product, ProductIngredient
from labsys.products.queries import FOR_STANDING, FOR_WORKING_SOLUTION
from labsys.products.standing import ProductStanding
from labsys.records import queries as records
from labsys.risk import queries as risk
from labsys.store.models import Bottle, BottlePlace, Shelf
from labsys.timetable.local_time import to_local
from labsys.waste.models import Pour, WasteContainer
from labsys.waste.queries import COUNTS, STILL_IN


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
class AssessedIn:
    """An approved assessment that speaks of a product."""

    assessment_id: int
    title: str
    is_out_of_date: bool


@dataclass(frozen=True)
class Holdings:
    """Everything the register speaks of, as it stands now; `shelves` by bottle, the last two by product."""

    products: Sequence[Product]
    bottles: Sequence[Bottle]
    baths: Sequence[Bath]
    poured: Sequence[Poured]
    shelves: Mapping[int, str]
    standings: Mapping[int, ProductStanding]
    assessed: Mapping[int, Sequence[AssessedIn]]


def holdings(session: DbSession, *, now: datetime, cas: str | None = None) -> Holdings:
    """Read the products, all or those that hold one substance, where they are, and how their papers stand.

    The number of queries is fixed.
    """
    query = (
        select(Product)
        .options(
            *FOR_WORKING_SOLUTION,
            *FOR_STANDING,
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
    dilution = func.coalesce(Pour.water_parts_milli, 0)  # not said: as if undiluted
    poured = (
        select(
            cast(Pour.product_id, BigInteger),
            dilution,
            WasteContainer.id,
            WasteContainer.label,
            WasteContainer.place,
            func.sum(Pour.volume_ul).cast(BigInteger),
        )
        .select_from(WasteContainer)
        .join(Pour, Pour.container_id == WasteContainer.id)
        .where(WasteContainer.collected_at.is_(None), Pour.product_id.is_not(None), COUNTS, STILL_IN)
        .group_by(Pour.product_id, dilution, WasteContainer.id, WasteContainer.label, WasteContainer.place)
        .order_by(WasteContainer.id, Pour.product_id, dilution)
    )
    if cas is not None:
        holding = select(ProductIngredient.product_id).where(ProductIngredient.cas == cas)
        query = query.where(Product.id.in_(holding))
        bottles = bottles.where(Bottle.product_id.in_(holding))
        baths = baths.where(Bath.product_id.in_(holding))
        poured = poured.where(Pour.product_id.in_(holding))
    products = list(session.execute(query).scalars())
    shelves = select(BottlePlace.bottle_id, Shelf.name).join(Shelf, BottlePlace.shelf_id == Shelf.id)
    return Holdings(
        products=products,
        bottles=list(session.execute(bottles).scalars().unique()),
        baths=list(session.execute(baths).scalars().unique()),
        poured=[Poured(*row) for row in session.execute(poured)],
        shelves={row.bottle_id: row.name for row in session.execute(shelves)},
        standings=product_queries.standings(session, products, now=now),
        assessed=_assessed(session, now=now),
    )


def _assessed(session: DbSession, *, now: datetime) -> dict[int, list[AssessedIn]]:
    """The approved assessments by the products they speak of."""
    zone = records.zone(session)
    by_product: dict[int, list[AssessedIn]] = {}
    for standing in risk.overview(session, today=to_local(now, zone=zone).date(), zone=zone).assessments:
        if standing.approved is None:
            continue
        assessed = AssessedIn(standing.assessment.id, standing.assessment.title, standing.is_out_of_date)
        for product_id in dict.fromkeys(part.product_id for part in standing.approved.substances):
            by_product.setdefault(product_id, []).append(assessed)
    return by_product
