"""From any row to its page: every kind of row that has one, and whose page tells of the others."""

from sqlalchemy import SQLColumnExpression, select

from labsys.baths.models import Bath, Check, LateUse, Rotation
from labsys.baths.queries import BATH, LINE, USE
from labsys.baths.recall.queries import RECALL
from labsys.bookings.models import FairUse
from labsys.bookings.queries import BOOKING, WAIT
from labsys.brought_in.queries import DECLARATION
from labsys.calendars.models import CalendarAddress
from labsys.competences.models import CompetenceGrant
from labsys.courses.models import Meeting
from labsys.courses.queries import COURSE
from labsys.database import DbSession, Model
from labsys.devices.queries import CARD, TABLET
from labsys.documents.registry import ISSUED
from labsys.duty.models import CallIn, DutyRules, Presence, StaffingRule
from labsys.duty.queries import ALERT
from labsys.equipment.queries import EQUIPMENT, FAULT
from labsys.handover.queries import FILM, NOTE
from labsys.incidents.queries import INCIDENT
from labsys.inductions.models import InductionVersion, QuizAttempt, SignOff, Withdrawal
from labsys.inductions.queries import INDUCTION
from labsys.jobs.queries import JOB
from labsys.labware.models import OwnedCylinder
from labsys.labware.queries import VESSEL
from labsys.mail.models import OutgoingMail
from labsys.membership.models import Agreement
from labsys.offline.models import KeptEntry
from labsys.people.queries import PERSON
from labsys.people.row_kinds import Page, RowKind
from labsys.places.models import Closure
from labsys.places.queries import ROOM, STATION
from labsys.processes.models import FilmTime
from labsys.processes.queries import PROCESS
from labsys.products.models import DataSheet, StoreRule
from labsys.products.queries import PRODUCT
from labsys.proving.models import SafelightTest, WashTest
from labsys.risk.models import Action, Version
from labsys.risk.pages import ASSESSMENT
from labsys.store.queries import BOTTLE, COUNT, SHELF, UNLABELLED
from labsys.waste.models import Pour, SewerConsent, WasteStream
from labsys.waste.queries import COLLECTION, CONTAINER, DISCHARGE

# In the order in which what was found is shown.
KINDS: tuple[RowKind, ...] = (
    *(
        BATH,
        LINE,
        USE,
        RECALL,
        BOTTLE,
        UNLABELLED,
        PRODUCT,
        SHELF,
        COUNT,
        PROCESS,
        VESSEL,
        STATION,
        ROOM,
        BOOKING,
        WAIT,
        COURSE,
        CONTAINER,
        COLLECTION,
        DISCHARGE,
    ),
    *(
        EQUIPMENT,
        INDUCTION,
        ASSESSMENT,
        DECLARATION,
        INCIDENT,
        PERSON,
        CARD,
        TABLET,
        ISSUED,
        JOB,
        ALERT,
        FAULT,
        NOTE,
        FILM,
    ),
)
OF_TABLE = {kind.table.__tablename__: kind for kind in KINDS}
OF_CODE = {kind.coded: kind for kind in KINDS if kind.coded}

# Rows that the page of another row tells of: of which kind, and which one.
OWNER_OF: dict[str, tuple[RowKind, SQLColumnExpression[int]]] = {
    table.__tablename__: (kind, which)
    for table, kind, which in (
        (Action, ASSESSMENT, Action.assessment_id),
        (Check, BATH, Check.bath_id),
        (DataSheet, PRODUCT, DataSheet.product_id),
        (InductionVersion, INDUCTION, InductionVersion.induction_id),
        (Meeting, COURSE, Meeting.course_id),
        (Pour, CONTAINER, Pour.container_id),
        (Rotation, LINE, select(Bath.line_id).where(Bath.id == Rotation.bath_id).scalar_subquery()),
        (Version, ASSESSMENT, Version.assessment_id),
        (WashTest, LINE, WashTest.line_id),
    )
}

# Rows that are seen on a list alone. The lab is nowhere here: acts of several rooms are about it.
LISTED = {
    table.__tablename__: Page(endpoint)
    for table, endpoint in (
        (Agreement, "membership.own"),
        (CallIn, "duty.alone"),
        (CalendarAddress, "calendars.index"),
        (Closure, "places.index"),
        (DutyRules, "duty.index"),
        (CompetenceGrant, "competences.index"),
        (FairUse, "fair_use.index"),
        (FilmTime, "processes.film_times"),
        (KeptEntry, "offline.index"),
        (LateUse, "baths.late_uses"),
        (OutgoingMail, "mail.index"),
        (OwnedCylinder, "labware.cylinders"),
        (Presence, "presence.index"),
        (QuizAttempt, "inductions.index"),
        (SignOff, "inductions.index"),
        (StaffingRule, "duty.index"),
        (StoreRule, "products.index"),
        (SewerConsent, "waste.sewer"),
        (SafelightTest, "proving.safelights"),
        (WasteStream, "waste.index"),
        (Withdrawal, "inductions.index"),
    )
}


def address_of(session: DbSession, table: str, row_id: int) -> str | None:
    """The page that tells of a row; None where none does."""
    if table in OWNER_OF:
        kind, which = OWNER_OF[table]
        rows = Model.metadata.tables[table]
        owner_id = session.execute(select(which).select_from(rows).where(rows.c.id == row_id)).scalar_one_or_none()
        return None if owner_id is None else kind.address(owner_id)
    if page := LISTED.get(table):
        return page.address(row_id)
    return OF_TABLE[table].address(row_id) if table in OF_TABLE else None


def label_of(table: str, row_id: int) -> str:
    """The document that is the label of a row."""
    label = OF_TABLE[table].label
    if label is None:
        raise LookupError(f"{table} have no label")
    return label.address(row_id)
