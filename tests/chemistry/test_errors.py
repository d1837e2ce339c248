import math
import pickle
from fractions import Fraction

import pytest

from labsys.chemistry.celsius import LooksLikeFahrenheit
from labsys.chemistry.dilution import AmbiguousDilution, Dilution
from labsys.chemistry.errors import CalculationError, OutOfRange, check_above, check_between


def test_an_error_carries_the_facts_and_can_be_read():
    error = OutOfRange("celsius", 41, 0, 40, "°C")
    assert (error.name, error.value, error.low, error.high, error.unit) == ("celsius", 41, 0, 40, "°C")
    assert str(error) == "celsius is 41 °C; it must be at least 0 °C and at most 40 °C"
    assert isinstance(error, CalculationError)


def test_an_open_lower_end_says_above():
    with pytest.raises(OutOfRange, match=r"working_ml is 0 mL; it must be above 0 mL$"):
        check_above("working_ml", 0, 0, None, "mL")


def test_a_value_that_is_no_number_is_called_so():
    with pytest.raises(OutOfRange, match="it must be a finite number"):
        check_between("x", math.nan, None, None)


ERRORS = [
    OutOfRange("x", Fraction(1, 3), 1, None),
    OutOfRange("x", 0, 0, None, "mL", low_included=False),
    LooksLikeFahrenheit("water", 68, 5, 60),
    AmbiguousDilution("1:4", Dilution(4), Dilution(3)),
]


@pytest.mark.parametrize("error", ERRORS, ids=str)
def test_an_error_survives_the_way_between_processes(error):
    survivor = pickle.loads(pickle.dumps(error))  # noqa: S301
    assert (type(survivor), str(survivor), vars(survivor)) == (type(error), str(error), vars(error))


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, -1, 11])
def test_nothing_outside_a_closed_range_passes(value):
    with pytest.raises(OutOfRange):
        check_between("x", value, 0, 10)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 0, 11])
def test_nothing_outside_a_half_open_range_passes(value):
    with pytest.raises(OutOfRange):
        check_above("x", value, 0, 10)


@pytest.mark.parametrize("value", [0, 10, Fraction(1, 3)])
def test_both_ends_of_a_closed_range_pass(value):
    check_between("x", value, 0, 10)
