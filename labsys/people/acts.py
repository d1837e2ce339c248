"""What an act is: a value that says who acts and when, and a wrapper that makes it one transaction, once, on record."""

from collections.abc import Callable, Mapping
from dataclasses import KW_ONLY, dataclass, field, replace
from datetime import datetime
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

from labsys.database import DbSession
from labsys.people.models import Person
from labsys.records import service as records
from labsys.records.models import Submission
from labsys.records.service import About, Told
from labsys.records.transactions import in_transaction

P = ParamSpec("P")
R = TypeVar("R")


class AlreadyDone(Exception):
    """This form was acted on before; the earlier outcome stands and nothing was done again."""

    def __init__(self, outcome_kind: str, outcome_id: int):
        super().__init__(f"{outcome_kind} {outcome_id}")
        self.outcome_kind = outcome_kind
        self.outcome_id = outcome_id


class SubmissionKeyMisused(Exception):
    """The key of one form came back with another act or another person."""


@dataclass
class TabletVisit:
    """Somebody's visit at a shared tablet. It is good for one act, which ends it."""

    device_id: int
    is_over: bool = False


@dataclass(frozen=True)
class Act:
    """Who acts, when, and what came of it: the first argument of every service function.

    One is made for each request from its form (`labsys.people.access.this_act`), and likewise by the command line and
    the tests. `by` is None for the lab itself; the same `key` never acts twice.
    """

    session: DbSession
    _: KW_ONLY
    by: Person | None
    now: datetime
    key: str | None = None
    visit: TabletVisit | None = None
    told: list[Told] = field(default_factory=list, init=False, repr=False)

    @property
    def actor(self) -> Person:
        """The person who acts; an act of the lab itself has none."""
        if self.by is None:
            raise RuntimeError("This act is nobody's.")
        return self.by

    def tell(
        self, name: str, *, about: About, facts: Mapping[str, Any] | None = None, by: Person | None = None
    ) -> None:
        """Say what was done, for the record; what is told first names the entry and is what the act came to.

        `facts` are plain JSON values. `by` names who acts where that shows only within the act.
        """
        self.told.append(Told(name, about, dict(facts or {}), by or self.by))


def act(function: Callable[Concatenate[Act, P], R]) -> Callable[Concatenate[Act, P], R]:
    """Run a service function as one act: one transaction, once for each submission key, with one entry on the record.

    What the function tells the act is written last: the submission, then the entry, whose head is locked for as short
    as can be. A function that tells nothing found nothing to do. The second time a key comes, AlreadyDone carries what
    the first came to. An act through a tablet ends the visit there.
    """

    @wraps(function)
    def run(act: Act, /, *args: P.args, **kwargs: P.kwargs) -> R:
        def once() -> R:
            attempt = replace(act)
            _refuse_repeat(attempt, function.__name__)
            outcome = function(attempt, *args, **kwargs)
            _enter(attempt, function.__name__)
            return outcome

        outcome = in_transaction(act.session, once, name=function.__name__)
        if act.visit is not None:
            act.visit.is_over = True
        return outcome

    return run


def _refuse_repeat(act: Act, name: str) -> None:
    if act.key is None or (earlier := act.session.get(Submission, act.key)) is None:
        return
    if (earlier.act, earlier.person_id) != (name, act.actor.id):
        raise SubmissionKeyMisused(act.key)
    raise AlreadyDone(earlier.outcome_kind, earlier.outcome_id)


def _enter(act: Act, name: str) -> None:
    """Keep the submission and append the entry. What else an entry shall carry of an act is gathered here."""
    act.session.flush()
    if not act.told:
        return
    main = act.told[0]
    if act.key is not None:
        act.session.add(
            Submission(
                key=act.key,
                act=name,
                person_id=act.actor.id,
                outcome_kind=main.about.__tablename__,
                outcome_id=main.about.id,
            )
        )
    records.append(
        act.session, told=act.told, at=act.now, through=act.visit.device_id if act.visit is not None else None
    )
