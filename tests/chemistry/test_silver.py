from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.ranges import Range
from labsys.chemistry.silver import (
    recovered_share,
    silver_by_electrolysis_g,
    silver_by_iron_g,
    silver_concentration_g_per_l,
    silver_into_fixer_g,
)
from labsys.chemistry.sizes import UNIT_MM2, Load

CLERC = "after L. P. Clerc, Photography: Theory and Practice, par. 412"
AMOUNTS = [
    Row(load=Load(film_mm2=UNIT_MM2), low=0.0516, typical=0.155, high=0.413, source="calculated, 4 * 0.75; " + CLERC),
    Row(load=Load(rc_mm2=UNIT_MM2), low=0.0129, typical=0.058, high=0.124, source="calculated, 1.5 * 0.75; " + CLERC),
    Row(load=Load(), low=0, typical=0, high=0, source="calculated: nothing leaves nothing"),
]  # fmt: skip


@pytest.mark.parametrize("row", AMOUNTS, ids=lambda row: row.source)
def test_silver_is_always_a_range(row):
    silver = silver_into_fixer_g(load=row.load)
    assert (silver.low, silver.typical, silver.high) == pytest.approx((row.low, row.typical, row.high), abs=0.0006)


CONCENTRATIONS = [
    Row(load=Load(film_mm2=20 * UNIT_MM2), typical=3.1, source="calculated for 20 rolls in 1 L"),
    Row(load=Load(rc_mm2=50 * UNIT_MM2), typical=2.9, source="calculated for 50 prints 8x10 in 1 L"),
]


@pytest.mark.parametrize("row", CONCENTRATIONS, ids=lambda row: row.source)
def test_a_used_litre_holds_a_few_grams(row):
    silver = silver_concentration_g_per_l(silver_g=silver_into_fixer_g(load=row.load), bath_ml=1000)
    assert silver.typical == pytest.approx(row.typical, abs=0.05)


def test_a_used_film_fixer_spans_what_is_quoted_for_used_fixer():
    """Harvard University Environmental Health and Safety, page on silver recovery: used fixer, 3000 to 4000 mg/L."""
    twenty = silver_into_fixer_g(load=Load(film_mm2=20 * UNIT_MM2))
    silver = silver_concentration_g_per_l(silver_g=twenty, bath_ml=1000)
    assert silver.low < 3.0 <= silver.typical <= 4.0 < silver.high


CHEMISTRY = [
    Row(got=silver_by_iron_g(iron_g=1), expected=3.86, source="calculated from atomic weights, 215.74 to 55.845"),
    Row(got=silver_by_electrolysis_g(ampere_hours=1), expected=4.025, source="calculated from Faraday's law"),
    Row(got=recovered_share(yields=(0.90, 0.95)), expected=0.995, source="calculated: 1 - 0.1 * 0.05"),
    Row(got=3000 * (1 - recovered_share(yields=(0.90, 0.95))), expected=15, source="calculated: 3000 to 15 mg/L"),
]


@pytest.mark.parametrize("row", CHEMISTRY, ids=lambda row: row.source)
def test_silver_is_recovered_as_chemistry_has_it(row):
    assert row.got == pytest.approx(row.expected, rel=0.001)


@pytest.mark.parametrize(
    "got", [silver_by_iron_g(iron_g=0), silver_by_electrolysis_g(ampere_hours=0), recovered_share(yields=())]
)
def test_nothing_gives_nothing(got):
    assert got == 0


def test_half_the_current_plates_half_the_silver():
    assert silver_by_electrolysis_g(ampere_hours=2, current_efficiency=0.5) == silver_by_electrolysis_g(ampere_hours=1)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: silver_concentration_g_per_l(silver_g=Range(1, 2, 3), bath_ml=0),
        lambda: silver_into_fixer_g(load=Load(), dissolved=Range(0.5, 0.9, 1.1)),
        lambda: recovered_share(yields=(0.9, 1.1)),
        lambda: silver_by_electrolysis_g(ampere_hours=-1),
        lambda: silver_by_iron_g(iron_g=-1),
    ],
)
def test_amounts_that_cannot_be_are_refused(ask):
    with pytest.raises(OutOfRange):
        ask()


loads = st.builds(Load, *[st.integers(0, 10**8)] * 3, st.integers(0, 100))


@given(loads, loads)
def test_more_work_never_leaves_less_silver_and_the_range_stays_in_order(one, other):
    few, many = silver_into_fixer_g(load=one), silver_into_fixer_g(load=one + other)
    assert few.low <= many.low
    assert few.high <= many.high
    assert many.low <= many.typical <= many.high


@pytest.mark.parametrize("bad", [(-1, 0, 1), (1, 0, 2), (0, 2, 1), (float("nan"), 1, 2)])
def test_a_range_is_in_order(bad):
    with pytest.raises(OutOfRange):
        Range(*bad)


def test_a_range_is_scaled_and_divided_by_sense_only():
    with pytest.raises(OutOfRange):
        Range(1, 2, 3).times(-1)
    with pytest.raises(OutOfRange):
        Range(1, 2, 3).divided_by(0)
    assert Range(1, 2, 3).times(2).divided_by(4) == Range(0.5, 1, 1.5)
