"""From any row to its page: every kind of row that has one, and whose page tells of the others."""

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import InstrumentedAttribute

from labsys.baths.models import Check, Rotation
from labsys.baths.queries import BATH, LINE, USE
from labsys.bookings.queries import BOOKING
from labsys.brought_in.queries import DECLARATION
from labsys.database import DbSession
from labsys.devices.queries import CARD, TABLET
from labsys.documents.registry import ISSUED
from labsys.incidents.queries import INCIDENT
from labsys.inductions.models import InductionVersion, SignOff, Withdrawal
from labsys.inductions.queries import INDUCTION
from labsys.jobs.queries import JOB
from labsys.labware.models import OwnedCylinder
from labsys.labware.queries import VESSEL
from labsys.mail.models import OutgoingMail
from labsys.people.queries import PERSON
from labsys.people.row_kinds import Page, RowKind
from labsys.places.models import Closure
from labsys.places.queries import ROOM, STATION
from labsys.processes.queries import PROCESS
from labsys.products.models import DataSheet, StoreRule
from labsys.products.queries import PRODUCT
from labsys.risk.models import Action, Version
from labsys.risk.pages import ASSESSMENT
from labsys.store.queries import BOTTLE, SHELF
from labsys.waste.models import Pour, WasteStream
from labsys.waste.queries import COLLECTION, CONTAINER

# In the order in which what was found is shown.
KINDS: tuple[RowKind, ...] = (
    *(BATH, LINE, USE, BOTTLE, PRODUCT, SHELF, PROCESS, VESSEL, STATION, ROOM, BOOKING, CONTAINER, COLLECTION),
    *(INDUCTION, ASSESSMENT, DECLARATION, INCIDENT, PERSON, CARD, TABLET, ISSUED, JOB),
)
OF_TABLE = {kind.table.__tablename__: kind for kind in KINDS}
OF_CODE = {kind.coded: kind for kind in KINDS if kind.coded}

# Rows that the page of another row tells of, by the column that says which.
_OWNERS: tuple[InstrumentedAttribute[int], ...] = (
    *(Check.bath_id, Rotation.bath_id, Pour.container_id, DataSheet.product_id),
    *(InductionVersion.induction_id, Version.assessment_id, Action.assessment_id),
)
OWNER_OF = {column.class_.__tablename__: column for column in _OWNERS}

# Rows that are seen on a list alone. The lab is nowhere here: acts of several rooms are about it.
LISTED = {
    table.__tablename__: Page(endpoint)
    for table, endpoint in (
        (Closure, "places.index"),
        (OutgoingMail, "mail.index"),
        (OwnedCylinder, "labware.cylinders"),
        (SignOff, "inductions.index"),
        (StoreRule, "products.index"),
        (WasteStream, "waste.index"),
        (Withdrawal, "inductions.index"),
    )
}


def address_of(session: DbSession, table: str, row_id: int) -> str | None:
    """The page that tells of a row; None where none does."""
    if column := OWNER_OF.get(table):
        owner_id = session.execute(select(column).where(column.class_.id == row_id)).scalar_one_or_none()
        return None if owner_id is None else OF_TABLE[_owner(column)].address(owner_id)
    if page := LISTED.get(table):
        return page.address(row_id)
    return OF_TABLE[table].address(row_id) if table in OF_TABLE else None


def label_of(table: str, row_id: int) -> str:
    """The document that is the label of a row."""
    label = OF_TABLE[table].label
    if label is None:
        raise LookupError(f"{table} have no label")
    return label.address(row_id)


def _owner(column: InstrumentedAttribute[Any]) -> str:
    (key,) = column.property.columns[0].foreign_keys
    return str(key.column.table.name)
