"""The loop of a server, driven step by step: light jobs here, heavy ones in a process that may die."""

import logging
import os
import subprocess
import sys
from collections.abc import Callable
from datetime import timedelta

import pytest
from click.testing import CliRunner
from flask import Flask

from labsys import clock
from labsys.background import KINDS
from labsys.cli import main
from labsys.config import Config
from labsys.desk.verifying import VERIFY
from labsys.jobs import kinds, queries, rules, service
from labsys.jobs.models import Job, JobState
from labsys.jobs.runner import Runner
from labsys.jobs.work import carry_out
from labsys.records.transactions import transaction
from tests.conftest import Content
from tests.jobs import worker
from tests.support.lab import SmallLab

Jobs = Callable[[], list[Job]]
NewRunner = Callable[..., Runner]
queue = transaction(service.queue)
SECOND = timedelta(seconds=1)


def put(lab: SmallLab, kind: kinds.Kind, **parameters: str) -> None:
    queue(lab.session, kind=kind.name, due_at=lab.now, now=lab.now, parameters=parameters)


def wait_for_child(runner: Runner) -> int:
    assert runner.child is not None
    return runner.child.process.wait()


# Light jobs


def test_a_light_job_is_done_at_once_and_leaves_words_and_a_file(
    lab: SmallLab, config: Config, new_runner: NewRunner, jobs: Jobs
):
    runner = new_runner(worker.ECHO)
    put(lab, worker.ECHO, words="Γεια σου")
    assert runner.step() == 1
    assert runner.step() == 0
    (job,) = jobs()
    assert (job.state, job.says, job.tries) == (JobState.DONE, "Γεια σου", 0)
    assert (job.file_name, job.media_type, job.file_size) == ("words.txt", "text/plain", len("Γεια σου".encode()))
    (kept,) = config.files.iterdir()
    assert kept.name == f"{job.id}-{job.digest}"


def test_what_a_job_says_of_its_failure_is_kept_and_it_is_tried_again(lab: SmallLab, new_runner: NewRunner, jobs: Jobs):
    runner = new_runner(worker.REFUSES)
    put(lab, worker.REFUSES)
    runner.step()
    assert (jobs()[0].state, jobs()[0].last_error) == (JobState.WAITING, "The shelf is empty.")
    assert runner.step() == 0
    lab.now += rules.TRIED_AGAIN_AFTER
    assert runner.step() == 1
    assert jobs()[0].state is JobState.FAILED


def test_an_error_nobody_expected_is_logged_and_told_without_its_words(
    lab: SmallLab, new_runner: NewRunner, jobs: Jobs, caplog: pytest.LogCaptureFixture
):
    runner = new_runner(worker.TRIPS, worker.ECHO)
    put(lab, worker.TRIPS)
    put(lab, worker.ECHO)
    with caplog.at_level(logging.ERROR), _heard("labsys", caplog):
        assert runner.step() == 2
    trips, echo = jobs()
    assert (trips.state, echo.state) == (JobState.FAILED, JobState.DONE)
    assert "ValueError" in trips.last_error
    assert "password" not in trips.last_error
    assert "a password stands here" in caplog.text


def test_how_far_a_job_is_is_told_once_a_second_and_holds_it(lab: SmallLab, config: Config, jobs: Jobs):
    seen: list[tuple[int, int, str]] = []

    def count(task: kinds.Task) -> kinds.Made:
        for done in range(1, 6):
            task.tell(done=done, of=5, doing="Counting")
            (job,) = jobs()
            seen.append((job.steps_done, job.steps_of, job.doing))
            assert job.leased_until == lab.now + rules.LEASE if done % 2 else lab.now - SECOND / 2 + rules.LEASE
            lab.now += SECOND / 2
        return kinds.Made()

    counts = kinds.Kind(name="counts", title="Count", run=count)
    put(lab, counts)
    claimed = service.claim_next(lab.session, kinds={"counts": counts}, now=lab.now)
    assert claimed is not None
    assert carry_out(counts, claimed, config=config, clock_now=lambda: lab.now)
    assert [done for done, _, _ in seen] == [1, 1, 3, 3, 5]
    assert seen[-1] == (5, 5, "Counting")


def test_a_job_whose_lease_was_lost_stops_at_its_next_step_and_writes_nothing(
    lab: SmallLab, config: Config, jobs: Jobs
):
    reached: list[str] = []

    def lose(task: kinds.Task) -> kinds.Made:
        lab.now += rules.LEASE + SECOND
        assert service.claim_next(lab.session, kinds={"loses": loses}, now=lab.now) is not None
        reached.append("before")
        task.tell(done=1, of=1, doing="Too late")
        reached.append("after")
        return kinds.Made("Never.")

    loses = kinds.Kind(name="loses", title="Lose", run=lose)
    put(lab, loses)
    claimed = service.claim_next(lab.session, kinds={"loses": loses}, now=lab.now)
    assert claimed is not None
    assert not carry_out(loses, claimed, config=config, clock_now=lambda: lab.now)
    assert reached == ["before"]
    assert (jobs()[0].state, jobs()[0].says, jobs()[0].doing) == (JobState.RUNNING, "", "")


# Heavy jobs


def test_a_heavy_job_runs_in_a_process_of_low_priority_while_light_ones_go_on(
    lab: SmallLab, config: Config, new_runner: NewRunner, jobs: Jobs
):
    runner = new_runner(worker.WAITS, worker.ECHO)
    for kind in (worker.WAITS, worker.WAITS, worker.ECHO):
        put(lab, kind)
    assert runner.step() == 2
    assert [job.state for job in jobs()] == [JobState.RUNNING, JobState.WAITING, JobState.DONE]
    (config.instance / worker.GO).touch()
    assert wait_for_child(runner) == 0
    first, second, _ = jobs()
    lower = min(os.nice(0) + 10, 19)
    assert (first.state, first.says, first.file_name) == (JobState.DONE, f"at priority {lower}", "gone.txt")
    assert second.state is JobState.WAITING
    assert runner.step() == 1
    assert wait_for_child(runner) == 0
    assert runner.step() == 0
    assert {job.state for job in jobs()} == {JobState.DONE}


def test_the_lease_is_renewed_while_the_process_runs(lab: SmallLab, new_runner: NewRunner, jobs: Jobs):
    lab.now = clock.now() + timedelta(days=1)  # later than anything the process itself tells
    runner = new_runner(worker.WAITS)
    put(lab, worker.WAITS)
    runner.step()
    for _ in range(12):
        lab.now += rules.RENEWED_EVERY
        assert runner.step() == 0
        assert jobs()[0].leased_until == lab.now + rules.LEASE
    assert queries.due_since(lab.session, kinds=["waits"], now=lab.now) is None


def test_a_process_that_dies_is_begun_again_and_at_last_has_failed(lab: SmallLab, new_runner: NewRunner, jobs: Jobs):
    runner = new_runner(worker.ENDS)
    put(lab, worker.ENDS)
    assert runner.step() == 1
    assert wait_for_child(runner) == 3
    assert runner.step() == 0
    (job,) = jobs()
    assert (job.state, job.lease_token) == (JobState.WAITING, None)
    assert "ended before it was done" in job.last_error
    lab.now = job.due_at
    assert runner.step() == 1
    wait_for_child(runner)
    runner.step()
    (job,) = jobs()
    assert (job.state, job.tries) == (JobState.FAILED, worker.ENDS.tries)


def test_a_killed_process_is_noticed(lab: SmallLab, new_runner: NewRunner, jobs: Jobs):
    runner = new_runner(worker.WAITS)
    put(lab, worker.WAITS)
    runner.step()
    assert runner.child is not None
    runner.child.process.kill()
    wait_for_child(runner)
    runner.step()
    assert (jobs()[0].state, jobs()[0].tries) == (JobState.WAITING, 1)


def test_a_process_whose_job_another_took_is_ended(lab: SmallLab, new_runner: NewRunner, jobs: Jobs):
    lab.now = clock.now() + timedelta(days=1)
    runner = new_runner(worker.WAITS)
    put(lab, worker.WAITS)
    runner.step()
    lab.now += rules.LEASE + SECOND
    taken = service.claim_next(lab.session, kinds={"waits": worker.WAITS}, now=lab.now)
    assert taken is not None
    runner.step()
    wait_for_child(runner)
    runner.step()
    (job,) = jobs()
    assert (job.state, job.lease_token, job.last_error) == (JobState.RUNNING, taken.token, "")


def test_stopping_ends_the_process_and_the_job_waits_as_before(lab: SmallLab, new_runner: NewRunner, jobs: Jobs):
    runner = new_runner(worker.WAITS)
    put(lab, worker.WAITS)
    runner.step()
    assert runner.child is not None
    process = runner.child.process
    runner.stop()
    assert process.poll() is not None
    (job,) = jobs()
    assert (job.state, job.tries, job.due_at) == (JobState.WAITING, 0, lab.now)


def test_a_process_without_the_lease_does_nothing(lab: SmallLab, config: Config, jobs: Jobs):
    put(lab, worker.ECHO)
    (job,) = jobs()
    program = [sys.executable, "-m", "labsys", "run-job", str(job.id), "--lease", "made up"]
    ended = subprocess.run(program, env=config.environment(), capture_output=True, text=True)
    assert ended.returncode == 1
    assert "not this process's to do" in ended.stderr
    assert jobs()[0].state is JobState.WAITING


# All of it


@pytest.mark.sqlite_only
def test_without_a_lab_there_is_nothing_to_do(new_app: Callable[..., Flask]):
    assert Runner(new_app(Content.TABLES)).step() == 0


@pytest.mark.sqlite_only
def test_the_loop_goes_on_after_an_error_and_stops_when_told(
    app: Flask, lab: SmallLab, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
):
    runner, called = Runner(app), []

    def step() -> int:
        called.append("once more")
        if len(called) == 1:
            raise RuntimeError("the database was away")
        runner._stopped.set()
        return 0

    monkeypatch.setattr(runner, "step", step)
    monkeypatch.setattr("labsys.jobs.runner.LOOKED_EVERY_S", 0)
    with _heard("labsys", caplog):
        runner.start()
        runner.join()
    assert called == ["once more"] * 2
    assert "the database was away" in caplog.text


def test_the_lab_does_its_own_work_with_no_mail_server(lab: SmallLab, app: Flask, config: Config, jobs: Jobs):
    runner = Runner(app, clock_now=lambda: lab.now)
    assert runner.step() == len([kind for kind in KINDS if kind.every and not kind.heavy])
    told = {job.kind: (job.says, job.last_error) for job in jobs()}
    assert told["mail"] == ("No mail server is set, so mail waits in the outbox.", "")
    assert told["old files"] == ("Forgot 0 old jobs and deleted 0 files.", "")
    assert set(told) == {kind.name for kind in KINDS if kind.every}


def test_the_record_is_verified_in_a_process_of_its_own(lab: SmallLab, app: Flask, config: Config, jobs: Jobs):
    runner = Runner(app, clock_now=lambda: lab.now)
    service.ask(lab.act("safety adviser", now=lab.now), kind=VERIFY)
    runner.step()
    assert wait_for_child(runner) == 0
    runner.step()
    (job,) = [job for job in jobs() if job.asked_by_id]
    assert (job.state, job.last_error) == (JobState.DONE, "")
    assert job.says.startswith("The record holds:")
    assert job.media_type == "application/json"


@pytest.mark.sqlite_only
def test_run_jobs_does_what_is_due_and_says_how_much(
    lab: SmallLab, config: Config, jobs: Jobs, monkeypatch: pytest.MonkeyPatch
):
    lab.now = clock.now() - SECOND
    service.ask(lab.act("manager", now=lab.now), kind=VERIFY)
    for name, value in config.environment().items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr("signal.signal", lambda *_: None)  # the test's process keeps its own
    result = CliRunner().invoke(main, ["run-jobs"])
    assert (result.exit_code, result.output) == (0, "Did 12 jobs.\n")
    assert {job.kind: job.state for job in jobs() if job.asked_by_id} == {"verify": JobState.DONE}


class _heard:  # noqa: N801 - reads as a word
    """Let caplog hear a logger that does not pass on what it is told."""

    def __init__(self, name: str, caplog: pytest.LogCaptureFixture):
        self._logger, self._handler = logging.getLogger(name), caplog.handler

    def __enter__(self) -> None:
        self._logger.addHandler(self._handler)

    def __exit__(self, *_: object) -> None:
        self._logger.removeHandler(self._handler)
