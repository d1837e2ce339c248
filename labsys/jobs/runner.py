"""The one loop of a server: looks every few seconds for what is due, and does it here or in a process of its own."""

import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime

from flask import Flask

from labsys import clock
from labsys.config import Config
from labsys.database import db
from labsys.jobs import queries, rules, service
from labsys.jobs.kinds import kinds_of
from labsys.jobs.service import Claimed
from labsys.jobs.work import carry_out
from labsys.records import queries as records

LOOKED_EVERY_S = 3
PATIENCE_S = 30
COMMAND = (sys.executable, "-m", "labsys", "run-job")


@dataclass
class Child:
    """A process that does one heavy job."""

    claimed: Claimed
    process: subprocess.Popen[bytes]
    renewed_at: datetime


class Runner(threading.Thread):
    """Does what is due while the server runs: light jobs in this thread, one heavy job at a time in a process.

    Several servers may run at once: a job is done by whoever claims it. `command` begins the process of a heavy job;
    its number and the token of its lease are added.
    """

    def __init__(self, app: Flask, *, clock_now: Callable[[], datetime] = clock.now, command: Sequence[str] = COMMAND):
        super().__init__(name="labsys-jobs", daemon=True)
        self.child: Child | None = None
        self._app = app
        self._config: Config = app.config["LABSYS"]
        self._kinds = kinds_of(app)
        self._light = {name: kind for name, kind in self._kinds.items() if not kind.heavy}
        self._clock_now = clock_now
        self._command = command
        self._is_planned = False
        self._stopped = threading.Event()

    def run(self) -> None:
        while not self._stopped.is_set():
            try:
                self.step()
            except Exception:
                self._app.logger.exception("jobs could not be looked for")
            self._stopped.wait(LOOKED_EVERY_S)

    def stop(self) -> None:
        """Let the light job in hand come to a stop; end the heavy one, which then waits for the next server."""
        self._stopped.set()
        if self.is_alive():
            self.join(PATIENCE_S)
        if (child := self.child) is None:
            return
        self.child = None
        child.process.terminate()
        with suppress(subprocess.TimeoutExpired):
            child.process.wait(PATIENCE_S)
        child.process.kill()
        child.process.wait()
        with self._database():
            service.release(db.session, claimed=child.claimed)

    def step(self) -> int:
        """Look after the process of a heavy job, then begin whatever is due. Returns how many jobs were begun."""
        with self._database():
            if records.lab_or_none(db.session) is None:
                return 0
            if not self._is_planned:
                service.plan_periodic(db.session, kinds=self._kinds.values(), now=self._clock_now())
                self._is_planned = True
            self._look_after_child()
            begun = 0
            while not self._stopped.is_set() and (claimed := self._claim()) is not None:
                begun += 1
                self._begin(claimed)
            return begun

    def run_due(self) -> int:
        """Do what is due until nothing is, and wait for the last process. Returns how many jobs were begun."""
        begun = self.step()
        while self.child is not None:
            with suppress(subprocess.TimeoutExpired):
                self.child.process.wait(LOOKED_EVERY_S)
            begun += self.step()
        return begun

    def _claim(self) -> Claimed | None:
        kinds, now = (self._light if self.child else self._kinds), self._clock_now()
        if queries.next_due_id(db.session, kinds=kinds, now=now) is None:
            return None  # looked at without a lock, since mostly nothing is due
        return service.claim_next(db.session, kinds=kinds, now=now)

    def _begin(self, claimed: Claimed) -> None:
        kind = self._kinds[claimed.kind]
        if not kind.heavy:
            carry_out(kind, claimed, config=self._config, clock_now=self._clock_now, should_stop=self._stopped.is_set)
            return
        command = [*self._command, str(claimed.id), "--lease", claimed.token]
        # In a session of its own, so that Ctrl-C reaches the server alone, which then ends it in good order.
        process = subprocess.Popen(command, env=self._config.environment(), start_new_session=True)  # noqa: S603
        self.child = Child(claimed, process, renewed_at=self._clock_now())

    def _look_after_child(self) -> None:
        child, now = self.child, self._clock_now()
        if child is None:
            return
        status = child.process.poll()
        if status is not None:
            self.child = None  # a process that ended well has given back its lease, and nothing is noted
            service.note_failed(db.session, claimed=child.claimed, kind=self._kinds[child.claimed.kind], now=now)
        elif now - child.renewed_at >= rules.RENEWED_EVERY:
            child.renewed_at = now
            if not service.renew(db.session, claimed=child.claimed, now=now):
                child.process.kill()  # another process has the job by now

    @contextmanager
    def _database(self) -> Iterator[None]:
        with self._app.app_context():
            try:
                yield
            finally:
                db.session.remove()
