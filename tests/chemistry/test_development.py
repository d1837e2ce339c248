import math
from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.development import (
    TimeRule,
    TooShort,
    develop_minutes,
    develop_minutes_between,
    develop_minutes_while_cooling,
    fix_and_wash_factor,
    time_error_share,
)
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.temperature import cooled_celsius

LAW = "calculated from t20 * Q10^((20 - T) / 10)"
TIMES = [
    Row(q10=2.5, celsius=24, minutes=6.93, tolerance=0.01, source=LAW),
    Row(q10=2.5, celsius=18, minutes=12.01, tolerance=0.01, source=LAW),
    Row(q10=2.5, celsius=20, minutes=10, tolerance=0, source=LAW),
    Row(q10=1.3, celsius=18, minutes=10.54, tolerance=0.005, source=LAW),
    Row(q10=1.3, celsius=22, minutes=9.49, tolerance=0.005, source=LAW),
    Row(q10=1.9, celsius=24, minutes=7.74, tolerance=0.005, source=LAW),
    Row(q10=2.0, celsius=22, minutes=8.71, tolerance=0.005, source=LAW),
    Row(q10=2.8, celsius=24, minutes=6.62, tolerance=0.005, source=LAW),
]


@pytest.mark.parametrize("row", TIMES, ids=lambda row: f"{row.q10} at {row.celsius}")
def test_the_time_follows_the_log_linear_law(row):
    rule = TimeRule(minutes=10, q10=row.q10)
    assert develop_minutes(rule=rule, celsius=row.celsius) == pytest.approx(row.minutes, abs=row.tolerance, rel=0)


@pytest.mark.parametrize("celsius", [17.9, 24.1, math.nan])
def test_nothing_is_extrapolated(celsius):
    with pytest.raises(OutOfRange):
        develop_minutes(rule=TimeRule(minutes=10), celsius=celsius)


def test_a_time_too_short_for_even_development_is_refused_with_the_time():
    with pytest.raises(TooShort, match=r"4\.2 min is under 5 min, too short") as refusal:
        develop_minutes(rule=TimeRule(minutes=6), celsius=24)
    assert refusal.value.minutes == pytest.approx(4.16, abs=0.005)


@pytest.mark.parametrize(
    "bad", [{"minutes": 0}, {"minutes": 300}, {"q10": 0.9}, {"q10": 6}, {"low_celsius": 21}, {"high_celsius": 19}]
)
def test_a_rule_that_cannot_be_is_refused(bad):
    with pytest.raises(OutOfRange):
        TimeRule(**({"minutes": 10} | bad))


ARRHENIUS = [
    Row(celsius=24, minutes=6.88, source="calculated from Arrhenius, 67.7 kJ/mol: Q10 2.5 from 20 to 30 °C"),
    Row(celsius=18, minutes=12.10, source="calculated from Arrhenius, 67.7 kJ/mol"),
]


@pytest.mark.parametrize("row", ARRHENIUS, ids=lambda row: str(row.celsius))
def test_arrhenius_gives_nearly_the_same_time(row):
    assert develop_minutes(rule=TimeRule(minutes=10), celsius=row.celsius) == pytest.approx(row.minutes, rel=0.01)


THERMOMETERS = [
    Row(error=1.0, percent=9.6, source="calculated from 2.5^0.1 - 1"),
    Row(error=0.5, percent=4.7, source="calculated from 2.5^0.05 - 1"),
    Row(error=0.25, percent=2.3, source="calculated from 2.5^0.025 - 1"),
    Row(error=0, percent=0, source="calculated: no error, none"),
]


@pytest.mark.parametrize("row", THERMOMETERS, ids=lambda row: str(row.error))
def test_a_wrong_thermometer_makes_a_wrong_time(row):
    assert 100 * time_error_share(q10=2.5, celsius_error=row.error) == pytest.approx(row.percent, abs=0.05)


DRIFT = TimeRule(minutes=8, at_celsius=24, q10=2.5, low_celsius=16, high_celsius=26)


def test_a_cooling_tank_develops_longer():
    """Calculated: 8 min wanted at 24 °C, room 18 °C, time constant 60 min."""
    minutes = develop_minutes_while_cooling(rule=DRIFT, start_celsius=24, room_celsius=18, tau_minutes=60)
    assert minutes == pytest.approx(8.28, abs=0.02)


@given(st.floats(20, 25), st.floats(16, 26), st.floats(30, 120))
def test_the_mean_temperature_stands_in_for_the_integral_to_two_thousandths(start, room, tau):
    """The integral, by a thousand slices: the development done in the time found is the development wanted."""
    minutes = develop_minutes_while_cooling(rule=DRIFT, start_celsius=start, room_celsius=room, tau_minutes=tau)
    done = 0.0
    for slice_ in range(1000):
        at = (slice_ + 0.5) * minutes / 1000
        now = cooled_celsius(start_celsius=start, room_celsius=room, tau_minutes=tau, minutes=at)
        done += math.exp(DRIFT.per_celsius * (now - 24)) * minutes / 1000
    assert done == pytest.approx(DRIFT.minutes, rel=0.002)


def test_a_tank_at_the_temperature_of_the_room_develops_as_long_as_it_should():
    minutes = develop_minutes_while_cooling(rule=DRIFT, start_celsius=22, room_celsius=22, tau_minutes=60)
    assert minutes == develop_minutes(rule=DRIFT, celsius=22)


def test_a_tank_that_leaves_the_range_of_the_rule_is_refused():
    with pytest.raises(OutOfRange):
        develop_minutes_while_cooling(rule=DRIFT, start_celsius=24, room_celsius=5, tau_minutes=2)


FACTORS = [
    Row(celsius=1.7, factor=3.56, tolerance=0.01, source="calculated; TM 11-2323 prints four times at 35 °F"),
    Row(celsius=15, factor=1.41, tolerance=0.01, source="calculated from US Army TM 11-2323: doubled for 10 °C"),
    Row(celsius=20, factor=1.0, tolerance=0, source="by definition"),
    Row(celsius=24, factor=1.0, tolerance=0, source="by definition: no time is taken off above 20 °C"),
]


@pytest.mark.parametrize("row", FACTORS, ids=lambda row: str(row.celsius))
def test_cold_fixing_and_washing_take_longer(row):
    assert fix_and_wash_factor(celsius=row.celsius) == pytest.approx(row.factor, abs=row.tolerance, rel=0)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: fix_and_wash_factor(celsius=0.5),
        lambda: fix_and_wash_factor(celsius=25),
        lambda: time_error_share(q10=0.5, celsius_error=0.1),
        lambda: time_error_share(q10=2.5, celsius_error=11),
    ],
)
def test_questions_without_standing_are_refused(ask):
    with pytest.raises(OutOfRange):
        ask()


@given(st.floats(1.1, 4), st.floats(18, 24), st.floats(18, 24))
def test_warmer_is_never_slower(q10, one, other):
    rule = TimeRule(minutes=10, q10=q10, least_minutes=0)
    cooler, warmer = sorted((one, other))
    assert develop_minutes(rule=rule, celsius=warmer) <= develop_minutes(rule=rule, celsius=cooler)
    assert fix_and_wash_factor(celsius=warmer) <= fix_and_wash_factor(celsius=cooler)


def test_a_time_is_as_right_as_thermometer_and_coefficient():
    """Calculated by hand: 10 * 2.2^-0.35 = 7.59 and 10 * 2.8^-0.45 = 6.29 min for 24 °C ± 0.5 and 2.5 ± 0.3."""
    low, high = develop_minutes_between(rule=TimeRule(minutes=10), celsius=24, celsius_error=0.5, q10_error=0.3)
    assert (low, high) == pytest.approx((6.29, 7.59), abs=0.005)
