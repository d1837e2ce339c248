"""What makes an act an act: one transaction, done once, all or nothing."""

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

from sqlalchemy import inspect
from sqlalchemy.exc import DBAPIError

from labsys.database import BEGIN_OPTION, DbSession, is_lock_conflict, violates
from labsys.records.models import Submission

P = ParamSpec("P")
R = TypeVar("R")
_FLAG = "labsys_act"
_TRIES = 2


class AlreadyDone(Exception):
    """This form was acted on before; the earlier outcome stands and nothing was done again."""

    def __init__(self, outcome_kind: str, outcome_id: int):
        super().__init__(f"{outcome_kind} {outcome_id}")
        self.outcome_kind = outcome_kind
        self.outcome_id = outcome_id


class SubmissionKeyMisused(Exception):
    """The key of one form came back with another act or another person."""


def act(function: Callable[Concatenate[DbSession, P], R]) -> Callable[Concatenate[DbSession, P], R]:
    """Run a service function as one transaction: commit at its end, roll back on any exception, refuse to nest.

    SQLite begins IMMEDIATE, so that what the act reads is still true when it writes. On PostgreSQL a deadlock or
    serialisation failure is tried once more. A `submission_key` among the arguments makes the act happen once only:
    the second time AlreadyDone carries the first outcome.
    """

    @wraps(function)
    def run(session: DbSession, /, *args: P.args, **kwargs: P.kwargs) -> R:
        if session.info.get(_FLAG):
            raise RuntimeError(f"{function.__name__} was called inside another act")
        if session.new or session.dirty or session.deleted:
            raise RuntimeError(f"{function.__name__} was called with unsaved changes in the session")
        for attempt in range(1, _TRIES + 1):
            session.rollback()  # ends the read of the page around us, so that ours begins as a write
            session.info[_FLAG] = True
            try:
                session.connection(execution_options={BEGIN_OPTION: "IMMEDIATE"})
                _refuse_repeat(session, function.__name__, kwargs)
                outcome = function(session, *args, **kwargs)
                _keep_submission(session, function.__name__, kwargs, outcome)
                session.commit()
            except DBAPIError as error:
                session.rollback()
                again = is_lock_conflict(error) or violates(error, "pk_submissions", columns="submissions.key")
                if not again or attempt == _TRIES:
                    raise
            except BaseException:
                session.rollback()
                raise
            else:
                return outcome
            finally:
                session.info.pop(_FLAG, None)
        raise AssertionError("unreachable")

    return run


def _refuse_repeat(session: DbSession, name: str, arguments: dict[str, Any]) -> None:
    key = arguments.get("submission_key")
    if key is None or (earlier := session.get(Submission, key)) is None:
        return
    if (earlier.act, earlier.person_id) != (name, arguments["actor"].id):
        raise SubmissionKeyMisused(key)
    raise AlreadyDone(earlier.outcome_kind, earlier.outcome_id)


def _keep_submission(session: DbSession, name: str, arguments: dict[str, Any], outcome: Any) -> None:
    key = arguments.get("submission_key")
    if key is None:
        return
    session.flush()
    (outcome_id,) = inspect(outcome).identity
    session.add(
        Submission(
            key=key,
            act=name,
            person_id=arguments["actor"].id,
            outcome_kind=outcome.__tablename__,
            outcome_id=outcome_id,
        )
    )
