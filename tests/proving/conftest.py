"""A clock that the lab sets, as the pages see it."""

import pytest

from tests.support.lab import SmallLab


@pytest.fixture(autouse=True)
def clock_of_the_lab(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if "lab" in request.fixturenames:
        lab: SmallLab = request.getfixturevalue("lab")
        monkeypatch.setattr("labsys.clock.now", lambda: lab.tick(seconds=1))
