"""Files that jobs made are deleted after thirty days, and jobs long over are forgotten with them."""

from datetime import timedelta

from labsys.jobs import files, queries, rules, service
from labsys.jobs.kinds import Kind, Made, Task

_UNFINISHED_FOR = timedelta(days=1)  # a file is written before its job names it


def forget_old(task: Task) -> Made:
    """Forget what is old, then delete the files that no job names."""
    now = task.now()
    forgotten = service.forget(task.session, before=now - rules.KEPT)
    named = {files.name_of(job_id=job_id, digest=digest) for job_id, digest in queries.files_named(task.session)}
    swept = files.sweep(task.config.files, named=named, before=now - _UNFINISHED_FOR)
    return Made(f"Forgot {forgotten} old jobs and deleted {swept} files.")


FORGET_OLD = Kind(name="old files", title="Delete old files", run=forget_old, every=timedelta(days=1))
