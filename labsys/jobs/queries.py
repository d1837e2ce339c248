"""What pages, runners and the health page read of jobs."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import ColumnElement, and_, func, or_, select
from sqlalchemy.orm import joinedload

from labsys.database import DbSession
from labsys.jobs.models import Job, JobState
from labsys.people.row_kinds import Page, RowKind
from labsys.records.queries import get_or_raise


def is_due(*, now: datetime) -> ColumnElement[bool]:
    """Jobs to be begun: those that wait and whose time has come, and those whose process died."""
    return or_(
        and_(Job.state == JobState.WAITING, Job.due_at <= now),
        and_(Job.state == JobState.RUNNING, Job.leased_until < now),
    )


def job_or_raise(session: DbSession, job_id: int, *, lock: bool = False) -> Job:
    return get_or_raise(session, Job, job_id, "job", lock=lock)


def next_due_id(session: DbSession, *, kinds: Collection[str], now: datetime) -> int | None:
    """The job of these kinds that has been due for longest."""
    due = select(Job.id).where(is_due(now=now), Job.kind.in_(tuple(kinds))).order_by(Job.due_at, Job.id).limit(1)
    return session.execute(due).scalar_one_or_none()


def due_since(session: DbSession, *, kinds: Collection[str], now: datetime) -> datetime | None:
    """Since when the oldest due job has waited, None where none does."""
    return session.execute(select(func.min(Job.due_at)).where(is_due(now=now), Job.kind.in_(tuple(kinds)))).scalar_one()


def periodic(session: DbSession) -> list[Job]:
    """What the lab does again and again by itself."""
    return list(session.execute(select(Job).where(Job.once_key == Job.kind).order_by(Job.kind)).scalars())


def asked_for(session: DbSession, *, before_id: int | None, limit: int) -> list[Job]:
    """All other jobs, newest first, from the one before `before_id`."""
    query = select(Job).where(or_(Job.once_key.is_(None), Job.once_key != Job.kind)).options(joinedload(Job.asked_by))
    if before_id is not None:
        query = query.where(Job.id < before_id)
    return list(session.execute(query.order_by(Job.id.desc()).limit(limit)).scalars())


def files_named(session: DbSession) -> list[tuple[int, str]]:
    """Number and digest of each job that has a file."""
    rows = session.execute(select(Job.id, Job.digest).where(Job.digest.is_not(None)))
    return [(job_id, digest) for job_id, digest in rows if digest is not None]


JOB = RowKind(table=Job, called="job", many="jobs", pages=(Page("jobs.show", "job_id"),))
