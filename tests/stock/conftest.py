import pytest

from labsys import clock
from tests.stock.support import NOW


@pytest.fixture(autouse=True)
def _the_clock_stands_a_day_after_the_lab_began(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(clock, "now", lambda: NOW)
