"""What the tests of entries made without a network share: a lab with places and baths, whose clock the lab sets."""

from collections.abc import Callable

import pytest
from flask.testing import FlaskClient

from tests.bookings.conftest import furnished, stopped_clock
from tests.support.lab import SmallLab
from tests.support.pages import send

__all__ = ("furnished", "stopped_clock")


@pytest.fixture
def at_noon(stopped_clock: SmallLab) -> SmallLab:
    """Baths are mixed, somebody is on duty, and it is noon on the day after."""
    stopped_clock.mix_film_line()
    stopped_clock.fill_rota()
    stopped_clock.now = stopped_clock.now.replace(hour=12, minute=0, second=0, microsecond=0)
    stopped_clock.tick(days=1)
    return stopped_clock


@pytest.fixture
def tablet(client_as: Callable[..., FlaskClient], at_noon: SmallLab) -> FlaskClient:
    """A browser that a manager enrolled."""
    client = client_as("manager")
    assert send(client, "/devices/enrol", name="Dry side, by the door").status_code == 303
    return client
