from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.carry_over import carried_out_ml
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.sizes import Load, size_of

ONE_M2 = 1_000_000
TORZ = "M. Torzynski, note on film-washing arithmetic, Strasbourg 2004"

CARRIED = [
    Row(load=Load(film_mm2=56_000), tanks=0, low=2, typical=4, high=21.7, source=TORZ + ": about 4 mL on a 135-36"),
    Row(load=Load(film_mm2=56_000), tanks=1, low=8, typical=10, high=27.7, source=TORZ + ": with the tank about 10 mL"),
    Row(load=Load(film_mm2=51_613), tanks=0, low=1.84, typical=3.69, high=20.0,
        source="common practice, no source: about 20 mL per 80 in2 in rack-and-tank work"),
    Row(load=Load(rc_mm2=ONE_M2), tanks=0, low=30, typical=45, high=60, source="common practice, no source"),
    Row(load=Load(fibre_mm2=ONE_M2), tanks=0, low=200, typical=300, high=400, source="common practice, no source"),
    Row(load=Load(), tanks=0, low=0, typical=0, high=0, source="calculated: nothing carries nothing"),
]  # fmt: skip


@pytest.mark.parametrize("row", CARRIED, ids=lambda row: row.source)
def test_film_and_paper_carry_solution_out(row):
    carried = carried_out_ml(load=row.load, tanks_drained=row.tanks)
    assert (carried.low, carried.typical, carried.high) == pytest.approx((row.low, row.typical, row.high), abs=0.06)


def test_a_tank_cannot_be_drained_less_than_never():
    with pytest.raises(OutOfRange):
        carried_out_ml(load=Load(), tanks_drained=-1)


loads = st.builds(Load, *[st.integers(0, 10**7)] * 3, st.integers(0, 100))


@given(loads, loads)
def test_loads_carry_together_what_they_carry_apart(one, other):
    together = carried_out_ml(load=one + other)
    apart = carried_out_ml(load=one) + carried_out_ml(load=other)
    assert (together.low, together.typical, together.high) == pytest.approx((apart.low, apart.typical, apart.high))


def test_a_strip_of_film_carries_about_four_millilitres_whatever_it_counts_for():
    strip = Load(film_mm2=size_of(key="135-36").surface_mm2)
    assert carried_out_ml(load=strip).typical == pytest.approx(4, abs=0.05)
