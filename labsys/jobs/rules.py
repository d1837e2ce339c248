"""Decisions about jobs: how long a lease holds, when to try again, who may see a job."""

from datetime import datetime, timedelta

from labsys.jobs.kinds import Kind
from labsys.jobs.models import JobState
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.records.errors import Refused

LEASE = timedelta(minutes=3)
RENEWED_EVERY = timedelta(seconds=30)
TOLD_EVERY = timedelta(seconds=1)
TRIED_AGAIN_AFTER = timedelta(minutes=5)
KEPT = timedelta(days=30)
LONG_WAIT = timedelta(minutes=10)  # a server that runs looks every few seconds


class JobRefused(Refused):
    """A job cannot be had so; the message says why."""


def next_try(*, tries: int, limit: int, now: datetime) -> datetime | None:
    """When to begin again a job that was begun `tries` times and failed; None where that was often enough.

    >>> from datetime import UTC
    >>> next_try(tries=1, limit=3, now=datetime(2026, 3, 2, 12, tzinfo=UTC)).isoformat()
    '2026-03-02T12:05:00+00:00'
    """
    return now + TRIED_AGAIN_AFTER if tries < limit else None


def first_due(kind: Kind, *, now: datetime) -> datetime | None:
    """When the lab first does by itself what is of this kind: a heavy one lets the server start in peace."""
    if kind.every is None:
        return None
    return now + kind.every if kind.heavy else now


def may_try_again(*, state: JobState, last_error: str) -> bool:
    """Whether a job needs somebody: it failed, or is periodic and went wrong the last time."""
    return state is JobState.FAILED or (state is JobState.WAITING and bool(last_error))


def may_open(person: Person, *, kind: Kind | None, asked_by_id: int | None) -> bool:
    """Whether somebody may see a job: who asked, or sees all jobs; and in either case still may have what it made."""
    if kind is not None and not may(person, kind.opened_by):
        return False
    return asked_by_id == person.id or may(person, Permission.SEE_JOBS)


def require_open(person: Person, *, kind: Kind | None, asked_by_id: int | None) -> None:
    """Raise NotPermitted unless somebody may see a job."""
    if not may_open(person, kind=kind, asked_by_id=asked_by_id):
        raise NotPermitted(kind.opened_by if kind and not may(person, kind.opened_by) else Permission.SEE_JOBS)
