import math
from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.replenishment import (
    after_batches_g_per_l,
    after_units_g_per_l,
    exchanged_share,
    rate_ml_per_unit,
    settles_at_g_per_l,
    turnover_share,
)

REPL = "release 40 to 60 mg a unit, common practice, no source"
SETTLES = [
    Row(facts={"release_mg": 50, "rate_ml": 23.66}, at=2.11, source="calculated from 50/23.66; " + REPL),
    Row(facts={"release_mg": 0, "rate_ml": 20, "replenisher_g_per_l": 1.5}, at=1.5, source="calculated: no release"),
    Row(
        facts={"release_mg": 0, "rate_ml": 20, "carried_in_ml": 20, "carried_in_g_per_l": 3},
        at=1.5,
        source="calculated: half fresh, half carried in",
    ),
]


@pytest.mark.parametrize("row", SETTLES, ids=lambda row: row.source)
def test_a_replenished_tank_settles(row):
    assert settles_at_g_per_l(**row.facts) == pytest.approx(row.at, abs=0.005)


ON_THE_WAY = [
    Row(units=50, steady=0.601, by_hand=0.598, source="calculated from 2 * (1 - exp(-n/140)); by hand step by step"),
    Row(units=140, steady=1.264, by_hand=1.258, source="calculated, one turnover of the tank"),
    Row(units=420, steady=1.900, by_hand=1.888, source="calculated, three turnovers"),
    Row(units=0, steady=0, by_hand=0, source="calculated: nothing went through"),
]


@pytest.mark.parametrize("row", ON_THE_WAY, ids=lambda row: f"{row.units} units")
def test_bromide_builds_up_towards_where_it_settles(row):
    facts = {"start_g_per_l": 0, "release_mg": 50, "rate_ml": 25, "tank_ml": 3500, "units": row.units}
    assert after_units_g_per_l(**facts) == pytest.approx(row.steady, abs=0.0006)
    assert after_batches_g_per_l(**facts) == pytest.approx(row.by_hand, abs=0.0006)


TURNOVERS = [
    Row(units=140, share=0.632, source="calculated: one turnover, 1 - 1/e"),
    Row(units=420, share=0.950, source="calculated: three turnovers"),
]


@pytest.mark.parametrize("row", TURNOVERS, ids=lambda row: f"{row.units} units")
def test_a_turnover_of_the_tank_is_two_thirds_of_the_way(row):
    assert turnover_share(rate_ml=25, tank_ml=3500, units=row.units) == pytest.approx(row.share, abs=0.0005)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: rate_ml_per_unit(volume_ml=-1, area_mm2=100),
        lambda: rate_ml_per_unit(volume_ml=1, area_mm2=0),
        lambda: settles_at_g_per_l(release_mg=-1, rate_ml=20),
        lambda: settles_at_g_per_l(release_mg=1, rate_ml=0),
        lambda: after_units_g_per_l(start_g_per_l=0, release_mg=1, rate_ml=1, tank_ml=0, units=1),
        lambda: after_batches_g_per_l(start_g_per_l=0, release_mg=1, rate_ml=20, tank_ml=10, units=1),
        lambda: after_batches_g_per_l(start_g_per_l=0, release_mg=1, rate_ml=1, tank_ml=10, units=-1),
        lambda: turnover_share(rate_ml=0, tank_ml=10, units=1),
    ],
)
def test_a_tank_that_cannot_be_is_refused(ask):
    with pytest.raises(OutOfRange):
        ask()


def test_a_tank_may_be_small_and_its_rate_smaller():
    """Calculated: half a millilitre of 1 g/L each time, into one of nothing, is half way after one unit."""
    facts = {"start_g_per_l": 0, "release_mg": 0, "rate_ml": 0.5, "replenisher_g_per_l": 1, "tank_ml": 1}
    assert after_batches_g_per_l(**facts, units=1) == pytest.approx(0.5)


amounts = st.floats(0, 100)
rates = st.floats(1, 100)
tanks = st.floats(500, 20_000)


@given(amounts, amounts, rates, tanks, st.integers(0, 200), st.floats(0, 10))
def test_the_series_is_the_same_as_going_step_by_step(start, release, rate, tank, units, fresh):
    by_step = start
    for _ in range(units):
        by_step = (by_step + release / tank) * (1 - rate / tank) + rate * fresh / tank
    closed = after_batches_g_per_l(
        start_g_per_l=start, release_mg=release, rate_ml=rate, tank_ml=tank, units=units, replenisher_g_per_l=fresh
    )
    assert closed == pytest.approx(by_step, rel=1e-9, abs=1e-9)


@given(amounts, amounts, rates, tanks, st.floats(0, 500), st.floats(0, 500))
def test_a_tank_only_ever_moves_towards_where_it_settles(start, release, rate, tank, one, other):
    end = settles_at_g_per_l(release_mg=release, rate_ml=rate)
    early, late = (
        after_units_g_per_l(start_g_per_l=start, release_mg=release, rate_ml=rate, tank_ml=tank, units=units)
        for units in sorted((one, other))
    )
    assert abs(late - end) <= abs(early - end) + 1e-9
    assert math.copysign(1, early - end) == math.copysign(1, start - end) or early == pytest.approx(end)


EXCHANGED = [
    Row(volumes=[250] * 3, tank=2500, share=0.271, source="calculated by hand: 1 - 0.9³"),
    Row(volumes=[25] * 140, tank=3500, share=0.6334, source="calculated: 1 - (139/140)^140, beside 1 - 1/e = 0.632"),
    Row(volumes=[25] * 420, tank=3500, share=0.9507, source="calculated: three turnovers, beside 1 - exp(-3) = 0.950"),
    Row(volumes=[1000], tank=1000, share=1.0, source="calculated: all of it"),
    Row(volumes=[], tank=1000, share=0.0, source="calculated: nothing went in"),
]


@pytest.mark.parametrize("row", EXCHANGED, ids=lambda row: row.source)
def test_replenisher_takes_the_place_of_what_was_there(row):
    assert exchanged_share(volumes_ml=row.volumes, tank_ml=row.tank) == pytest.approx(row.share, abs=0.0005)


def test_no_more_goes_in_at_once_than_the_tank_holds():
    with pytest.raises(OutOfRange):
        exchanged_share(volumes_ml=[3000], tank_ml=2500)
