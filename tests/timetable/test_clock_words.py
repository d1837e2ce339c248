"""What the wall clock shows. Europe/London goes back at 01:00 UTC on 25 October 2026 (IANA time zone database)."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from labsys.timetable.local_time import clock_words

LONDON = ZoneInfo("Europe/London")


@pytest.mark.parametrize(
    ("hour", "minute", "words"),
    [
        (23, 59, "00:59"),
        (0, 0, "01:00 BST"),
        (0, 59, "01:59 BST"),
        (1, 0, "01:00 GMT"),
        (1, 59, "01:59 GMT"),
        (2, 0, "02:00"),
    ],
)
def test_a_time_shown_twice_says_which_of_the_two(hour, minute, words):
    day = 24 if hour == 23 else 25
    assert clock_words(datetime(2026, 10, day, hour, minute, tzinfo=UTC), zone=LONDON) == words


def test_the_hour_before_a_gap_is_shown_once():
    """The clock jumps from 01:00 to 02:00 at 01:00 UTC on 29 March 2026 (IANA)."""
    assert clock_words(datetime(2026, 3, 29, 0, 59, tzinfo=UTC), zone=LONDON) == "00:59"
    assert clock_words(datetime(2026, 3, 29, 1, 0, tzinfo=UTC), zone=LONDON) == "02:00"


def test_an_instant_carries_a_zone():
    with pytest.raises(ValueError, match="carries a zone"):
        clock_words(datetime(2026, 3, 29, 1, 0), zone=LONDON)  # noqa: DTZ001 (that is what is refused)
