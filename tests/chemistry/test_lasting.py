"""How long baths lasted, some of them at least, against a published table."""

import pytest

from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.lasting import Lasted, most_go_on_to, share_lasting


def test_the_worked_table_of_a_medical_journal():
    """Bewick et al., Critical Care 2004 8:389, Table 2: 0.750, 0.625, 0.500, 0.333, 0.000; 6 and 9 also at least."""
    told = [(1, 0), (1, 0), (4, 0), (5, 0), (6, 1), (9, 0), (9, 1), (22, 0)]
    lasted = [Lasted(amount, is_at_least=bool(at_least)) for amount, at_least in told]
    assert [(amount, round(float(share), 3)) for amount, share in share_lasting(lasted)] == [
        (1, 0.75),
        (4, 0.625),
        (5, 0.5),
        (9, 0.333),
        (22, 0),
    ]


def test_without_any_that_only_lasted_at_least_it_is_the_plain_share():
    """Cox and Oakes, Table 1.1, as lecture notes give it: S(10) = 0.381, 0.905 past 1 and 0.809 past 2 weeks."""
    weeks = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
    shares = dict(share_lasting([Lasted(week) for week in weeks]))
    assert [round(float(shares[week]), 3) for week in (1, 2, 8)] == [0.905, 0.81, 0.381]


@pytest.mark.parametrize(
    ("lasted", "amount", "source"),
    [
        ([], None, "by definition"),
        ([Lasted(9, is_at_least=True)] * 5, None, "by definition: none was seen to end"),
        ([Lasted(9)] + [Lasted(12, is_at_least=True)] * 9, None, "calculated: nine of ten go on beyond 9"),
        ([Lasted(9)] + [Lasted(12, is_at_least=True)] * 8, 9, "calculated: eight of nine are less than nine in ten"),
        ([Lasted(5, is_at_least=True), Lasted(9), Lasted(12)], 9, "calculated: one of two goes on beyond 9"),
    ],
)
def test_nine_in_ten_go_on_to(lasted, amount, source):
    assert most_go_on_to(lasted) == amount


def test_less_than_nothing_is_refused():
    with pytest.raises(OutOfRange):
        Lasted(-1)
