"""Waiting for what another thread or process does, however slow the machine is."""

import time
from collections.abc import Callable

PATIENCE_S = 900  # how long a test that fails takes to say so; one that passes waits until it has happened


def wait_until(happened: Callable[[], bool]) -> None:
    gives_up = time.monotonic() + PATIENCE_S
    while not happened():
        assert time.monotonic() < gives_up, "it never happened"
        time.sleep(0.02)
