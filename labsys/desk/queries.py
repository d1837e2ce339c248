"""What the first page reads, across the rooms."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import exists, or_, select
from sqlalchemy.orm import contains_eager

from labsys.baths import queries as baths
from labsys.baths.models import Bath, BathLine
from labsys.bookings.board import Board, board
from labsys.database import DbSession
from labsys.desk.expected import Expected, expected_today
from labsys.inductions import queries as inductions
from labsys.ledger.models import Vessel
from labsys.mail import queries as mail
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.risk.today import DueHere, due_here
from labsys.stock.models import Bottle, Confirmation, Product
from labsys.timetable.local_time import to_local
from labsys.waste import queries as waste
from labsys.waste.models import WasteContainer

MOST_TO_CONFIRM = 20


@dataclass(frozen=True)
class LabToday:
    """The day as one person may see it, and the lab as it stands, in rows."""

    board: Board
    expected: list[Expected]
    to_confirm: int
    mail_needs_somebody: int
    lines: list[BathLine]
    baths: list[Bath]
    containers: list[WasteContainer]
    products_waiting: list[Product]
    bottles_past_date: list[Bottle]
    assessments: DueHere


def lab_today(session: DbSession, *, person: Person, now: datetime, zone: ZoneInfo) -> LabToday:
    """Everything the first page is made from, in a fixed number of queries."""
    day = to_local(now, zone=zone).date()
    shown = board(session, day=day, zone=zone, viewer=person, now=now)
    waiting = inductions.unconfirmed(session, now=now, person_id=person.id, limit=MOST_TO_CONFIRM)
    products_waiting, bottles_past_date = _store_needs_somebody(session, on=day)
    return LabToday(
        board=shown,
        expected=expected_today(session, bookings=shown.bookings, viewer=person, now=now, zone=zone),
        to_confirm=len(waiting),
        mail_needs_somebody=_mail_needs_somebody(session, person=person, now=now),
        lines=baths.lines(session),
        baths=baths.baths_here(session),
        containers=waste.containers_here(session),
        products_waiting=products_waiting,
        bottles_past_date=bottles_past_date,
        assessments=due_here(session, person=person, today=day, zone=zone),
    )


def _mail_needs_somebody(session: DbSession, *, person: Person, now: datetime) -> int:
    return mail.counts(session, now=now).need_somebody if may(person, Permission.SEE_MAIL) else 0


def _store_needs_somebody(session: DbSession, *, on: date) -> tuple[list[Product], list[Bottle]]:
    """Products whose entries, as they now stand, nobody has confirmed, by name; and bottles with something in them
    whose date has gone by, the oldest date first.
    """
    confirmed = exists().where(Confirmation.product_id == Product.id, Confirmation.version == Product.version)
    past = (
        select(Bottle.id)
        .join(Bottle.vessel)
        .where(Bottle.product_id == Product.id, Bottle.expires_on < on, Vessel.level > 0)
        .correlate(Product)
    )
    rows = session.execute(
        select(Product, Bottle, confirmed)
        .outerjoin(Bottle, Bottle.id.in_(past))
        .where(or_(~confirmed, Bottle.id.is_not(None)))
        .options(contains_eager(Bottle.product))
        .order_by(Product.name, Product.id, Bottle.expires_on, Bottle.id)
    ).all()
    waiting = dict.fromkeys(product for product, _, is_confirmed in rows if not is_confirmed)
    bottles = [bottle for _, bottle, _ in rows if bottle is not None]
    return list(waiting), sorted(bottles, key=lambda one: (one.expires_on, one.id))
