import math
from types import SimpleNamespace as Row

import pytest

from labsys.chemistry.celsius import LooksLikeFahrenheit, celsius_of, check_celsius
from labsys.chemistry.errors import OutOfRange

SCALES = [
    Row(fahrenheit=32, celsius=0, source="from memory: ice melts"),
    Row(fahrenheit=212, celsius=100, source="from memory: water boils"),
    Row(fahrenheit=68, celsius=20, source="common practice, no source: the usual temperature of a developer"),
    Row(fahrenheit=-40, celsius=-40, source="from memory: where the scales meet"),
    Row(fahrenheit=50, celsius=10, source="calculated: (50 - 32) / 1.8"),
]


@pytest.mark.parametrize("row", SCALES, ids=lambda row: f"{row.fahrenheit} °F")
def test_fahrenheit_is_read_as_the_scale_is_defined(row):
    assert celsius_of(fahrenheit=row.fahrenheit) == pytest.approx(row.celsius)


@pytest.mark.parametrize("value", [-460, math.nan, math.inf])
def test_nothing_is_colder_than_absolute_zero(value):
    with pytest.raises(OutOfRange):
        celsius_of(fahrenheit=value)


@pytest.mark.parametrize("value", [5, 20, 60])
def test_a_temperature_within_the_range_passes(value):
    check_celsius(name="target", value=value, low=5, high=60)


READ_AS_FAHRENHEIT = [
    Row(value=68, celsius=20, source="common practice, no source: 68 °F is meant as 20 °C"),
    Row(value=140, celsius=60, source="calculated: (140 - 32) / 1.8"),
]


@pytest.mark.parametrize("row", READ_AS_FAHRENHEIT, ids=lambda row: f"{row.value}")
def test_a_value_that_only_fahrenheit_could_mean_is_called_so(row):
    with pytest.raises(LooksLikeFahrenheit, match=f"{row.value} °F is {row.celsius} °C") as caught:
        check_celsius(name="target", value=row.value, low=5, high=60)
    assert caught.value.celsius == pytest.approx(row.celsius)


@pytest.mark.parametrize("value", [-3, 4, 141, math.nan, math.inf, -math.inf])
def test_what_fits_neither_scale_is_out_of_range(value):
    with pytest.raises(OutOfRange) as caught:
        check_celsius(name="target", value=value, low=5, high=60)
    assert type(caught.value) is OutOfRange
