"""One transaction, all or nothing: what every change is made in, whether it goes on the record or not."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from threading import RLock
from typing import Concatenate, ParamSpec, TypeVar

from sqlalchemy.exc import DBAPIError

from labsys.database import BEGIN_OPTION, DbSession, is_lock_conflict, violates

P = ParamSpec("P")
R = TypeVar("R")
_FLAG = "labsys_transaction"
_TRIES = 2
_WAIT_S = 5.0  # as long as SQLite itself waits
_ONE_WRITER = RLock()  # SQLite takes one writer at a time


def in_transaction(session: DbSession, work: Callable[[], R], *, name: str) -> R:
    """Do the work as one transaction: commit at its end, roll back on any exception, refuse to nest.

    SQLite begins IMMEDIATE, so that what the work reads is still true when it writes. On PostgreSQL a deadlock or
    serialisation failure is tried once more, as are two forms with one submission key that met.
    """
    with _in_turn(session):
        return _in_transaction(session, work, name=name)


@contextmanager
def _in_turn(session: DbSession) -> Iterator[None]:
    """Let the threads of this process write to SQLite one after the other.

    Left to itself SQLite lets them look again every so often, sleeping longer each time, and some never find it free.
    Whoever has waited too long goes on and is answered by SQLite, as is whoever meets another process.
    """
    if session.get_bind().dialect.name != "sqlite":
        yield
        return
    has_turn = _ONE_WRITER.acquire(timeout=_WAIT_S)
    try:
        yield
    finally:
        if has_turn:
            _ONE_WRITER.release()


def _in_transaction(session: DbSession, work: Callable[[], R], *, name: str) -> R:
    if session.info.get(_FLAG):
        raise RuntimeError(f"{name} was called inside another act")
    if session.new or session.dirty or session.deleted:
        raise RuntimeError(f"{name} was called with unsaved changes in the session")
    for attempt in range(1, _TRIES + 1):
        session.rollback()  # ends the read of the page around us, so that ours begins as a write
        session.info[_FLAG] = True
        try:
            session.connection(execution_options={BEGIN_OPTION: "IMMEDIATE"})
            outcome = work()
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


def transaction(function: Callable[Concatenate[DbSession, P], R]) -> Callable[Concatenate[DbSession, P], R]:
    """Make a function one transaction that is no act of anybody's: a try counted, a message claimed."""

    @wraps(function)
    def run(session: DbSession, /, *args: P.args, **kwargs: P.kwargs) -> R:
        return in_transaction(session, lambda: function(session, *args, **kwargs), name=function.__name__)

    return run
