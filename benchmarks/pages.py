"""How long pages and acts take in one process, each in turn with its bare page (`bare.py`)."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median

from flask import Flask
from flask.testing import FlaskClient

from benchmarks.bare import BarePage, bare_app, taken_down
from benchmarks.visits import Visit, signed_in, token_in
from labsys.config import Config
from labsys.database import db

_ROUNDS, _SECONDS = 40, 4.0  # of each page: whichever is reached first, but at least _LEAST
_LEAST = 5


@dataclass(frozen=True)
class Times:
    """What was measured of one way of answering: by the clock on the wall, and by the processor alone. [ms]"""

    median: float
    least: float
    most: float
    processor: float

    @classmethod
    def of(cls, seconds: list[tuple[float, float]]) -> "Times":
        wall, processor = zip(*seconds, strict=True)
        return cls(median(wall) * 1000, min(wall) * 1000, max(wall) * 1000, median(processor) * 1000)


@dataclass(frozen=True)
class Measured:
    """One page against its bare page; how many statements it asks, and how many bytes it answers with."""

    name: str
    ours: Times
    bare: Times
    statements: int
    size: int
    rounds: int


def take_down(app: Flask, visit: Visit) -> BarePage:
    """Open a page twice, and take down what it asks of the database the second time."""
    call = caller(signed_in(app, visit.who), visit)
    call()
    with app.app_context():
        engine = db.engine
    with taken_down(engine) as asked:
        size = call()
    return BarePage(tuple(asked), size)


def caller(client: FlaskClient, visit: Visit) -> Callable[[], int]:
    """What opens a page, or sends its form, and returns the size of the answer."""
    expected = 303 if visit.sent else 302 if visit.path.startswith("/c/") else 200
    sent = {**dict(visit.sent), "csrf_token": token_in(client.get(visit.path).text)} if visit.sent else None

    def call() -> int:
        answer = client.post(visit.path, data=sent) if sent else client.get(visit.path)
        assert answer.status_code == expected, f"{visit.path}: {answer.status}"
        return len(answer.data)

    return call


def measure(app: Flask, visit: Visit, bare: BarePage, *, rounds: int = _ROUNDS) -> Measured:
    """Time a page and its bare page in turn, so that both meet the same machine."""
    config: Config = app.config["LABSYS"]
    path = config.database_url.removeprefix("sqlite:///")
    bare_client = bare_app(path, {visit.key: bare}).test_client()

    def call_bare() -> int:
        return len((bare_client.post if visit.sent else bare_client.get)(f"/{visit.key}").data)

    call = caller(signed_in(app, visit.who), visit)
    ours: list[tuple[float, float]] = []
    theirs: list[tuple[float, float]] = []
    call(), call_bare()
    began = time.perf_counter()
    while len(ours) < rounds and (len(ours) < _LEAST or time.perf_counter() - began < _SECONDS):
        for times, ask in ((ours, call), (theirs, call_bare)):
            start, used = time.perf_counter(), time.process_time()
            ask()
            times.append((time.perf_counter() - start, time.process_time() - used))
    return Measured(visit.name, Times.of(ours), Times.of(theirs), len(bare.asked), bare.size, len(ours))
