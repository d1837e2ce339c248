"""Processes of their own, forked from one that has read the house and done nothing with it: no proof waits for imports.

A process has pipes for its three streams, an environment and a process id of its own, and can be killed at any moment.
"""

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Mapping, Sequence
from multiprocessing.connection import Connection

from tests.support.waiting import PATIENCE_S

CONTEXT = multiprocessing.get_context("forkserver")
CONTEXT.set_forkserver_preload(["labsys.cli"])
NewProcess = Callable[..., "OwnProcess"]


class OwnProcess:
    """One that runs `main` with these arguments, read and written as text by lines."""

    def __init__(self, main: Callable[[], object], *arguments: str, environment: Mapping[str, str]) -> None:
        streams = [CONTEXT.Pipe(duplex=False) for _ in range(3)]
        theirs = [streams[0][0], streams[1][1], streams[2][1]]
        self._ours = [streams[0][1], streams[1][0], streams[2][0]]
        self._process = CONTEXT.Process(target=_run, args=(main, arguments, dict(environment), theirs), daemon=True)
        self._process.start()
        for end in theirs:
            end.close()
        self.stdin = open(self._ours[0].fileno(), "w", buffering=1, closefd=False)  # noqa: SIM115 - closed by `end`
        self.stdout, self.stderr = (open(end.fileno(), closefd=False) for end in self._ours[1:])  # noqa: SIM115

    @property
    def returncode(self) -> int | None:
        return self._process.exitcode

    def say(self, line: str) -> None:
        self.stdin.write(line + "\n")

    def send_signal(self, number: signal.Signals) -> None:
        assert self._process.pid is not None
        os.kill(self._process.pid, number)

    def wait(self) -> int:
        self._process.join(PATIENCE_S)
        assert self._process.exitcode is not None, "still running"
        return self._process.exitcode

    def communicate(self) -> tuple[str, str]:
        """What it still says, until it ends."""
        said = self.stdout.read(), self.stderr.read()
        self.wait()
        return said

    def end(self) -> None:
        self._process.kill()
        self._process.join()
        for end in self._ours:
            end.close()


def _run(
    main: Callable[[], object], arguments: Sequence[str], environment: Mapping[str, str], streams: list[Connection]
) -> None:
    for number, stream in enumerate(streams):
        os.dup2(stream.fileno(), number)
    sys.stdin, sys.stdout, sys.stderr = open(0), open(1, "w", buffering=1), open(2, "w", buffering=1)  # noqa: SIM115
    os.environ.clear()
    os.environ.update(environment)
    sys.argv = ["labsys", *arguments]
    main()
