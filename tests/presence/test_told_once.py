"""Real processes look after the same people: somebody is told once, not twice and not never."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from flask import Flask

from labsys import clock
from labsys.config import Config
from labsys.database import db
from labsys.duty import service as duty
from labsys.duty.models import Alert, Presence, Telling
from labsys.mail.models import OutgoingMail
from tests.presence import worker
from tests.support.lab import SmallLab
from tests.support.processes import NewProcess, OwnProcess


@pytest.fixture
def process(lab: SmallLab, app: Flask, new_process: NewProcess) -> Callable[[Callable[[], None]], OwnProcess]:
    """Begin a process that is ready to look after people."""
    config: Config = app.config["LABSYS"]
    (config.instance / "secret_key").write_text(config.secret_key)
    environment = {**config.environment(), "LABSYS_DATABASE_URL": app.config["SQLALCHEMY_DATABASE_URI"]}

    def begin(what: Callable[[], None]) -> OwnProcess:
        process = new_process(what, environment=environment)
        assert process.stdout.readline() == "ready\n"
        return process

    return begin


@pytest.fixture
def somebody_overdue(lab: SmallLab) -> SmallLab:
    """A guest who should have left an hour ago, and two people to tell."""
    duty.set_contacts(lab.act("manager"), person_ids=[lab.ids["technician"], lab.ids["manager"]])
    now = clock.now()
    lab.session.add(
        Presence(
            name="A guest",
            came_at=now - timedelta(hours=3),
            leaves_by=now - timedelta(hours=1),
            recorded_at=now,
            noted_by_id=lab.ids["instructor"],
        )
    )
    lab.session.commit()
    return lab


def told(lab: SmallLab) -> list[str]:
    """Who was written to about it; each has one telling, and there is one alert."""
    lab.session.rollback()
    lab.session.expire_all()
    of_alerts = lab.session.query(OutgoingMail).filter(OutgoingMail.reason_key.startswith("alert "))
    names = [mail.person.name for mail in of_alerts.order_by(OutgoingMail.id)]
    assert lab.session.query(Telling).count() == len(names)
    assert lab.session.query(Alert).count() == min(len(names), 1)
    return names


@pytest.mark.slow
def test_three_processes_at_once_tell_the_first_once(somebody_overdue, process):
    lab = somebody_overdue
    db.engine.dispose()
    racers = [process(worker.look) for _ in range(3)]
    for racer in racers:
        racer.say("go")
    for racer in racers:
        assert racer.wait() == 0
    assert told(lab) == [lab.person("technician").name]
    # the time for an answer has passed: the next is told, and once
    lab.session.query(Telling).update({Telling.told_at: clock.now() - timedelta(minutes=11)})
    lab.session.commit()
    db.engine.dispose()
    racers = [process(worker.look) for _ in range(3)]
    for racer in racers:
        racer.say("go")
    for racer in racers:
        assert racer.wait() == 0
    assert told(lab) == [lab.person("technician").name, lab.person("manager").name]


@pytest.mark.slow
def test_a_process_killed_half_way_leaves_it_to_the_next(somebody_overdue, process):
    lab = somebody_overdue
    db.engine.dispose()
    dying = process(worker.half)
    dying.say("go")
    assert dying.wait() == 9
    assert told(lab) == []
    next_one = process(worker.look)
    next_one.say("go")
    assert next_one.wait() == 0
    assert told(lab) == [lab.person("technician").name]
