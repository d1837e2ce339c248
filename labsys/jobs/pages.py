"""What the pages say of each job."""

from dataclasses import dataclass

from labsys.jobs import rules
from labsys.jobs.kinds import Kinds
from labsys.jobs.models import Job, JobState
from labsys.people.models import Person


@dataclass(frozen=True)
class JobLine:
    """One job, what it is called, how far it is, and what this person may do with it."""

    job: Job
    title: str
    state: str
    progress: str
    may_open: bool
    may_try_again: bool

    @property
    def is_moving(self) -> bool:
        return self.job.state in (JobState.WAITING, JobState.RUNNING)


def line_of(job: Job, *, kinds: Kinds, viewer: Person) -> JobLine:
    kind = kinds.get(job.kind)
    may_open = rules.may_open(viewer, kind=kind, asked_by_id=job.asked_by_id)
    return JobLine(
        job,
        title=kind.title if kind else job.kind,
        state=_state(job),
        progress=_progress(job),
        may_open=may_open,
        may_try_again=may_open and rules.may_try_again(state=job.state, last_error=job.last_error),
    )


def _state(job: Job) -> str:
    if job.state is JobState.WAITING and job.last_error:
        return "went wrong, waiting to be tried again"
    return job.state.value


def _progress(job: Job) -> str:
    """How far a running job is, in words; empty while it has told nothing."""
    if job.state is not JobState.RUNNING or not job.doing:
        return ""
    return f"{job.doing}: {job.steps_done} of {job.steps_of}" if job.steps_of else job.doing
