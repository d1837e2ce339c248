"""Kinds of job: what each does, how it is run, and who may ask for it. The list of them is in `labsys.background`."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Protocol

from flask import Flask

from labsys.config import Config
from labsys.database import DbSession
from labsys.people.permissions import Permission

_EXTENSION = "labsys-jobs"


class JobFailed(Exception):
    """A job cannot be done; the message is shown as it stands on the page of jobs.

    It is begun again later, unless it failed for good: that the next try would find the same.
    """

    def __init__(self, message: str, *, for_good: bool = False):
        super().__init__(message)
        self.for_good = for_good


@dataclass(frozen=True)
class File:
    """A file that a job made, under the name it is downloaded by."""

    name: str
    media_type: str
    content: bytes


@dataclass(frozen=True)
class Made:
    """What a job leaves when it went well: one sentence, and a file where there is one."""

    says: str = ""
    file: File | None = None


class Tell(Protocol):
    """Tells how far a job is; never inside an act, since it writes through a connection of its own."""

    def __call__(self, *, done: int, of: int, doing: str) -> None: ...


@dataclass(frozen=True)
class Task:
    """What the function of a job is handed.

    Attributes:
        session: A session of its own, without open changes.
        parameters: What was asked for, as plain JSON values.
        should_stop: Whether the server is stopping; asked between steps that may be left for another time.
    """

    session: DbSession
    config: Config
    parameters: Mapping[str, Any]
    now: Callable[[], datetime]
    tell: Tell
    should_stop: Callable[[], bool]


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of job.

    Attributes:
        name: What it is called in the table; it never changes.
        title: What it is called on the screen.
        run: Does it. May run twice when a process dies in the middle, so it must not matter if it does.
        heavy: Runs in a process of its own at low priority. A light one is over within a minute.
        tries: How often it is begun before it counts as failed.
        every: How long after its end the lab does it again by itself; None for what is only asked for.
        needs: What somebody must be permitted to ask for it and to open what it made; None where nobody asks.
        button: Words of its button on the page of jobs; empty where it is asked for elsewhere.
    """

    name: str
    title: str
    run: Callable[[Task], Made]
    heavy: bool = False
    tries: int = 3
    every: timedelta | None = None
    needs: Permission | None = None
    button: str = ""

    @property
    def opened_by(self) -> Permission:
        """What somebody must be permitted to see a job of this kind."""
        return self.needs or Permission.SEE_JOBS


Kinds = Mapping[str, Kind]


def register(app: Flask, kinds: Iterable[Kind]) -> None:
    """Let the application know its kinds of job, by their names."""
    app.extensions[_EXTENSION] = {kind.name: kind for kind in kinds}


def kinds_of(app: Flask) -> Kinds:
    kinds: Kinds = app.extensions[_EXTENSION]
    return kinds
