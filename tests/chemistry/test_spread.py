import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.spread import spread


def test_the_extremes_lie_at_the_corners():
    """Calculated by hand: (10 ± 1) / (4 ± 1) is 9/5 to 11/3."""
    least, greatest = spread(lambda a, b: a / b, values={"a": 10, "b": 4}, errors={"a": 1, "b": 1})
    assert (least, greatest) == pytest.approx((1.8, 11 / 3))


def test_without_an_error_there_is_one_result():
    assert spread(lambda a: 2 * a, values={"a": 3}, errors={}) == (6, 6)


def test_an_error_below_nothing_is_refused():
    with pytest.raises(OutOfRange, match="error of a"):
        spread(lambda a: a, values={"a": 1}, errors={"a": -1})


@given(st.floats(1, 100), st.floats(0, 0.9), st.floats(-1, 1))
def test_what_lies_within_the_errors_lies_within_the_spread(value, error, part):
    least, greatest = spread(lambda a: a**3, values={"a": value}, errors={"a": error})
    assert least <= (value + part * error) ** 3 * (1 + 1e-12)
    assert (value + part * error) ** 3 <= greatest * (1 + 1e-12)
