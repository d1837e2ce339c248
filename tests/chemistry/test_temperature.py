import math
from types import SimpleNamespace as Row

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from labsys.chemistry.dilution import Dilution, split
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.temperature import (
    NotReachable,
    Portion,
    cooled_celsius,
    mean_celsius,
    mix_to_temperature,
    mixed_celsius,
    mixed_celsius_error,
    mixed_celsius_exact,
    time_constant_minutes,
    water_to_temperature,
)
from labsys.chemistry.water import water_equivalent_ml

MIXTURES = [
    Row(waters=[(500, 24), (5000, 20)], simple=20.36, exact=20.36, source="calculated: a tank in its jacket"),
    Row(
        waters=[(120, 25), (73.5, 45), (406.5, 14)],
        simple=20.0,
        exact=19.96,
        source="CoolProp 8.0.0; the simple mean calculated",
    ),
    Row(waters=[(500, 20)], simple=20.0, exact=20.0, source="calculated: nothing mixed"),
]


@pytest.mark.parametrize("row", MIXTURES, ids=lambda row: str(row.waters))
def test_waters_mix_to_their_mean(row):
    portions = [Portion(*water) for water in row.waters]
    assert mixed_celsius(portions=portions) == pytest.approx(row.simple, abs=0.005)
    assert mixed_celsius_exact(portions=portions) == pytest.approx(row.exact, abs=0.006)


TAPS = [
    Row(ml=600, n=4, want=20, room=25, cold=14, hot=45, water=18.75, hot_ml=73.5, cold_ml=406.5,
        source="calculated from (600*20 - 120*25) / 480, then 480 * 4.75/31"),
    Row(ml=1000, n=9, want=20, room=23, cold=12, hot=50, water=19.667, hot_ml=181.6, cold_ml=718.4,
        source="calculated from (1000*20 - 100*23) / 900, then 900 * 7.667/38"),
]  # fmt: skip


@pytest.mark.parametrize("row", TAPS, ids=lambda row: f"{row.ml} at 1+{row.n}")
def test_two_taps_and_a_concentrate_come_to_the_temperature_wanted(row):
    parts = split(dilution=Dilution(row.n), working_ml=row.ml)
    mix = mix_to_temperature(
        parts=parts, wanted_celsius=row.want, concentrate_celsius=row.room, cold_celsius=row.cold, hot_celsius=row.hot
    )
    assert mix.water_celsius == pytest.approx(row.water, abs=0.001)
    assert mix.hot_ml == pytest.approx(row.hot_ml, abs=0.1)
    assert mix.cold_ml == pytest.approx(row.cold_ml, abs=0.1)


TWO_TAPS = [
    Row(ml=1000, want=20, cold=12, hot=50, hot_ml=210.5, cold_ml=789.5, source="calculated from 1000 * 8/38"),
    Row(ml=2000, want=24, cold=15, hot=60, hot_ml=400, cold_ml=1600, source="calculated from 2000 * 9/45"),
    Row(ml=500, want=12, cold=12, hot=50, hot_ml=0, cold_ml=500, source="calculated: the cold tap is right already"),
]


@pytest.mark.parametrize("row", TWO_TAPS, ids=lambda row: str(row.ml))
def test_water_alone_is_brought_to_a_temperature(row):
    mix = water_to_temperature(water_ml=row.ml, wanted_celsius=row.want, cold_celsius=row.cold, hot_celsius=row.hot)
    assert (mix.concentrate_ml, mix.water_celsius) == (0, row.want)
    assert mix.hot_ml == pytest.approx(row.hot_ml, abs=0.1)
    assert mix.cold_ml == pytest.approx(row.cold_ml, abs=0.1)


def ask(*, n=4, want=20, room=22, cold=12, hot=50):
    return mix_to_temperature(
        parts=split(dilution=Dilution(n), working_ml=1000),
        wanted_celsius=want,
        concentrate_celsius=room,
        cold_celsius=cold,
        hot_celsius=hot,
    )


def test_a_temperature_below_the_cold_tap_names_what_can_be_reached():
    """Calculated: 0.2 * 22 + 0.8 * 21 = 21.2 and 0.2 * 22 + 0.8 * 50 = 44.4."""
    with pytest.raises(NotReachable, match=r"20 °C cannot be reached by mixing; from 21\.2 to 44\.4 °C can"):
        ask(cold=21)


def test_stock_solution_has_the_temperature_of_the_room_and_no_other():
    mix = ask(n=0, want=22)
    assert (mix.concentrate_ml, mix.hot_ml, mix.cold_ml, mix.working_celsius) == (1000, 0, 0, 22)
    with pytest.raises(NotReachable):
        ask(n=0, want=20)


@pytest.mark.parametrize(
    "change", [{"hot": 12}, {"hot": 70}, {"cold": -1}, {"want": 4}, {"want": 61}, {"room": 70}, {"want": math.nan}]
)
def test_taps_that_cannot_be_are_refused(change):
    with pytest.raises(OutOfRange):
        ask(**change)


def test_nothing_poured_has_no_temperature():
    for mixed in (mixed_celsius, mixed_celsius_exact, mixed_celsius_error):
        with pytest.raises(OutOfRange):
            mixed(portions=[])


@pytest.mark.parametrize("bad", [(0, 20), (-1, 20), (100, -1), (100, 101), (100, 20, -1), (100, 20, 0, -1)])
def test_a_portion_that_cannot_be_is_refused(bad):
    with pytest.raises(OutOfRange):
        Portion(*bad)


def test_the_error_of_a_mixture_comes_from_its_thermometer_and_its_cylinders():
    """Calculated: 0.5 + (36 * 5 + 9 * 20) / 2000 = 0.68 °C."""
    error = mixed_celsius_error(portions=[Portion(400, 60, 5, 0.5), Portion(1600, 15, 20, 0.5)])
    assert error.worst == pytest.approx(0.68)
    assert error.likely == pytest.approx(math.hypot(0.1, 0.4, 0.09, 0.09))


COOLING = [
    Row(start=24, room=18, tau=60, minutes=8, end=23.25, mean=23.62, source="calculated from Newton's law"),
    Row(start=20, room=26, tau=45, minutes=10, end=21.20, mean=20.62, source="calculated from Newton's law"),
    Row(start=38, room=20, tau=25, minutes=3.25, end=35.81, mean=36.88, source="calculated from Newton's law"),
]


@pytest.mark.parametrize("row", COOLING, ids=lambda row: f"{row.start} in {row.room}")
def test_a_tank_drifts_towards_the_room(row):
    facts = {"start_celsius": row.start, "room_celsius": row.room, "tau_minutes": row.tau, "minutes": row.minutes}
    assert cooled_celsius(**facts) == pytest.approx(row.end, abs=0.005)
    assert mean_celsius(**facts) == pytest.approx(row.mean, abs=0.005)


def test_one_reading_gives_the_time_constant():
    """Calculated: 24 to 23.2 °C in 8 min in a room of 18 °C."""
    tau = time_constant_minutes(start_celsius=24, end_celsius=23.2, room_celsius=18, minutes=8)
    assert tau == pytest.approx(55.9, abs=0.05)


@pytest.mark.parametrize("end", [24, 24.5, 18, 17])
def test_a_tank_that_did_not_move_towards_the_room_has_no_time_constant(end):
    with pytest.raises(OutOfRange):
        time_constant_minutes(start_celsius=24, end_celsius=end, room_celsius=18, minutes=8)


@pytest.mark.parametrize("change", [{"tau_minutes": 0}, {"minutes": -1}, {"start_celsius": 70}, {"room_celsius": -1}])
def test_cooling_that_cannot_be_is_refused(change):
    facts = {"start_celsius": 24, "room_celsius": 18, "tau_minutes": 60, "minutes": 8} | change
    with pytest.raises(OutOfRange):
        cooled_celsius(**facts)
    with pytest.raises(OutOfRange):
        mean_celsius(**facts)


celsius = st.floats(1, 60)
portions = st.lists(st.builds(Portion, st.floats(10, 5000), celsius), min_size=1, max_size=4)


@given(portions)
def test_a_mixture_is_never_warmer_than_its_warmest_nor_colder_than_its_coldest(waters):
    low, high = min(p.celsius for p in waters), max(p.celsius for p in waters)
    assert low - 1e-9 <= mixed_celsius(portions=waters) <= high + 1e-9
    assert low - 1e-3 <= mixed_celsius_exact(portions=waters) <= high + 1e-3


@given(portions)
def test_the_simple_balance_is_never_far_from_the_exact(waters):
    assert mixed_celsius(portions=waters) == pytest.approx(mixed_celsius_exact(portions=waters), abs=0.3)


@given(
    st.integers(1, 100), st.floats(100, 5000), st.floats(16, 26), st.floats(15, 30), st.floats(4, 18), st.floats(35, 60)
)
def test_what_is_poured_adds_up_and_comes_to_the_temperature(n, ml, want, room, cold, hot):
    parts = split(dilution=Dilution(n), working_ml=ml)
    low, high = (float((parts.concentrate_ml * room + parts.water_ml * tap) / parts.working_ml) for tap in (cold, hot))
    assume(low + 0.01 < want < high - 0.01)
    mix = mix_to_temperature(
        parts=parts, wanted_celsius=want, concentrate_celsius=room, cold_celsius=cold, hot_celsius=hot
    )
    assert mix.concentrate_ml + mix.hot_ml + mix.cold_ml == pytest.approx(ml)
    poured = [(mix.concentrate_ml, room), (mix.hot_ml, hot), (mix.cold_ml, cold)]
    assert mixed_celsius(portions=[Portion(*p) for p in poured if p[0] > 0]) == pytest.approx(want, abs=1e-6)


@given(celsius, celsius, st.floats(5, 200), st.floats(0.5, 60))
def test_a_reading_gives_back_the_time_constant_it_was_made_with(start, room, tau, minutes):
    assume(abs(start - room) > 0.5)
    facts = {"start_celsius": start, "room_celsius": room, "minutes": minutes}
    end = cooled_celsius(**facts, tau_minutes=tau)
    assume(abs(end - room) > 1e-3)
    assert time_constant_minutes(**facts, end_celsius=end) == pytest.approx(tau, rel=1e-4)


@given(celsius, celsius, st.floats(5, 200), st.floats(0.1, 120))
def test_the_mean_lies_between_start_and_end(start, room, tau, minutes):
    facts = {"start_celsius": start, "room_celsius": room, "tau_minutes": tau, "minutes": minutes}
    end = cooled_celsius(**facts)
    assert min(start, end) - 1e-9 <= mean_celsius(**facts) <= max(start, end) + 1e-9


def test_a_cold_vessel_wants_warmer_water():
    """Calculated by hand: 500 g of steel are 60 mL of water; (1060 * 20 - 60 * 10) / 1000 = 20.6 °C."""
    vessel = Portion(water_equivalent_ml(grams=500, joules_per_gram_kelvin=0.5, celsius=20), 10)
    assert vessel.volume_ml == pytest.approx(59.9, abs=0.05)
    mix = water_to_temperature(water_ml=1000, wanted_celsius=20, cold_celsius=12, hot_celsius=50, vessel=vessel)
    assert mix.water_celsius == pytest.approx(20.6, abs=0.005)


def test_waters_poured_together_as_in_two_school_books():
    """Calculated: 60 g at 20 °C and 120 g at 100 °C are 73.3 °C; 80 g at 70 °C and 90 g at 10 °C are 38.2 °C."""
    assert mixed_celsius(portions=[Portion(60, 20), Portion(120, 100)]) == pytest.approx(73.3, abs=0.05)
    assert mixed_celsius(portions=[Portion(80, 70), Portion(90, 10)]) == pytest.approx(38.2, abs=0.05)
