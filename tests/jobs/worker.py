"""Kinds of job for tests, and the labsys command with these kinds, in a process of its own.

`worker.py run-job N --lease T` is the real command. `race` and `hang` wait for a line on their input first.
"""

import os
import sys
import time
from datetime import timedelta

import click

from labsys import cli, clock, web
from labsys.config import load_config
from labsys.database import db
from labsys.jobs import service
from labsys.jobs.kinds import File, JobFailed, Kind, Made, Task, kinds_of
from labsys.people.permissions import Permission

GO = "go"


def echo(task: Task) -> Made:
    """Say again what was asked for."""
    words = str(task.parameters.get("words", ""))
    return Made(words, File("words.txt", "text/plain", words.encode()))


def wait_to_go(task: Task) -> Made:
    """Wait until a file named go lies in the instance, then say how low this process's priority is."""
    task.tell(done=1, of=2, doing="Waiting")
    while not (task.config.instance / GO).exists():
        time.sleep(0.01)
    return Made(f"at priority {os.nice(0)}", File("gone.txt", "text/plain", b"gone"))


def end_the_process(task: Task) -> Made:
    os._exit(3)


def refuse(task: Task) -> Made:
    raise JobFailed("The shelf is empty.")


def trip(task: Task) -> Made:
    raise ValueError("a password stands here")


ECHO = Kind(name="echo", title="Say it again", run=echo, needs=Permission.SEE_RECORD, button="Say it again")
WAITS = Kind(name="waits", title="Wait to go", run=wait_to_go, heavy=True, needs=Permission.KEEP_STOCK)
ENDS = Kind(name="ends", title="End the process", run=end_the_process, heavy=True, tries=2)
REFUSES = Kind(name="refuses", title="Refuse", run=refuse, tries=2)
TRIPS = Kind(name="trips", title="Trip", run=trip, tries=1)
TICKS = Kind(name="ticks", title="Tick", run=echo, every=timedelta(minutes=1))
FAILS_OFTEN = Kind(name="fails often", title="Fail often", run=refuse, every=timedelta(hours=1), tries=2)
ONCE = (ECHO, WAITS, ENDS, REFUSES, TRIPS)
PERIODIC = (TICKS, FAILS_OFTEN)


def race() -> None:
    """Plan what is periodic, then do what is due until nothing is; say which jobs."""
    with web.create_app(load_config()).app_context() as context:
        kinds = {kind.name: kind for kind in (*ONCE, *PERIODIC)}
        db.session.rollback()
        _wait_for_line()
        service.plan_periodic(db.session, kinds=PERIODIC, now=clock.now())
        while (claimed := service.claim_next(db.session, kinds=kinds, now=clock.now())) is not None:
            time.sleep(0.005)
            kind = kinds_of(context.app)[claimed.kind]
            assert service.finish(db.session, claimed=claimed, kind=kind, made=Made(), digest=None, now=clock.now())
            click.echo(claimed.id)


def hang() -> None:
    """Claim what is due, say its token, and never come back."""
    with web.create_app(load_config()).app_context() as context:
        _wait_for_line()
        claimed = service.claim_next(db.session, kinds=kinds_of(context.app), now=clock.now())
        assert claimed is not None
        click.echo(claimed.token)
        time.sleep(3600)


def _wait_for_line() -> None:
    click.echo("ready")
    sys.stdin.readline()


def main() -> None:
    """The command that the first argument names."""
    web.KINDS = (*ONCE, *PERIODIC)
    own = {"race": race, "hang": hang}.get(sys.argv[1])
    if own is not None:
        own()
    else:
        cli.main()


if __name__ == "__main__":
    main()
