"""Doing one claimed job: its function is called, its file kept, and how it ended written down."""

import logging
import os
from collections.abc import Callable
from datetime import datetime

from sqlalchemy.orm import Session

from labsys import clock
from labsys.config import Config
from labsys.database import db
from labsys.jobs import files, rules, service
from labsys.jobs.kinds import JobFailed, Kind, Made, Task, Tell
from labsys.jobs.service import Claimed

_NICE = 10  # behind whatever answers people
_logger = logging.getLogger("labsys.jobs")


class LeaseLost(Exception):
    """The job is another process's by now: nothing more is written down."""


def carry_out(
    kind: Kind,
    claimed: Claimed,
    *,
    config: Config,
    clock_now: Callable[[], datetime] = clock.now,
    should_stop: Callable[[], bool] = lambda: False,
) -> bool:
    """Do a claimed job to its end. Returns whether it was still ours then.

    How far it is and how it ended are written through a session of their own, so that what the job reads stays one
    moment, and what it left open is undone.
    """
    db.session.rollback()  # what was read on the way here is of another moment
    with Session(db.engine) as notes:
        task = Task(db.session, config, claimed.parameters, clock_now, _teller(notes, claimed, clock_now), should_stop)
        try:
            made = _try(kind, task)
            digest = files.keep(config.files, job_id=claimed.id, content=made.file.content) if made.file else None
        except LeaseLost:
            return False
        except JobFailed as failure:
            _logger.warning("job %s (%s): %s", claimed.id, kind.name, failure)
            return service.note_failed(
                notes, claimed=claimed, kind=kind, error=str(failure), for_good=failure.for_good, now=clock_now()
            )
        return service.finish(notes, claimed=claimed, kind=kind, made=made, digest=digest, now=clock_now())


def step_back() -> None:
    """Let this process run at low priority, where the system knows such a thing."""
    if hasattr(os, "nice"):
        os.nice(_NICE)


def _try(kind: Kind, task: Task) -> Made:
    """Call a job's function. Raises LeaseLost or JobFailed, also for what nobody expected."""
    try:
        return kind.run(task)
    except (LeaseLost, JobFailed):
        raise
    except Exception as error:
        _logger.exception("a job of kind %s went wrong", kind.name)
        what = type(error).__name__
        raise JobFailed(f"Something went wrong that labsys did not expect ({what}). The log has more.") from error
    finally:
        task.session.rollback()


def _teller(notes: Session, claimed: Claimed, clock_now: Callable[[], datetime]) -> Tell:
    """Write down how far a job is, but not more than once a second."""
    told_at: datetime | None = None

    def tell(*, done: int, of: int, doing: str) -> None:
        nonlocal told_at
        now = clock_now()
        if told_at is not None and now - told_at < rules.TOLD_EVERY:
            return
        told_at = now
        if not service.tell(notes, claimed=claimed, done=done, of=of, doing=doing, now=now):
            raise LeaseLost

    return tell
