"""What the tests of bookings share: a lab with places, a clock that the lab sets, and people at their screens."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from labsys.timetable.spans import Span
from tests.support.client import hidden_field
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


def send(client: FlaskClient, path: str, *, opened: str | None = None, **fields: Any) -> TestResponse:
    """Open the form, fill it in and send it; `opened` is a page that was opened earlier."""
    page = opened or client.get(path).get_data(as_text=True)
    keys = {name: hidden_field(page, name) for name in ("csrf_token", "submission_key")}
    return client.post(path, data={**keys, **fields})


def press(client: FlaskClient, page_path: str, action: str) -> TestResponse:
    """Press the button of a one-button form on a page."""
    page = client.get(page_path).get_data(as_text=True)
    assert f'action="{action}"' in page, f"no button for {action}"
    return client.post(action, data={"csrf_token": hidden_field(page, "csrf_token")})


def text(response: TestResponse) -> str:
    """The words of a page, without its marks."""
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.get_data(as_text=True)))
    return words.replace("&#39;", "'").replace("&amp;", "&")
