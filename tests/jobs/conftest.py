import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import select

from labsys.background import KINDS
from labsys.config import Config
from labsys.jobs import kinds
from labsys.jobs.models import Job
from labsys.jobs.runner import Runner
from tests.jobs import worker
from tests.support.lab import SmallLab
from tests.support.processes import NewProcess, OwnProcess

WORKER = (sys.executable, str(Path(worker.__file__)))


@pytest.fixture
def config(app: Flask) -> Config:
    """The settings of the lab, whose instance a process of its own can read too."""
    config: Config = app.config["LABSYS"]
    (config.instance / "secret_key").write_text(config.secret_key)
    return config


@pytest.fixture
def new_runner(app: Flask, lab: SmallLab, config: Config) -> Iterator[Callable[..., Runner]]:
    """Make runners whose time is the lab's, and whose heavy jobs know the kinds of the tests."""
    made: list[Runner] = []

    def make(*chosen: kinds.Kind) -> Runner:
        kinds.register(app, chosen)
        made.append(Runner(app, clock_now=lambda: lab.now, command=(*WORKER, "run-job")))
        return made[-1]

    yield make
    for runner in made:
        runner.stop()
    kinds.register(app, KINDS)  # the application is that of the next test too


@pytest.fixture
def start(config: Config, new_process: NewProcess) -> Callable[[str], OwnProcess]:
    """Start a worker in a process of its own."""
    return lambda command: new_process(worker.main, command, environment=config.environment())


@pytest.fixture
def jobs(lab: SmallLab) -> Callable[[], list[Job]]:
    """Read all jobs anew."""

    def read() -> list[Job]:
        lab.session.rollback()
        lab.session.expire_all()
        return list(lab.session.execute(select(Job).order_by(Job.id)).scalars())

    return read
