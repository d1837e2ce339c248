"""What to buy, worked by hand: the least that covers what is missing, in sizes that are sold."""

from datetime import timedelta

import pytest

from labsys.forecast.shopping import basket_for


@pytest.mark.parametrize(
    ("missing", "sizes", "a_day", "opened_for", "packs"),
    [
        (0, [1_000], 0, None, ()),
        (1, [1_000], 0, None, ((1_000, 1),)),
        (1_001, [1_000], 0, None, ((1_000, 2),)),
        (1_400, [1_000, 500], 0, None, ((500, 1), (1_000, 1))),  # 1 500, not 2 000
        (2_000, [1_000, 500], 0, None, ((1_000, 2),)),  # as much as four small ones, in fewer bottles
        # 20 a day for 100 days once opened: of 5 000 only 2 000 are used, so two of them for 3 000, or three of 1 000
        (3_000, [1_000, 5_000], 20, timedelta(days=100), ((1_000, 3),)),
        (60_000, [1_000], 0, None, ((1_000, 60),)),
    ],
)
def test_the_basket_is_the_least_that_covers(missing, sizes, a_day, opened_for, packs):
    assert basket_for(missing, sizes, a_day=a_day, opened_for=opened_for).packs == packs


def test_without_a_size_nothing_can_be_put_in_the_basket():
    assert basket_for(500, []) is None
    assert basket_for(500, [1_000], a_day=0.0, opened_for=timedelta(days=10)) is None  # all of it would lapse
