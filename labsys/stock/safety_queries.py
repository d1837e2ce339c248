"""What is read of data sheets, approvals and the lab's rule about them."""

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import joinedload, undefer

from labsys.database import DbSession, Model
from labsys.records import queries as records
from labsys.records.errors import NotFound
from labsys.stock.models import Product
from labsys.stock.safety_models import DataSheet, SdsRule, SheetContent, StoreRule
from labsys.stock.standing import Standing, standing_of
from labsys.timetable.local_time import to_local


def sds_rule(session: DbSession) -> SdsRule:
    """The lab's choice; until it chose, a missing SDS is only shown."""
    chosen = session.execute(select(StoreRule.sds_rule)).scalar_one_or_none()
    return SdsRule.SHOWN if chosen is None else chosen


def standings(session: DbSession, products: Iterable[Product], *, now: datetime) -> dict[int, Standing]:
    """How each product stands, by its id."""
    today = to_local(now, zone=records.zone(session)).date()
    rule = sds_rule(session)
    return {one.id: standing_of(one, today=today, sds_rule=rule) for one in products}


def standing(session: DbSession, product: Product, *, now: datetime) -> Standing:
    return standings(session, [product], now=now)[product.id]


def sheet_or_raise(session: DbSession, sheet_id: int) -> DataSheet:
    """A data sheet with its bytes."""
    chosen = (
        select(DataSheet)
        .where(DataSheet.id == sheet_id)
        .options(joinedload(DataSheet.kept).options(undefer(SheetContent.content)))
    )
    sheet = session.execute(chosen).scalar_one_or_none()
    if sheet is None:
        raise NotFound("data sheet", sheet_id)
    return sheet


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
            substances.c.product_id == product_id,
            versions.c.state == "approved",
            assessments.c.withdrawn_at.is_(None),
        )
        .exists()
    )
    return bool(session.execute(select(approved)).scalar_one())
