"""What the first page reads, across the rooms."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.baths import queries as baths
from labsys.baths.models import Bath, BathLine
from labsys.bookings.board import Board, board
from labsys.database import DbSession
from labsys.desk.expected import Expected, expected_today
from labsys.desk.matters import Matter, matters
from labsys.inductions import queries as inductions
from labsys.mail import queries as mail
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.planning.asks_less import AsksLess, assessments_that_ask_less
from labsys.records.models import Admits, Lab
from labsys.risk.today import DueHere, due_here
from labsys.timetable.local_time import to_local
from labsys.waste import queries as waste
from labsys.waste.contents import Contents

MOST_TO_CONFIRM = 20


@dataclass(frozen=True)
class LabToday:
    """The day as one person may see it, and the lab as it stands, in rows."""

    board: Board
    expected: list[Expected]
    to_confirm: int
    mail_needs_somebody: int
    admits: Admits
    lines: list[BathLine]
    baths: list[Bath]
    containers: list[Contents]
    matters: list[Matter]
    assessments: DueHere
    asks_less: list[AsksLess]


def lab_today(session: DbSession, *, person: Person, now: datetime, zone: ZoneInfo) -> LabToday:
    """Everything the first page is made from, in a fixed number of queries."""
    day = to_local(now, zone=zone).date()
    shown = board(session, day=day, zone=zone, viewer=person, now=now)
    assessments = due_here(session, person=person, today=day, zone=zone)
    is_adviser = may(person, Permission.CONFIRM_PRODUCT)
    waiting = inductions.unconfirmed(session, now=now, person_id=person.id, limit=MOST_TO_CONFIRM)
    return LabToday(
        board=shown,
        expected=expected_today(session, bookings=shown.bookings, viewer=person, now=now, zone=zone),
        to_confirm=len(waiting),
        mail_needs_somebody=mail.counts(session, now=now).need_somebody if may(person, Permission.SEE_MAIL) else 0,
        admits=session.get_one(Lab, 1).admits_under_18,
        lines=baths.lines(session),
        baths=baths.baths_here(session),
        containers=_containers(session, person),
        matters=matters(session, today=day, now=now, with_talks=may(person, Permission.SEE_CONFIDENCES)),
        assessments=assessments,
        asks_less=assessments_that_ask_less(session, assessments.approved) if is_adviser else [],
    )


def _containers(session: DbSession, person: Person) -> list[Contents]:
    """The waste containers in the lab, for those who have to do with what becomes of them."""
    concerned = (Permission.KEEP_WASTE, Permission.RELEASE_WASTE, Permission.SEE_RECORD)
    if not any(may(person, permission) for permission in concerned):
        return []
    return list(waste.contents(session, waste.containers_here(session)).values())
