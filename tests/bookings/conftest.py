"""What the tests of bookings share: a lab with places, a clock that the lab sets, and people at their screens."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from flask.testing import FlaskClient

from labsys.timetable.spans import Span
from tests.support.lab import SmallLab

TOMORROW = datetime(2026, 3, 3, tzinfo=UTC)  # a Tuesday; London keeps UTC then


@pytest.fixture
def furnished(lab: SmallLab) -> SmallLab:
    lab.add_places()
    return lab


@pytest.fixture
def stopped_clock(furnished: SmallLab, monkeypatch: pytest.MonkeyPatch) -> SmallLab:
    """Pages see the time of the small lab."""
    monkeypatch.setattr("labsys.clock.now", lambda: furnished.now)
    return furnished


@pytest.fixture
def member(client_as: Callable[..., FlaskClient]) -> FlaskClient:
    return client_as("member")


@pytest.fixture
def technician(client_as: Callable[..., FlaskClient]) -> FlaskClient:
    return client_as("technician")


def at(start: float, end: float, *, day: datetime = TOMORROW) -> Span:
    """From one hour of a day to another, in UTC."""
    return Span(day + timedelta(hours=start), day + timedelta(hours=end))
