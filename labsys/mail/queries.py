"""What the outbox page and the senders read."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, and_, case, func, or_, select
from sqlalchemy.orm import joinedload

from labsys.database import DbSession
from labsys.mail.models import OutgoingMail, UnwantedMail
from labsys.mail.rules import LATE_AFTER, OUTCOME_DUE
from labsys.records.queries import get_or_raise

IS_OPEN = (OutgoingMail.sent_at.is_(None), OutgoingMail.put_aside_at.is_(None))
IS_WAITING = (*IS_OPEN, OutgoingMail.given_up_at.is_(None), OutgoingMail.sending_since.is_(None))


@dataclass(frozen=True)
class Counts:
    """How many messages are in each state that is not over and done with."""

    waiting: int
    late: int  # of those waiting
    given_up: int
    not_known: int

    @property
    def need_somebody(self) -> int:
        return self.late + self.given_up + self.not_known


def mail_or_raise(session: DbSession, mail_id: int, *, lock: bool = False) -> OutgoingMail:
    return get_or_raise(session, OutgoingMail, mail_id, "message", lock=lock)


def next_due_id(session: DbSession, *, now: datetime) -> int | None:
    """The waiting message that has been due for longest."""
    due = select(OutgoingMail.id).where(*IS_WAITING, OutgoingMail.send_at <= now)
    return session.execute(due.order_by(OutgoingMail.send_at, OutgoingMail.id).limit(1)).scalar_one_or_none()


def counts(session: DbSession, *, now: datetime) -> Counts:
    """Count what is not sent, in one query."""
    kinds = (and_(*IS_WAITING), _is_late(now), OutgoingMail.given_up_at.is_not(None), _is_not_known(now))
    sums = [func.coalesce(func.sum(case((kind, 1), else_=0)), 0) for kind in kinds]
    return Counts(*(int(count) for count in session.execute(select(*sums).where(*IS_OPEN)).one()))


def needing_somebody(session: DbSession, *, now: datetime, limit: int) -> list[OutgoingMail]:
    """Messages given up, waiting for long, or of which nobody knows whether they left, newest first."""
    return _newest(session, *is_stuck(now), limit=limit)


def is_stuck(now: datetime) -> tuple[ColumnElement[bool], ...]:
    """What makes a message one that needs somebody."""
    return (*IS_OPEN, or_(_is_late(now), OutgoingMail.given_up_at.is_not(None), _is_not_known(now)))


def _is_late(now: datetime) -> ColumnElement[bool]:
    """As `rules.state_of` has it."""
    since = case((OutgoingMail.tries > 0, OutgoingMail.created_at), else_=OutgoingMail.send_at)
    return and_(*IS_WAITING, since < now - LATE_AFTER)


def _is_not_known(now: datetime) -> ColumnElement[bool]:
    return OutgoingMail.given_up_at.is_(None) & (OutgoingMail.sending_since < now - OUTCOME_DUE)


def unwanted_by(session: DbSession, *, person_ids: Collection[int]) -> dict[int, set[str]]:
    """The kinds of mail that each of these people does not want, by their names."""
    unwanted: dict[int, set[str]] = {person_id: set() for person_id in person_ids}
    query = select(UnwantedMail.person_id, UnwantedMail.kind).where(UnwantedMail.person_id.in_(person_ids))
    for person_id, name in session.execute(query):
        unwanted[person_id].add(name)
    return unwanted


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
