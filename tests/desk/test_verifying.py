"""Record and ledger are proved as they stand at one moment, and the first fault is named."""

import pytest
from sqlalchemy import text
from sqlalchemy.orm import Session

from labsys.database import db
from labsys.desk.verifying import prove, verify
from labsys.jobs.kinds import JobFailed, Task
from labsys.people import service as people
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.records import queries as records
from tests.support.lab import SmallLab


def task(lab: SmallLab) -> Task:
    """The task of a job that tells nobody how far it is."""
    return Task(
        lab.session,
        config=None,  # type: ignore[arg-type]  # proving needs no settings
        parameters={},
        now=lambda: lab.now,
        tell=lambda **_: None,
        should_stop=lambda: False,
    )


def test_people_who_act_meanwhile_are_no_fault(lab: SmallLab, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("labsys.records.queries._BATCH", 3)
    before, heard = records.head(lab.session).number, []

    def act_meanwhile(done: int, of: int) -> None:
        heard.append((done, of))
        if len(heard) == 1:
            with Session(db.engine) as others:
                manager = others.get_one(Person, lab.ids["manager"])
                people.close_account(Act(others, by=manager, now=lab.tick()), person_id=lab.ids["member"])

    proof = prove(lab.session, tell=act_meanwhile)
    assert (proof.fault, proof.head.number) == ("", before)
    assert heard[0] == (3, before)
    assert prove(lab.session).head.number == before + 1


@pytest.mark.sqlite_only
def test_a_fault_fails_the_job_for_good_and_names_it(lab: SmallLab):
    lab.session.execute(text("DROP TRIGGER record_entries_no_update"))
    lab.session.execute(text("UPDATE record_entries SET payload = '{}' WHERE number = 2"))
    lab.session.commit()
    with pytest.raises(JobFailed, match="Entry 2: its content was altered") as failed:
        verify(task(lab))
    assert failed.value.for_good


@pytest.mark.sqlite_only
def test_what_holds_is_told_with_the_head_of_the_record(lab: SmallLab):
    head = records.head(lab.session)
    made = verify(task(lab))
    assert f"head {head.number}:{head.short_hash}" in made.says
    assert made.file is not None
    assert head.hash.encode() in made.file.content
