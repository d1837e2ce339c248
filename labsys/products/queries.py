"""What pages and other rooms read of products."""

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import joinedload, selectinload, undefer

from labsys.database import DbSession, Model
from labsys.people.models import Person
from labsys.people.row_kinds import NEVER, NOTHING, Page, RowKind, Search
from labsys.products.models import (
    AcceptedRestriction,
    Confirmation,
    DataSheet,
    HazardChoice,
    InterimApproval,
    LearnedCapacity,
    Product,
    SdsRule,
    SheetContent,
    StoreRule,
)
from labsys.products.standing import ProductStanding, standing_of
from labsys.records import queries as records
from labsys.records.queries import get_or_raise
from labsys.timetable.local_time import to_local

FOR_STANDING = (
    selectinload(Product.confirmations),
    selectinload(Product.data_sheets),
    selectinload(Product.interim_approvals).joinedload(InterimApproval.approved_by).lazyload(Person.role_rows),
)
_CHOICES = selectinload(Product.hazard_choices).joinedload(HazardChoice.chosen_by).lazyload(Person.role_rows)
APPROVERS = tuple(
    joinedload(who).lazyload(Person.role_rows) for who in (LearnedCapacity.first_by, LearnedCapacity.second_by)
)
FOR_WORKING_SOLUTION = (selectinload(Product.ingredients), _CHOICES)
_WHOLE_PRODUCT = (
    *FOR_WORKING_SOLUTION,
    selectinload(Product.dilutions),
    selectinload(Product.capacities),
    joinedload(Product.learned).options(*APPROVERS),
    joinedload(Product.ages),
    *FOR_STANDING,
    selectinload(Product.confirmations).joinedload(Confirmation.confirmed_by).lazyload(Person.role_rows),
    selectinload(Product.data_sheets).joinedload(DataSheet.added_by).lazyload(Person.role_rows),
    joinedload(Product.accepted_restrictions).joinedload(AcceptedRestriction.accepted_by).lazyload(Person.role_rows),
)


def products(session: DbSession) -> list[Product]:
    """All products by name; a lab has some dozens."""
    query = select(Product).options(*FOR_STANDING, selectinload(Product.dilutions)).order_by(Product.name, Product.id)
    return list(session.execute(query).scalars())


def product_or_raise(session: DbSession, product_id: int, *, lock: bool = False) -> Product:
    return get_or_raise(session, Product, product_id, "product", lock=lock, options=_WHOLE_PRODUCT)


def product_by_name(session: DbSession, *, name: str, supplier: str) -> Product | None:
    query = select(Product).where(Product.name == name, Product.supplier == supplier)
    return session.execute(query).scalar_one_or_none()


def has_bottles(session: DbSession, product_id: int) -> bool:
    """Whether a product ever had a bottle.

    The room of the bottles lies below this one and is not imported: its table is taken from the metadata by name.
    """
    of_product = Model.metadata.tables["bottles"].c.product_id
    return session.execute(select(of_product).where(of_product == product_id).limit(1)).first() is not None


def sds_rule(session: DbSession) -> SdsRule:
    """The lab's choice; until it chose, a missing SDS is only shown."""
    rule = session.execute(select(StoreRule.sds_rule)).scalar_one_or_none()
    return SdsRule.SHOWN if rule is None else rule


def standings(session: DbSession, products: Iterable[Product], *, now: datetime) -> dict[int, ProductStanding]:
    """How each product stands, by its id."""
    today = to_local(now, zone=records.zone(session)).date()
    rule = sds_rule(session)
    return {product.id: standing_of(product, today=today, sds_rule=rule) for product in products}


def standing(session: DbSession, product: Product, *, now: datetime) -> ProductStanding:
    return standings(session, [product], now=now)[product.id]


def sheet_or_raise(session: DbSession, sheet_id: int) -> DataSheet:
    """A data sheet with its bytes."""
    with_bytes = joinedload(DataSheet.kept).options(undefer(SheetContent.content))
    return get_or_raise(session, DataSheet, sheet_id, "data sheet", options=[with_bytes])


PRODUCT = RowKind(
    table=Product,
    called="product",
    many="products",
    pages=(Page("store.product", "product_id"),),
    search=Search(
        select(Product.id, Product.name, NOTHING, Product.supplier, NEVER), by=(Product.name, Product.supplier)
    ),
)
