"""Files that jobs made are their owner's only, are proved before they are given out, and go when they are old."""

import hashlib
import os
import stat
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from labsys.config import Config
from labsys.jobs import files, rules, service
from labsys.jobs.models import Job
from labsys.jobs.old import FORGET_OLD
from labsys.jobs.runner import Runner
from labsys.records.transactions import transaction
from tests.jobs import worker
from tests.support.lab import SmallLab

queue = transaction(service.queue)
NewRunner = Callable[..., Runner]
Jobs = Callable[[], list[Job]]


@pytest.fixture
def open_umask() -> Iterator[None]:
    """A umask that takes nothing away."""
    before = os.umask(0)
    yield
    os.umask(before)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def written_at(path: Path, instant: datetime) -> None:
    os.utime(path, (instant.timestamp(), instant.timestamp()))


def test_folder_and_file_are_for_their_owner_only_whatever_the_umask(open_umask: None, tmp_path: Path):
    folder = tmp_path / "files"
    digest = files.keep(folder, job_id=7, content=b"the audit")
    assert digest == hashlib.sha256(b"the audit").hexdigest()
    (kept,) = folder.iterdir()
    assert (mode(folder), mode(kept)) == (0o700, 0o600)
    assert files.read(folder, job_id=7, digest=digest) == b"the audit"


def test_a_folder_that_others_could_enter_is_shut_again(open_umask: None, tmp_path: Path):
    (tmp_path / "files").mkdir(0o777)
    files.keep(tmp_path / "files", job_id=7, content=b"the audit")
    assert mode(tmp_path / "files") == 0o700


def test_an_altered_file_is_not_given_out(tmp_path: Path):
    digest = files.keep(tmp_path, job_id=7, content=b"the audit")
    (tmp_path / files.name_of(job_id=7, digest=digest)).write_bytes(b"another audit")
    with pytest.raises(files.FileRefused, match="altered"):
        files.read(tmp_path, job_id=7, digest=digest)


def test_a_file_that_is_gone_is_said_to_be(tmp_path: Path):
    with pytest.raises(files.FileRefused, match="not here any more"):
        files.read(tmp_path / "files", job_id=7, digest="0" * 64)


def test_the_same_file_made_again_stays_one(tmp_path: Path):
    assert files.keep(tmp_path, job_id=7, content=b"the audit") == files.keep(tmp_path, job_id=7, content=b"the audit")
    assert len(list(tmp_path.iterdir())) == 1


def test_only_what_no_job_names_and_is_not_being_written_is_swept(tmp_path: Path):
    now = datetime(2026, 3, 2, 9, tzinfo=UTC)
    for name, age in (("named", timedelta(days=99)), ("left behind", timedelta(days=2)), ("half", timedelta(hours=1))):
        (tmp_path / name).touch()
        written_at(tmp_path / name, now - age)
    assert files.sweep(tmp_path, named={"named"}, before=now - timedelta(days=1)) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["half", "named"]
    assert files.sweep(tmp_path / "no such folder", named=set(), before=now) == 0


def test_a_file_is_deleted_after_thirty_days_and_its_job_forgotten(
    lab: SmallLab, config: Config, new_runner: NewRunner, jobs: Jobs
):
    runner = new_runner(worker.ECHO, FORGET_OLD)
    made_at = lab.now
    queue(lab.session, kind="echo", due_at=lab.now, now=lab.now, parameters={"words": "kept a while"})
    assert runner.step() == 2
    (kept,) = config.files.iterdir()
    written_at(kept, made_at)
    assert kept.read_text() == "kept a while"
    lab.now = made_at + rules.KEPT
    runner.step()
    assert kept.exists()
    assert {job.kind for job in jobs()} == {"echo", "old files"}
    lab.now += timedelta(days=1)
    runner.step()
    assert not kept.exists()
    (job,) = jobs()
    assert (job.kind, job.says) == ("old files", "Forgot 1 old jobs and deleted 1 files.")
