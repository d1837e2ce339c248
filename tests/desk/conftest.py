"""The desk is looked at on the day of the small lab."""

from collections.abc import Iterator

import pytest
import time_machine

from tests.support.lab import SmallLab


@pytest.fixture
def clock(lab: SmallLab) -> Iterator[time_machine.Traveller]:
    """A clock that stands at the lab's time until it is moved."""
    with time_machine.travel(lab.now, tick=False) as traveller:
        yield traveller
