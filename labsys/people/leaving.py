"""What else ends when somebody leaves: rooms below hand it in at the start, to be told beforehand and then done."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from flask import Flask, current_app, has_app_context

from labsys.database import DbSession
from labsys.people.acts import Act
from labsys.people.models import Person

_HANDED_IN = "labsys-at-leaving"


@dataclass(frozen=True)
class AtLeaving:
    """What a room says beforehand will come of somebody's leaving, in sentences, and the step that does it."""

    foretell: Callable[[DbSession, Person, datetime], list[str]]
    release: Callable[[Act, Person], None]


def register_at_leaving(app: Flask, *steps: AtLeaving) -> None:
    """Let the application know what ends with somebody's account, in the order in which it is done."""
    app.extensions[_HANDED_IN] = steps


def foretold(session: DbSession, person: Person, now: datetime) -> list[str]:
    """What will come of it, before an account is closed."""
    return [sentence for step in _steps() for sentence in step.foretell(session, person, now)]


def release_all(act: Act, person: Person) -> None:
    """Step: end what ends with somebody's account."""
    for step in _steps():
        step.release(act, person)


def _steps() -> Sequence[AtLeaving]:
    steps: Sequence[AtLeaving] = current_app.extensions.get(_HANDED_IN, ()) if has_app_context() else ()
    return steps
