"""Files that jobs made: in the instance, for its owner only, proved by their digests before anybody gets one."""

import hashlib
import os
import tempfile
from collections.abc import Collection
from datetime import UTC, datetime
from pathlib import Path

from labsys.jobs.rules import JobRefused

_FOLDER_MODE = 0o700  # the files themselves are made for their owner only, whatever the umask


class FileRefused(JobRefused):
    """A file is not there, or is not the one that was made; the message says which."""


def name_of(*, job_id: int, digest: str) -> str:
    """The name of a job's file in the folder: made from nothing that anybody typed."""
    return f"{job_id}-{digest}"


def keep(folder: Path, *, job_id: int, content: bytes) -> str:
    """Write a file whole, or not at all, and return its digest."""
    folder.mkdir(mode=_FOLDER_MODE, exist_ok=True)
    folder.chmod(_FOLDER_MODE)
    digest = hashlib.sha256(content).hexdigest()
    descriptor, unfinished = tempfile.mkstemp(dir=folder)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(unfinished).replace(folder / name_of(job_id=job_id, digest=digest))
    except BaseException:
        Path(unfinished).unlink(missing_ok=True)
        raise
    return digest


def read(folder: Path, *, job_id: int, digest: str) -> bytes:
    """Read a file that is still what it was. Raises FileRefused."""
    try:
        content = (folder / name_of(job_id=job_id, digest=digest)).read_bytes()
    except FileNotFoundError:
        raise FileRefused("The file is not here any more. Ask for it again.") from None
    if hashlib.sha256(content).hexdigest() != digest:
        raise FileRefused("The file was altered since it was made, and is not given out. Ask for it again.")
    return content


def sweep(folder: Path, *, named: Collection[str], before: datetime) -> int:
    """Delete the files that no job names and that were written before an instant. Returns how many."""
    swept = 0
    for path in folder.iterdir() if folder.is_dir() else ():
        if path.name not in named and datetime.fromtimestamp(path.stat().st_mtime, UTC) < before:
            path.unlink(missing_ok=True)
            swept += 1
    return swept
