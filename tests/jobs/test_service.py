"""A job is done by one process, told of and ended only with its lease, and tried as often as its kind says."""

import json
import signal
from collections.abc import Callable
from datetime import timedelta

import pytest
from sqlalchemy import select

from labsys import clock
from labsys.database import DbSession
from labsys.jobs import queries, rules, service
from labsys.jobs.kinds import File, Kind, Made
from labsys.jobs.models import Job, JobState
from labsys.people.acts import AlreadyDone
from labsys.people.permissions import NotPermitted
from labsys.records.models import RecordEntry
from labsys.records.transactions import transaction
from tests.jobs import worker
from tests.support.lab import SmallLab
from tests.support.processes import OwnProcess

Jobs = Callable[[], list[Job]]
Start = Callable[[str], OwnProcess]
KINDS = {kind.name: kind for kind in (*worker.ONCE, *worker.PERIODIC)}
MINUTE = timedelta(minutes=1)
SECOND = timedelta(seconds=1)

queue = transaction(service.queue)


def claim(lab: SmallLab, *, kinds: dict[str, Kind] = KINDS) -> service.Claimed | None:
    return service.claim_next(lab.session, kinds=kinds, now=lab.now)


def claim_one(lab: SmallLab) -> service.Claimed:
    claimed = claim(lab)
    assert claimed is not None
    return claimed


def finish(lab: SmallLab, claimed: service.Claimed, made: Made = Made(), digest: str | None = None) -> bool:  # noqa: B008
    kind = KINDS[claimed.kind]
    return service.finish(lab.session, claimed=claimed, kind=kind, made=made, digest=digest, now=lab.now)


def fail(lab: SmallLab, claimed: service.Claimed, *, for_good: bool = False) -> bool:
    kind = KINDS[claimed.kind]
    return service.note_failed(
        lab.session, claimed=claimed, kind=kind, error="The shelf is empty.", for_good=for_good, now=lab.now
    )


# One process gets a job


def test_two_processes_do_each_of_sixty_jobs_once_and_plan_what_is_periodic_once(
    lab: SmallLab, start: Start, jobs: Jobs
):
    for number in range(60):
        queue(lab.session, kind="echo", due_at=clock.now(), now=clock.now(), parameters={"words": str(number)})
    racers = [start("race") for _ in range(2)]
    for racer in racers:
        assert racer.stdout.readline() == "ready\n"
    for racer in racers:
        racer.say("go")
    done = [racer.communicate()[0].split() for racer in racers]
    assert [racer.returncode for racer in racers] == [0, 0]
    everything = jobs()
    assert sorted(int(number) for part in done for number in part) == [job.id for job in everything]
    assert min(len(part) for part in done) > 0
    assert sorted(job.once_key for job in everything if job.once_key) == ["fails often", "ticks"]
    assert len(everything) == 62


def test_when_a_process_is_killed_another_takes_its_job_once_the_lease_has_run_out(
    lab: SmallLab, start: Start, jobs: Jobs
):
    lab.now = clock.now()
    queue(lab.session, kind="echo", due_at=lab.now, now=lab.now)
    hanging = start("hang")
    assert hanging.stdout.readline() == "ready\n"
    hanging.say("go")
    token = hanging.stdout.readline().strip()
    hanging.send_signal(signal.SIGKILL)
    hanging.communicate()
    (job,) = jobs()
    assert (job.lease_token, job.state) == (token, JobState.RUNNING)
    assert job.leased_until is not None
    lab.now = job.leased_until
    assert claim(lab) is None
    lab.now += SECOND
    taken = claim_one(lab)
    dead = service.Claimed(job.id, "echo", {}, token)
    assert not finish(lab, dead, Made("too late"))
    assert not fail(lab, dead)
    assert not service.renew(lab.session, claimed=dead, now=lab.now)
    assert not service.tell(lab.session, claimed=dead, done=1, of=2, doing="Late", now=lab.now)
    assert finish(lab, taken, Made("in time"))
    assert not finish(lab, taken, Made("twice"))
    (job,) = jobs()
    assert (job.state, job.says, job.lease_token, job.leased_until) == (JobState.DONE, "in time", None, None)


def test_a_job_whose_process_dies_each_time_has_failed_at_last(lab: SmallLab, jobs: Jobs):
    queue(lab.session, kind="ends", due_at=lab.now, now=lab.now)
    for _ in range(worker.ENDS.tries):
        claim_one(lab)
        lab.now += rules.LEASE + SECOND
    assert claim(lab) is None
    (job,) = jobs()
    assert (job.state, job.finished_at) == (JobState.FAILED, lab.now)
    assert "ended before it was done" in job.last_error


def test_a_job_held_for_longer_is_not_taken(lab: SmallLab):
    queue(lab.session, kind="echo", due_at=lab.now, now=lab.now)
    claimed = claim_one(lab)
    lab.now += rules.LEASE
    assert service.tell(lab.session, claimed=claimed, done=1, of=2, doing="Half", now=lab.now)
    lab.now += rules.LEASE
    assert claim(lab) is None
    assert service.renew(lab.session, claimed=claimed, now=lab.now)
    lab.now += rules.LEASE
    assert claim(lab) is None
    assert finish(lab, claimed)


# When it is due


def test_the_job_that_has_been_due_for_longest_comes_first_and_none_before_its_time(lab: SmallLab):
    for minutes in (2, 1, 3):
        due_at = lab.now + minutes * MINUTE
        queue(lab.session, kind="echo", due_at=due_at, now=lab.now, parameters={"words": str(minutes)})
    assert claim(lab) is None
    lab.now += 2 * MINUTE
    assert [claim_one(lab).parameters["words"] for _ in range(2)] == ["1", "2"]
    assert claim(lab) is None


def test_kinds_that_this_version_does_not_know_are_left_alone(lab: SmallLab):
    queue(lab.session, kind="of a newer labsys", due_at=lab.now, now=lab.now)
    assert claim(lab) is None
    assert queries.due_since(lab.session, kinds=KINDS, now=lab.now) is None


def test_the_same_key_queues_once(lab: SmallLab, jobs: Jobs):
    first = queue(lab.session, kind="echo", due_at=lab.now, now=lab.now, once_key="report of March")
    assert first is not None
    assert queue(lab.session, kind="echo", due_at=lab.now, now=lab.tick(), once_key="report of March") is None
    assert len(jobs()) == 1


def test_a_job_falls_with_the_act_that_caused_it(lab: SmallLab, jobs: Jobs):
    @transaction
    def fails(session: DbSession) -> None:
        service.queue(session, kind="echo", due_at=lab.now, now=lab.now)
        raise RuntimeError

    with pytest.raises(RuntimeError):
        fails(lab.session)
    assert jobs() == []


# How it ends


def test_a_failed_try_waits_and_the_last_one_has_failed(lab: SmallLab, jobs: Jobs):
    queue(lab.session, kind="refuses", due_at=lab.now, now=lab.now)
    fail(lab, claim_one(lab))
    (job,) = jobs()
    assert (job.state, job.due_at) == (JobState.WAITING, lab.now + rules.TRIED_AGAIN_AFTER)
    lab.now = job.due_at
    fail(lab, claim_one(lab))
    (job,) = jobs()
    assert (job.state, job.last_error, job.tries) == (JobState.FAILED, "The shelf is empty.", 2)


def test_what_failed_for_good_is_not_tried_again(lab: SmallLab, jobs: Jobs):
    queue(lab.session, kind="refuses", due_at=lab.now, now=lab.now)
    fail(lab, claim_one(lab), for_good=True)
    assert jobs()[0].state is JobState.FAILED


def test_what_is_periodic_is_one_row_that_waits_again_however_it_ended(lab: SmallLab, jobs: Jobs):
    for _ in range(2):
        service.plan_periodic(lab.session, kinds=worker.PERIODIC, now=lab.now)
    fails_often, ticks = sorted(jobs(), key=lambda job: job.kind)
    assert (fails_often.due_at, ticks.due_at) == (lab.now, lab.now)
    for claimed in (claim_one(lab), claim_one(lab)):
        finish(lab, claimed, Made("Ticked.")) if claimed.kind == "ticks" else fail(lab, claimed)
    fails_often, ticks = sorted(jobs(), key=lambda job: job.kind)
    assert (ticks.state, ticks.due_at, ticks.tries) == (JobState.WAITING, lab.now + MINUTE, 0)
    assert (ticks.says, ticks.finished_at) == ("Ticked.", lab.now)
    assert (fails_often.due_at, fails_often.tries) == (lab.now + rules.TRIED_AGAIN_AFTER, 1)
    lab.now = fails_often.due_at
    finish(lab, claim_one(lab))
    fail(lab, claim_one(lab))
    fails_often, _ = sorted(jobs(), key=lambda job: job.kind)
    assert (fails_often.state, fails_often.tries) == (JobState.WAITING, 0)
    assert fails_often.due_at == lab.now + timedelta(hours=1)


def test_a_heavy_periodic_job_is_first_due_after_its_first_period(lab: SmallLab, jobs: Jobs):
    heavy = Kind(name="daily", title="Daily", run=worker.echo, heavy=True, every=timedelta(days=1))
    service.plan_periodic(lab.session, kinds=[heavy], now=lab.now)
    assert jobs()[0].due_at == lab.now + timedelta(days=1)


def test_a_job_let_go_of_counts_as_no_try(lab: SmallLab, jobs: Jobs):
    queue(lab.session, kind="echo", due_at=lab.now, now=lab.now)
    service.release(lab.session, claimed=claim_one(lab))
    (job,) = jobs()
    assert (job.state, job.tries, job.lease_token, job.due_at) == (JobState.WAITING, 0, None, lab.now)
    assert finish(lab, claim_one(lab))


def test_long_words_are_cut_and_never_refused_by_the_database(lab: SmallLab, jobs: Jobs):
    queue(lab.session, kind="echo", due_at=lab.now, now=lab.now)
    claimed = claim_one(lab)
    assert service.tell(lab.session, claimed=claimed, done=1, of=2, doing="ß" * 1_000, now=lab.now)
    assert finish(lab, claimed, Made("ß" * 1_000))
    assert jobs()[0].says == "ß" * Job.WORDS_LENGTH


# Asked for by people


def test_asking_stands_on_the_record_and_happens_once(lab: SmallLab, jobs: Jobs):
    adviser = lab.person("safety adviser")
    once = "one-press-of-a-button"
    asked = service.ask(lab.act(adviser, key=once), kind=worker.ECHO, parameters={"words": "Γεια"})
    entry = lab.session.execute(select(RecordEntry).order_by(RecordEntry.number.desc()).limit(1)).scalar_one()
    assert entry.payload is not None
    told = json.loads(entry.payload)
    assert (told["act"], told["about"], told["by"][0]) == ("job.asked", ["jobs", asked.id], adviser.id)
    assert told["facts"] == {"kind": "echo", "parameters": {"words": "Γεια"}}
    with pytest.raises(AlreadyDone):
        service.ask(lab.act("safety adviser", key=once), kind=worker.ECHO)
    assert len(jobs()) == 1


def test_nobody_asks_for_what_their_role_does_not_allow(lab: SmallLab, jobs: Jobs):
    with pytest.raises(NotPermitted):
        service.ask(lab.act("technician", now=lab.now), kind=worker.ECHO)
    assert jobs() == []


def test_a_failed_job_is_tried_again_at_once_and_one_in_order_is_not(lab: SmallLab, jobs: Jobs):
    asked = service.ask(lab.act("manager", now=lab.now), kind=worker.ECHO)
    with pytest.raises(rules.JobRefused, match="waiting"):
        service.try_again(lab.act("manager", now=lab.now), job_id=asked.id, kinds=KINDS)
    fail(lab, claim_one(lab), for_good=True)
    lab.tick()
    service.try_again(lab.act("manager", now=lab.now), job_id=asked.id, kinds=KINDS)
    (job,) = jobs()
    assert (job.state, job.due_at, job.tries) == (JobState.WAITING, lab.now, 0)
    with pytest.raises(NotPermitted):
        service.try_again(lab.act("technician", now=lab.now), job_id=asked.id, kinds=KINDS)


@pytest.mark.parametrize(
    ("kind", "asker", "viewer", "opens"),
    [
        (worker.WAITS, "technician", "technician", True),
        (worker.WAITS, "technician", "manager", True),
        (worker.WAITS, "manager", "technician", False),  # of somebody else's, and does not see all jobs
        (worker.WAITS, "technician", "safety adviser", False),  # sees all jobs, but may not ask for this one
        (worker.ECHO, "technician", "technician", False),  # asked once, and may not any more
        (worker.TICKS, None, "safety adviser", True),
        (worker.TICKS, None, "member", False),
        (None, "member", "manager", True),
        (None, "manager", "member", False),
    ],
)
@pytest.mark.sqlite_only
def test_who_may_open_a_job(lab: SmallLab, kind: Kind | None, asker: str | None, viewer: str, opens: bool):
    asked_by_id = lab.ids[asker] if asker else None
    assert rules.may_open(lab.person(viewer), kind=kind, asked_by_id=asked_by_id) is opens


# Old ones


def test_what_ended_long_ago_is_forgotten_and_of_what_is_periodic_only_the_file(lab: SmallLab, jobs: Jobs):
    made = Made("Ticked.", File("words.txt", "text/plain", b"words"))
    service.plan_periodic(lab.session, kinds=[worker.TICKS], now=lab.now)
    for kind in ("echo", "refuses"):
        queue(lab.session, kind=kind, due_at=lab.now, now=lab.now)
    for _ in range(3):
        claimed = claim_one(lab)
        if claimed.kind == "refuses":
            fail(lab, claimed, for_good=True)
        else:
            finish(lab, claimed, made, digest="0" * 64)
    queue(lab.session, kind="waits", due_at=lab.now, now=lab.now)
    claim_one(lab)
    ended = lab.now
    assert service.forget(lab.session, before=ended) == 0
    assert len(jobs()) == 4
    assert service.forget(lab.session, before=ended + SECOND) == 2
    ticks, waits = jobs()
    assert (ticks.kind, ticks.says, ticks.digest, ticks.file_name) == ("ticks", "Ticked.", None, None)
    assert (waits.kind, waits.state) == ("waits", JobState.RUNNING)


def test_a_number_is_never_given_to_a_second_job(lab: SmallLab):
    first = queue(lab.session, kind="echo", due_at=lab.now, now=lab.now)
    finish(lab, claim_one(lab))
    service.forget(lab.session, before=lab.now + SECOND)
    second = queue(lab.session, kind="echo", due_at=lab.now, now=lab.now)
    assert first is not None
    assert second is not None
    assert second > first
