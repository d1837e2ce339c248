"""What happens to jobs: queued, asked for, claimed with a lease, told of, ended, tried again, forgotten."""

import json
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import delete, update
from sqlalchemy.dialects import postgresql, sqlite

from labsys.database import DbSession
from labsys.jobs import queries, rules
from labsys.jobs.kinds import Kind, Kinds, Made
from labsys.jobs.models import Job, JobState
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import require
from labsys.records.chain import canonical
from labsys.records.transactions import transaction

_DIED = "The process that did this ended before it was done."
_NO_FILE = {"file_name": None, "media_type": None, "file_size": None, "digest": None}


@dataclass(frozen=True)
class Claimed:
    """A job that this process, and no other, is to do now."""

    id: int
    kind: str
    parameters: Mapping[str, Any]
    token: str


def queue(
    session: DbSession,
    *,
    kind: str,
    due_at: datetime,
    now: datetime,
    parameters: Mapping[str, Any] | None = None,
    asked_by: Person | None = None,
    once_key: str | None = None,
) -> int | None:
    """Queue a job as a step of an act, unless the same key has queued one before.

    Does not commit: the job stands or falls with the act that causes it. Returns its number, None if not queued.
    """
    values = {
        "kind": kind,
        "parameters": canonical(parameters or {}),
        "once_key": once_key,
        "asked_by_id": asked_by.id if asked_by else None,
        "asked_at": now,
        "due_at": due_at,
    }
    insert = postgresql.insert if session.connection().dialect.name == "postgresql" else sqlite.insert
    added = insert(Job).values(values).on_conflict_do_nothing(index_elements=["once_key"])
    return session.execute(added.returning(Job.id)).scalar_one_or_none()


@transaction
def plan_periodic(session: DbSession, *, kinds: Iterable[Kind], now: datetime) -> None:
    """Queue what the lab does by itself, once however many processes do this."""
    for kind in kinds:
        if (due_at := rules.first_due(kind, now=now)) is not None:
            queue(session, kind=kind.name, due_at=due_at, now=now, once_key=kind.name)


@act
def ask(act: Act, *, kind: Kind, parameters: Mapping[str, Any] | None = None) -> Job:
    """Queue a job for somebody who asks for it. Raises NotPermitted."""
    require(act.actor, kind.opened_by)
    job_id = queue(act.session, kind=kind.name, due_at=act.now, now=act.now, parameters=parameters, asked_by=act.actor)
    assert job_id is not None  # noqa: S101 - without a key nothing stands against it
    job = queries.job_or_raise(act.session, job_id)
    act.tell("job.asked", about=job, facts={"kind": kind.name, "parameters": dict(parameters or {})})
    return job


@act
def try_again(act: Act, *, job_id: int, kinds: Kinds) -> Job:
    """Put a job that failed back among those that wait. Raises NotPermitted, NotFound or JobRefused."""
    job = queries.job_or_raise(act.session, job_id, lock=True)
    rules.require_open(act.actor, kind=kinds.get(job.kind), asked_by_id=job.asked_by_id)
    if not rules.may_try_again(state=job.state, last_error=job.last_error):
        raise rules.JobRefused(f"This job is {job.state} and needs nothing from you.")
    job.state, job.due_at, job.tries = JobState.WAITING, act.now, 0
    act.tell("job.tried_again", about=job, facts={"kind": job.kind})
    return job


# With a lease


@transaction
def claim_next(session: DbSession, *, kinds: Kinds, now: datetime) -> Claimed | None:
    """Claim the job of these kinds that has been due for longest, or return None when there is none.

    The claim is one conditional UPDATE whose row count decides, so of several processes only one gets a job. A job
    that was begun often enough, and whose process died each time, has failed.
    """
    while (job_id := queries.next_due_id(session, kinds=kinds, now=now)) is not None:
        token = secrets.token_hex(16)
        claim = update(Job).where(Job.id == job_id, queries.is_due(now=now))
        leased = {"state": JobState.RUNNING, "lease_token": token, "leased_until": now + rules.LEASE}
        if session.execute(claim.values(leased).returning(Job.id)).scalar_one_or_none() is None:
            continue  # another process was faster
        job = queries.job_or_raise(session, job_id)
        kind = kinds[job.kind]
        if job.tries >= kind.tries:
            _fail(job, kind=kind, error=_DIED, for_good=True, now=now)
            session.flush()
            continue
        job.tries += 1
        job.started_at, job.steps_done, job.steps_of, job.doing = now, 0, 0, ""
        return _claimed(job, token)
    return None


def claimed_or_none(session: DbSession, *, job_id: int, token: str) -> Claimed | None:
    """The job that was claimed with this token, for the process that is to do it."""
    job = session.get(Job, job_id)
    return _claimed(job, token) if job is not None and job.lease_token == token else None


@transaction
def renew(session: DbSession, *, claimed: Claimed, now: datetime) -> bool:
    """Hold a job for longer. Returns False where it is not ours any more."""
    return _update(session, claimed, leased_until=now + rules.LEASE)


@transaction
def tell(session: DbSession, *, claimed: Claimed, done: int, of: int, doing: str, now: datetime) -> bool:
    """Note how far a job is, and hold it for longer. Returns False where it is not ours any more."""
    lease = now + rules.LEASE
    return _update(session, claimed, leased_until=lease, steps_done=done, steps_of=of, doing=doing[: Job.NAME_LENGTH])


@transaction
def release(session: DbSession, *, claimed: Claimed) -> None:
    """Let go of a job because the server stops; it waits as before, and counts as no try."""
    freed = {"state": JobState.WAITING, "lease_token": None, "leased_until": None}
    _update(session, claimed, tries=Job.tries - 1, **freed)


@transaction
def finish(session: DbSession, *, claimed: Claimed, kind: Kind, made: Made, digest: str | None, now: datetime) -> bool:
    """Note that a job went well; what is periodic waits until it is due again. False where it is not ours any more."""
    job = _ours(session, claimed)
    if job is None:
        return False
    _end(job, now=now)
    job.says, job.last_error, job.tries = made.says[: Job.WORDS_LENGTH], "", 0
    file = made.file
    job.file_name, job.media_type = (file.name, file.media_type) if file else (None, None)
    job.file_size, job.digest = (len(file.content), digest) if file else (None, None)
    if job.is_periodic and kind.every is not None:
        job.state, job.due_at = JobState.WAITING, now + kind.every
    else:
        job.state = JobState.DONE
    return True


@transaction
def note_failed(
    session: DbSession, *, claimed: Claimed, kind: Kind, error: str = _DIED, for_good: bool = False, now: datetime
) -> bool:
    """Note that a try went wrong: the job waits for the next, or has failed. False where it is not ours any more."""
    job = _ours(session, claimed)
    if job is None:
        return False
    _fail(job, kind=kind, error=error, for_good=for_good, now=now)
    return True


@transaction
def forget(session: DbSession, *, before: datetime) -> int:
    """Forget jobs that ended before an instant; of what is periodic only the file. Returns how many jobs went."""
    ended = Job.finished_at < before
    session.execute(update(Job).where(ended, Job.once_key == Job.kind).values(_NO_FILE))
    gone = delete(Job).where(ended, Job.state.in_((JobState.DONE, JobState.FAILED)))
    return len(session.execute(gone.returning(Job.id)).all())


def _claimed(job: Job, token: str) -> Claimed:
    return Claimed(job.id, job.kind, json.loads(job.parameters), token)


def _update(session: DbSession, claimed: Claimed, **values: object) -> bool:
    ours = update(Job).where(Job.id == claimed.id, Job.lease_token == claimed.token)
    return session.execute(ours.values(**values).returning(Job.id)).scalar_one_or_none() is not None


def _ours(session: DbSession, claimed: Claimed) -> Job | None:
    job = session.get(Job, claimed.id, with_for_update=True, populate_existing=True)
    return job if job is not None and job.lease_token == claimed.token else None


def _fail(job: Job, *, kind: Kind, error: str, for_good: bool, now: datetime) -> None:
    _end(job, now=now)
    job.last_error = error[: Job.WORDS_LENGTH]
    later = None if for_good else rules.next_try(tries=job.tries, limit=kind.tries, now=now)
    if later is None and job.is_periodic and kind.every is not None:
        later, job.tries = now + kind.every, 0
    if later is None:
        job.state = JobState.FAILED
    else:
        job.state, job.due_at = JobState.WAITING, later


def _end(job: Job, *, now: datetime) -> None:
    job.lease_token = job.leased_until = None
    job.finished_at = now
