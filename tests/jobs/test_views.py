"""The pages of jobs: what stands there, who gets in, and the file that comes out."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from flask import Flask
from flask.testing import FlaskClient

from labsys import clock
from labsys.config import Config
from labsys.jobs import files, service
from labsys.jobs.models import Job, JobState
from labsys.jobs.runner import Runner
from labsys.records.transactions import transaction
from tests.jobs import worker
from tests.support.lab import SmallLab
from tests.support.visitor import Visitor

ClientAs = Callable[..., FlaskClient]
NewRunner = Callable[..., Runner]
Jobs = Callable[[], list[Job]]
queue = transaction(service.queue)

pytestmark = pytest.mark.sqlite_only


def visit(app: Flask, client: FlaskClient) -> Visitor:
    visitor = Visitor(app)
    visitor.client = client
    return visitor


@pytest.mark.parametrize("role", ["safety adviser", "manager"])
def test_a_button_asks_and_the_page_follows_the_job_to_its_file(
    app: Flask, lab: SmallLab, client_as: ClientAs, new_runner: NewRunner, role: str
):
    lab.now = clock.now()
    runner = new_runner(worker.ECHO)
    visitor = visit(app, client_as(role))
    assert "Nobody asked for anything" in visitor.open("/jobs")
    page = visitor.press("Say it again")
    assert "waiting" in page
    assert visitor.answer.headers["Refresh"] == "3"
    visitor.follow("Keep it still")
    assert "Refresh" not in visitor.answer.headers
    visitor.follow("Look again")
    assert visitor.answer.headers["Refresh"] == "3"
    lab.now = clock.now()
    runner.step()
    assert "done" in visitor.open(visitor.path)
    assert "Refresh" not in visitor.answer.headers
    answer = visitor.client.get(visitor.link("Download words.txt"))
    assert (answer.status_code, answer.mimetype, answer.data) == (200, "text/plain", b"")
    assert answer.headers["Content-Disposition"] == "attachment; filename=words.txt"
    assert answer.headers["Cache-Control"] == "no-store"
    assert lab.person(role).name in visitor.open("/jobs")


@pytest.mark.parametrize("role", ["member", "instructor", "technician"])
def test_others_see_no_jobs_and_cannot_ask(lab: SmallLab, client_as: ClientAs, new_runner: NewRunner, role: str):
    new_runner(worker.ECHO)
    client = client_as(role)
    assert client.get("/jobs").status_code == 403
    assert "/jobs" not in client.get("/").get_data(as_text=True)


def test_one_press_sent_twice_asks_once(
    app: Flask, lab: SmallLab, client_as: ClientAs, new_runner: NewRunner, jobs: Jobs
):
    new_runner(worker.ECHO)
    visitor = visit(app, client_as("manager"))
    page = visitor.open("/jobs")
    visitor.press("Say it again")
    visitor.page, visitor.path = page, "/jobs"
    assert "Saved already" in visitor.press("Say it again")
    assert visitor.path == f"/jobs/{jobs()[0].id}"
    assert len(jobs()) == 1


def test_what_has_no_button_is_not_asked_for(app: Flask, lab: SmallLab, client_as: ClientAs, new_runner: NewRunner):
    new_runner(worker.ECHO, worker.WAITS)
    visitor = visit(app, client_as("manager"))
    visitor.open("/jobs")
    assert "Wait to go" not in visitor.page
    page = visitor.send(action="/jobs/ask", kind="waits")
    assert "There is no such job to ask for here" in page


def test_who_asked_follows_their_own_job_without_seeing_all(
    lab: SmallLab, client_as: ClientAs, new_runner: NewRunner, config: Config
):
    new_runner(worker.WAITS)
    own = service.ask(lab.act("technician", now=lab.now), kind=worker.WAITS).id
    others = service.ask(lab.act("manager", now=lab.now), kind=worker.WAITS).id
    technician = client_as("technician")
    assert technician.get(f"/jobs/{own}").status_code == 200
    assert technician.get(f"/jobs/{others}").status_code == 403
    assert technician.get(f"/jobs/{others}/file").status_code == 403
    adviser = client_as("safety adviser")
    assert adviser.get(f"/jobs/{own}").status_code == 403
    assert f"/jobs/{own}" not in adviser.get("/jobs").get_data(as_text=True)
    assert client_as("manager").get(f"/jobs/{own}").status_code == 200
    assert technician.get(f"/jobs/{own}/file").status_code == 404


def test_an_altered_or_missing_file_is_refused_in_words(
    lab: SmallLab, client_as: ClientAs, new_runner: NewRunner, config: Config, jobs: Jobs
):
    runner = new_runner(worker.ECHO)
    service.ask(lab.act("manager", now=lab.now), kind=worker.ECHO)
    runner.step()
    (job,) = jobs()
    assert job.digest is not None
    kept = config.files / files.name_of(job_id=job.id, digest=job.digest)
    client = client_as("manager")
    kept.write_bytes(b"altered")
    page = client.get(f"/jobs/{job.id}/file", follow_redirects=True).get_data(as_text=True)
    assert "was altered since it was made" in page
    kept.unlink()
    page = client.get(f"/jobs/{job.id}/file", follow_redirects=True).get_data(as_text=True)
    assert "not here any more" in page


def test_what_failed_says_why_and_is_tried_again_by_one_button(
    app: Flask, lab: SmallLab, client_as: ClientAs, new_runner: NewRunner, jobs: Jobs
):
    runner = new_runner(worker.FAILS_OFTEN, worker.REFUSES)
    queue(lab.session, kind="refuses", due_at=lab.now, now=lab.now)
    runner.step()
    lab.now += timedelta(minutes=5)
    runner.step()
    visitor = visit(app, client_as("manager"))
    page = visitor.open("/jobs")
    assert page.count("The shelf is empty.") == 2
    assert "went wrong, waiting to be tried again" in page
    assert "the lab" in page
    assert "It is tried again now." in visitor.press("Try again: Refuse")
    visitor.press("Try again: Fail often")
    assert {job.state for job in jobs()} == {JobState.WAITING}
    assert all(job.tries == 0 and abs(job.due_at - clock.now()) < timedelta(hours=1) for job in jobs())
    job_id = next(job.id for job in jobs() if job.kind == "refuses")
    assert "The shelf is empty." in visitor.open(f"/jobs/{job_id}")


def test_what_is_in_order_is_not_tried_again(app: Flask, lab: SmallLab, client_as: ClientAs, new_runner: NewRunner):
    new_runner(worker.ECHO)
    asked = service.ask(lab.act("manager", now=lab.now), kind=worker.ECHO)
    client = client_as("manager")
    visitor = visit(app, client)
    visitor.open("/jobs")
    token = visitor.client.get("/jobs").get_data(as_text=True).split('name="csrf_token" value="')[1].split('"')[0]
    answer = client.post(f"/jobs/{asked.id}/try-again", data={"csrf_token": token}, follow_redirects=True)
    assert "needs nothing from you" in answer.get_data(as_text=True)


def test_how_far_a_running_job_is_stands_on_its_page(lab: SmallLab, client_as: ClientAs, new_runner: NewRunner):
    new_runner(worker.ECHO)
    asked = service.ask(lab.act("manager", now=lab.now), kind=worker.ECHO)
    claimed = service.claim_next(lab.session, kinds={"echo": worker.ECHO}, now=lab.now)
    assert claimed is not None
    service.tell(lab.session, claimed=claimed, done=3, of=8, doing="Saying", now=lab.now)
    client = client_as("manager")
    for path in ("/jobs", f"/jobs/{asked.id}"):
        assert "Saying: 3 of 8" in client.get(path).get_data(as_text=True)


def test_a_job_of_an_older_labsys_is_still_listed(lab: SmallLab, client_as: ClientAs, new_runner: NewRunner):
    new_runner(worker.ECHO)
    queue(lab.session, kind="of an older labsys", due_at=lab.now, now=lab.now)
    assert "of an older labsys" in client_as("manager").get("/jobs").get_data(as_text=True)


def test_pages_go_on_by_key(lab: SmallLab, client_as: ClientAs, new_runner: NewRunner):
    new_runner(worker.ECHO)
    for _ in range(30):
        queue(lab.session, kind="echo", due_at=lab.now, now=lab.now)
    client = client_as("manager")
    first = client.get("/jobs").get_data(as_text=True)
    assert 'href="/jobs?before=6"' in first
    older = client.get("/jobs?before=6").get_data(as_text=True)
    assert older.count('href="/jobs/') == 5
    assert "Newest" in older


def test_a_job_that_is_not_there_is_not_found(lab: SmallLab, client_as: ClientAs):
    assert client_as("manager").get("/jobs/99").status_code == 404
