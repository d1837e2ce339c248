"""A clock that the small lab sets, and people at their screens."""

from collections.abc import Callable

import pytest
from flask.testing import FlaskClient

from tests.support.lab import SmallLab


@pytest.fixture(autouse=True)
def clock_of_the_lab(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages see the time of the small lab."""
    if "lab" in request.fixturenames:
        lab: SmallLab = request.getfixturevalue("lab")
        monkeypatch.setattr("labsys.clock.now", lambda: lab.now)


@pytest.fixture
def member(client_as: Callable[..., FlaskClient]) -> FlaskClient:
    return client_as("member")
