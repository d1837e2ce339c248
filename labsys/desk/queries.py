"""What the first page reads, across the rooms."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import exists, select
from sqlalchemy.orm import joinedload

from labsys.baths import queries as baths
from labsys.baths.models import Bath, BathLine
from labsys.database import DbSession
from labsys.ledger.models import Vessel
from labsys.stock.models import Bottle, Confirmation, Product
from labsys.waste import queries as waste
from labsys.waste.models import WasteContainer


@dataclass(frozen=True)
class LabToday:
    """The lab as it stands, in rows."""

    lines: list[BathLine]
    baths: list[Bath]
    containers: list[WasteContainer]
    products_waiting: list[Product]
    bottles_past_date: list[Bottle]


def lab_today(session: DbSession, *, on: date) -> LabToday:
    """Everything the first page is made from; `on` is the date on the lab's wall."""
    return LabToday(
        lines=baths.lines(session),
        baths=baths.baths_here(session),
        containers=waste.containers_here(session),
        products_waiting=products_waiting(session),
        bottles_past_date=bottles_past_date(session, on=on),
    )


def products_waiting(session: DbSession) -> list[Product]:
    """Products whose entries, as they now stand, nobody has confirmed."""
    confirmed = exists().where(Confirmation.product_id == Product.id, Confirmation.version == Product.version)
    return list(session.execute(select(Product).where(~confirmed).order_by(Product.name, Product.id)).scalars())


def bottles_past_date(session: DbSession, *, on: date) -> list[Bottle]:
    """Bottles with something in them whose date has gone by, the oldest date first."""
    chosen = (
        select(Bottle)
        .join(Bottle.vessel)
        .where(Bottle.expires_on < on, Vessel.level > 0)
        .options(joinedload(Bottle.product))
        .order_by(Bottle.expires_on, Bottle.id)
    )
    return list(session.execute(chosen).scalars())
