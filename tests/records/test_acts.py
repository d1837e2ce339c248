"""An act is one transaction, done once, all or nothing."""

import sqlite3
import threading
from collections.abc import Iterator

import pytest
from flask import Flask
from sqlalchemy import event

from labsys.baths import service as baths
from labsys.baths import uses
from labsys.baths.models import Bath, BathLine, Use, Work
from labsys.chemistry.sizes import Material, Pieces, size_of
from labsys.database import DbSession, db
from labsys.people.acts import Act, AlreadyDone, SubmissionKeyMisused, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission
from labsys.records import queries
from labsys.waste.models import WasteStream
from tests.support.lab import SmallLab

KEY = "0b7c6e0e-5a7e-4a53-9c57-000000000001"


def test_the_same_submission_acts_once_and_tells_the_first_outcome(lab: SmallLab):
    lab.mix_film_line()
    first = lab.log(2, submission_key=KEY)
    with pytest.raises(AlreadyDone) as again:
        lab.log(2, submission_key=KEY)
    assert (again.value.outcome_kind, again.value.outcome_id) == ("uses", first.id)
    assert lab.session.query(Use).count() == 1


def test_a_key_comes_back_for_the_same_person_and_act_only(lab: SmallLab):
    lab.mix_film_line()
    lab.log(2, submission_key=KEY)
    with pytest.raises(SubmissionKeyMisused):
        lab.log(2, submission_key=KEY, role="instructor")


def test_one_submission_sent_twice_at_the_same_moment_acts_once(lab: SmallLab, app: Flask):
    lab.mix_film_line()
    line_id, person_id, at = lab.film_line_id, lab.person("member").id, lab.tick()
    lab.session.commit()
    outcomes: list[object] = []
    together = threading.Barrier(2)

    def send() -> None:
        with app.app_context():
            person = db.session.get_one(Person, person_id)
            together.wait()
            try:
                (use,) = uses.log_uses(
                    Act(db.session, by=person, now=at, key=KEY),
                    line_id=line_id,
                    went=[Pieces(size_of(key="120"), Material.FILM, 5)],
                    used_at=at,
                )
                outcomes.append(use.id)
            except AlreadyDone as done:
                outcomes.append(done.outcome_id)

    threads = [threading.Thread(target=send) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    lab.session.rollback()
    assert outcomes == [outcomes[0]] * 2
    assert lab.session.query(Use).count() == 1
    assert {bath.pieces for bath in lab.session.query(Bath)} == {5}


@pytest.fixture
def impatient(session: DbSession) -> Iterator[None]:
    """SQLite is told not to wait at all for whoever else writes."""

    def tell(connection: sqlite3.Connection, _record: object) -> None:
        connection.execute("PRAGMA busy_timeout=0")

    event.listen(db.engine, "connect", tell)
    db.engine.dispose()
    yield
    event.remove(db.engine, "connect", tell)
    db.engine.dispose()


@pytest.mark.sqlite_only
@pytest.mark.usefixtures("impatient")
def test_acts_at_the_same_moment_take_turns(lab: SmallLab, app: Flask):
    """SQLite does not wait here, and still refuses none of them."""
    person_id, at = lab.person("technician").id, lab.tick()
    lab.session.commit()
    failed: list[Exception] = []
    together = threading.Barrier(6)

    def lay_out(number: int) -> None:
        with app.app_context():
            person = db.session.get_one(Person, person_id)
            together.wait()
            try:
                for line in range(4):
                    act = Act(db.session, by=person, now=at)
                    baths.add_line(act, name=f"Line {number}.{line}", work=Work.FILM, process_id=None)
            except Exception as error:  # noqa: BLE001 - told below
                failed.append(error)

    threads = [threading.Thread(target=lay_out, args=[number]) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert lab.session.query(BathLine).count() == 2 + 6 * 4


def test_an_act_that_fails_leaves_nothing_behind(lab: SmallLab):
    before = queries.head(lab.session)

    @act
    def half_done(act: Act) -> None:
        act.session.add(WasteStream(name="half", code="09 01 05*"))
        act.session.flush()
        raise NotPermitted(Permission.SEE_LAB)

    with pytest.raises(NotPermitted):
        half_done(lab.act("manager"))
    assert lab.session.query(WasteStream).filter_by(name="half").count() == 0
    assert queries.head(lab.session) == before


def test_acts_do_not_call_acts(lab: SmallLab):
    @act
    def outer(act: Act) -> None:
        lab.add_line("inner", Work.FILM)

    with pytest.raises(RuntimeError, match="inside another act"):
        outer(lab.act("manager"))


def test_an_act_refuses_a_session_with_unsaved_changes(lab: SmallLab):
    """They would be lost: an act begins by ending the read of the page around it."""
    technician = lab.person("technician")
    lab.session.add(WasteStream(name="left over", code="09 01 05*"))
    with pytest.raises(RuntimeError, match="unsaved changes"):
        baths.add_line(Act(lab.session, by=technician, now=lab.now), name="other", work=Work.FILM, process_id=None)
    lab.session.rollback()
