"""Decisions about bottles, without a database."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from labsys.store import pages as store


@pytest.mark.parametrize(
    ("now", "is_past"),
    [
        (datetime(2026, 6, 1, 23, 30, tzinfo=UTC), True),  # 00:30 on 2 June on the wall in London
        (datetime(2026, 6, 1, 22, 30, tzinfo=UTC), False),
    ],
)
def test_a_date_ends_at_midnight_on_the_wall_of_the_lab(now: datetime, is_past: bool):
    assert (date(2026, 6, 1) < store.today(now, zone=ZoneInfo("Europe/London"))) is is_past
