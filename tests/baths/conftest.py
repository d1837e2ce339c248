"""What the tests of the pages about baths share: people at their screens, and a clock that the lab sets."""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

import pytest
from flask.testing import FlaskClient

from tests.support.lab import SmallLab


@pytest.fixture(autouse=True)
def clock_of_the_lab(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages see the time of the small lab, which goes on a little each time they ask."""
    if "lab" in request.fixturenames:
        lab: SmallLab = request.getfixturevalue("lab")
        monkeypatch.setattr("labsys.clock.now", lambda: lab.tick(seconds=1))


@pytest.fixture
def technician(client_as: Callable[..., FlaskClient]) -> FlaskClient:
    return client_as("technician")


@pytest.fixture
def member(client_as: Callable[..., FlaskClient]) -> FlaskClient:
    return client_as("member")


def plan(lab: SmallLab, product: str = "developer", **changes: Any) -> str:
    """The address of a plan for a mix."""
    fields = {
        "product_id": lab.ids[f"product {product}"],
        "typed_dilution": "",
        "dilution": {"developer": 6000, "stop": 19000, "fixer": 4000}[product],
        "volume": "2.5 L",
        "line_id": lab.film_line_id,
        "place": {"developer": "developer", "stop": "stop bath", "fixer": "fixer"}[product],
        "holding": "tank",
        "capacity": "3 L",
        **changes,
    }
    return f"/baths/mix?{urlencode(fields)}"


def rows(*measured: tuple[int, str] | tuple[int, str, str]) -> dict[str, Any]:
    """The fields of what was measured out of bottles: bottle, amount, what is left."""
    fields: dict[str, Any] = {}
    for index, (bottle_id, amount, *left) in enumerate(measured):
        fields[f"bottles-{index}-bottle_id"] = bottle_id
        fields[f"bottles-{index}-amount"] = amount
        fields[f"bottles-{index}-left"] = left[0] if left else ""
    return fields


MIXED = {"name": "Film developer", "capacity": "3 L", "begins": "service"}
