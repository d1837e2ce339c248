from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.dilution import Dilution
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.least_concentrate import Forced, TankTooSmall, fill_for_films, weakest_dilution

FILLS = [
    Row(
        n=50,
        films=2,
        least=6,
        fill=500,
        largest=1000,
        volume=612,
        fed=2,
        forced=Forced.LARGER_VOLUME,
        source="calculated from 2 * 6 * 51",
    ),
    Row(
        n=25,
        films=2,
        least=6,
        fill=500,
        largest=1000,
        volume=500,
        fed=2,
        forced=Forced.NOTHING,
        source="calculated: 500/26 = 19.2 mL, more than the 12 needed",
    ),
    Row(
        n=50,
        films=2,
        least=6,
        fill=500,
        largest=500,
        volume=500,
        fed=1,
        forced=Forced.FEWER_FILMS,
        source="calculated: 500 // (6 * 51) = 1",
    ),
    Row(
        n=6,
        films=5,
        least=6,
        fill=2500,
        largest=2500,
        volume=2500,
        fed=5,
        forced=Forced.NOTHING,
        source="common practice, no source: 2.5 L for five 120 rolls, 500 mL a roll",
    ),
    Row(
        n=50,
        films=3,
        least=0,
        fill=500,
        largest=500,
        volume=500,
        fed=3,
        forced=Forced.NOTHING,
        source="calculated: nothing is needed",
    ),
]


@pytest.mark.parametrize("row", FILLS, ids=lambda row: row.source)
def test_a_fill_holds_the_least_concentrate_for_every_film(row):
    fill = fill_for_films(
        dilution=Dilution(row.n),
        films=row.films,
        least_concentrate_ml=row.least,
        fill_ml=row.fill,
        largest_ml=row.largest,
    )
    assert (fill.parts.working_ml, fill.films, fill.forced) == (row.volume, row.fed, row.forced)


def test_a_forced_fill_says_what_to_do():
    fewer = fill_for_films(dilution=Dilution(50), films=2, least_concentrate_ml=6, fill_ml=500, largest_ml=500)
    assert fewer.reason.startswith("Develop 1 of 2 films at once: the largest fill, 500 mL,")
    larger = fill_for_films(dilution=Dilution(50), films=2, least_concentrate_ml=6, fill_ml=500, largest_ml=1000)
    assert larger.reason.startswith("Mix 612 mL: a smaller fill")
    enough = fill_for_films(dilution=Dilution(25), films=2, least_concentrate_ml=6, fill_ml=500, largest_ml=500)
    assert enough.reason == "500 mL holds enough concentrate for the film."


def test_a_tank_too_small_for_one_film_says_how_much_it_lacks():
    with pytest.raises(TankTooSmall, match="one film needs 612 mL at this dilution and the tank holds 500 mL"):
        fill_for_films(dilution=Dilution(50), films=1, least_concentrate_ml=12, fill_ml=500, largest_ml=500)


def test_a_tank_that_holds_less_than_its_fill_is_refused():
    with pytest.raises(OutOfRange):
        fill_for_films(dilution=Dilution(50), films=1, least_concentrate_ml=1, fill_ml=500, largest_ml=400)


def test_the_weakest_dilution_for_two_films_in_half_a_litre():
    """Calculated from 500 / 12 - 1."""
    weakest = weakest_dilution(films=2, least_concentrate_ml=6, working_ml=500)
    assert float(weakest.water_parts) == pytest.approx(40.67, abs=0.005)


def test_a_volume_smaller_than_the_concentrate_needed_is_refused():
    with pytest.raises(OutOfRange):
        weakest_dilution(films=2, least_concentrate_ml=6, working_ml=11)


@given(st.integers(1, 8), st.integers(1, 20), st.integers(160, 1000))
def test_the_weakest_dilution_never_forces_a_larger_volume(films, least, volume):
    weakest = weakest_dilution(films=films, least_concentrate_ml=least, working_ml=volume)
    fill = fill_for_films(dilution=weakest, films=films, least_concentrate_ml=least, fill_ml=volume, largest_ml=volume)
    assert (fill.films, fill.forced) == (films, Forced.NOTHING)


@given(st.integers(0, 100), st.integers(1, 8), st.integers(1, 20), st.integers(200, 1000))
def test_every_film_let_in_gets_its_concentrate(n, films, least, volume):
    try:
        fill = fill_for_films(
            dilution=Dilution(n), films=films, least_concentrate_ml=least, fill_ml=volume, largest_ml=2 * volume
        )
    except TankTooSmall:
        return
    assert fill.parts.concentrate_ml >= fill.films * least
    assert volume <= fill.parts.working_ml <= 2 * volume
