"""What the outbox page and the senders read."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, and_, case, func, or_, select
from sqlalchemy.orm import joinedload

from labsys.database import DbSession
from labsys.mail.models import OutgoingMail
from labsys.mail.rules import OUTCOME_DUE
from labsys.records.queries import get_or_raise

IS_WAITING = (OutgoingMail.sent_at.is_(None), OutgoingMail.given_up_at.is_(None), OutgoingMail.sending_since.is_(None))


@dataclass(frozen=True)
class Counts:
    """How many messages are in each state that is not over and done with."""

    waiting: int
    given_up: int
    not_known: int

    @property
    def need_somebody(self) -> int:
        return self.given_up + self.not_known


def mail_or_raise(session: DbSession, mail_id: int, *, lock: bool = False) -> OutgoingMail:
    return get_or_raise(session, OutgoingMail, mail_id, "message", lock=lock)


def next_due_id(session: DbSession, *, now: datetime) -> int | None:
    """The waiting message that has been due for longest."""
    due = select(OutgoingMail.id).where(*IS_WAITING, OutgoingMail.send_at <= now)
    return session.execute(due.order_by(OutgoingMail.send_at, OutgoingMail.id).limit(1)).scalar_one_or_none()


def needs_somebody(*, now: datetime) -> ColumnElement[bool]:
    """Messages given up, or of which nobody knows whether they left."""
    has_no_outcome = OutgoingMail.given_up_at.is_(None) & (OutgoingMail.sending_since < now - OUTCOME_DUE)
    return OutgoingMail.sent_at.is_(None) & (OutgoingMail.given_up_at.is_not(None) | has_no_outcome)


def counts(session: DbSession, *, now: datetime) -> Counts:
    """Count what is not sent, in one query."""
    open_claim = OutgoingMail.given_up_at.is_(None) & OutgoingMail.sending_since.is_not(None)
    kinds = (
        and_(*IS_WAITING),
        OutgoingMail.given_up_at.is_not(None),
        open_claim & (OutgoingMail.sending_since < now - OUTCOME_DUE),
    )
    sums = [func.coalesce(func.sum(case((kind, 1), else_=0)), 0) for kind in kinds]
    waiting, given_up, not_known = session.execute(select(*sums).where(OutgoingMail.sent_at.is_(None))).one()
    return Counts(int(waiting), int(given_up), int(not_known))


def needing_somebody(session: DbSession, *, now: datetime, limit: int) -> list[OutgoingMail]:
    """Messages given up, or of which nobody knows whether they left, newest first."""
    stuck = or_(OutgoingMail.given_up_at.is_not(None), OutgoingMail.sending_since < now - OUTCOME_DUE)
    return _newest(session, OutgoingMail.sent_at.is_(None), stuck, limit=limit)


def first_sent(session: DbSession, *, reason: str) -> datetime | None:
    """When the first of the messages left whose keys begin so."""
    begins_so = OutgoingMail.reason_key.startswith(reason, autoescape=True)
    return session.execute(select(func.min(OutgoingMail.sent_at)).where(begins_so)).scalar_one()


def newest(session: DbSession, *, before_id: int | None, limit: int) -> list[OutgoingMail]:
    """All messages, newest first, from the one before `before_id`."""
    return _newest(session, *([OutgoingMail.id < before_id] if before_id is not None else []), limit=limit)


def _newest(session: DbSession, *conditions: object, limit: int) -> list[OutgoingMail]:
    query = select(OutgoingMail).where(*conditions).options(joinedload(OutgoingMail.person))  # type: ignore[arg-type]
    return list(session.execute(query.order_by(OutgoingMail.id.desc()).limit(limit)).scalars())
