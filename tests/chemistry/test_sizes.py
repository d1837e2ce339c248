from fractions import Fraction
from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.sizes import (
    SIZES,
    UNIT_EXACT_MM2,
    UNIT_MM2,
    Load,
    Material,
    UnknownSize,
    WrongMaterial,
    area_of_units_mm2,
    check_material,
    load_of,
    size_of,
)

NOMINAL = "calculated from the nominal dimensions, 25.4 mm to the inch"
ISO216 = "calculated from the dimensions of ISO 216 (from memory)"

SHEETS = [
    Row(key="4x5 in", cm2=129.03, units=0.25, source=NOMINAL),
    Row(key="5x7 in", cm2=225.81, units=0.4375, source=NOMINAL),
    Row(key="8x10 in", cm2=516.13, units=1.0, source=NOMINAL),
    Row(key="9.5x12 in", cm2=735.48, units=1.425, source=NOMINAL),
    Row(key="10x12 in", cm2=774.19, units=1.5, source=NOMINAL),
    Row(key="11x14 in", cm2=993.55, units=1.925, source=NOMINAL),
    Row(key="12x16 in", cm2=1238.71, units=2.4, source=NOMINAL),
    Row(key="16x20 in", cm2=2064.51, units=4.0, source=NOMINAL),
    Row(key="20x24 in", cm2=3096.77, units=6.0, source=NOMINAL),
    Row(key="9x13 cm", cm2=117, units=0.227, source=NOMINAL),
    Row(key="10x15 cm", cm2=150, units=0.291, source=NOMINAL),
    Row(key="13x18 cm", cm2=234, units=0.453, source=NOMINAL),
    Row(key="18x24 cm", cm2=432, units=0.837, source=NOMINAL),
    Row(key="24x30 cm", cm2=720, units=1.395, source=NOMINAL),
    Row(key="30x40 cm", cm2=1200, units=2.325, source=NOMINAL),
    Row(key="40x50 cm", cm2=2000, units=3.875, source=NOMINAL),
    Row(key="50x60 cm", cm2=3000, units=5.813, source=NOMINAL),
    Row(key="A5", cm2=310.8, units=0.602, source=ISO216),
    Row(key="A4", cm2=623.7, units=1.208, source=ISO216),
    Row(key="A3", cm2=1247.4, units=2.417, source=ISO216),
]


@pytest.mark.parametrize("row", SHEETS, ids=lambda row: row.key)
def test_a_sheet_has_the_area_of_its_nominal_size(row):
    size = size_of(key=row.key)
    assert size.surface_mm2 == size.area_mm2 == pytest.approx(row.cm2 * 100, abs=0.6)
    assert float(size.units) == pytest.approx(row.units, abs=0.0006)


REFERENCE_PAGE = "common practice, no source: counts by the roll and the 8x10 in sheet"
ENCYCLOPAEDIA = "encyclopaedia article on 120 film: about 61 mm by 0.81 to 0.84 m, a 220 about double"
ROLLS = [
    Row(key="135-36", units=1, low_cm2=560, high_cm2=571, source=REFERENCE_PAGE + "; length of the strip from memory"),
    Row(key="120", units=1, low_cm2=494, high_cm2=512, source=REFERENCE_PAGE + "; " + ENCYCLOPAEDIA),
    Row(key="220", units=2, low_cm2=988, high_cm2=1025, source=REFERENCE_PAGE + "; " + ENCYCLOPAEDIA),
]


@pytest.mark.parametrize("row", ROLLS, ids=lambda row: row.key)
def test_a_roll_counts_as_the_trade_counts_it_and_measures_what_it_measures(row):
    size = size_of(key=row.key)
    assert size.units == row.units
    assert row.low_cm2 <= size.surface_mm2 / 100 <= row.high_cm2


def test_a_short_roll_counts_for_four_fifths():
    """From memory: 1.18 m of 35 mm film; the trade counts 0.7 to 0.8."""
    assert float(size_of(key="135-24").units) == pytest.approx(0.80, abs=0.005)


def test_the_table_of_sheets_and_rolls_checked_here_is_complete():
    assert {row.key for row in [*SHEETS, *ROLLS]} | {"135-24"} == set(SIZES)


def test_the_unit_is_eighty_square_inches():
    """Calculated from the inch: 0.0516128 m² exactly."""
    assert 80 * Fraction(254, 10) ** 2 == UNIT_EXACT_MM2
    assert round(UNIT_EXACT_MM2) == UNIT_MM2 == area_of_units_mm2(units=1)


COUNTS = [
    Row(pieces={"135-36": 3, "120": 2, "4x5 in": 8}, units=7.0, source="calculated from 3 + 2 + 8/4"),
    Row(pieces={"8x10 in": 12, "11x14 in": 6, "5x7 in": 20}, units=32.3, source="calculated from the areas, 1.667 m²"),
]  # fmt: skip


@pytest.mark.parametrize("row", COUNTS, ids=lambda row: str(row.units))
def test_a_mixed_pile_adds_up_in_units(row):
    total = sum(size_of(key=key).area_mm2 * count for key, count in row.pieces.items())
    assert total / UNIT_MM2 == pytest.approx(row.units, abs=0.001)


def test_a_tally_sheet_comes_to_twenty_units():
    """Common practice, no source: one 135-36, two 120, twelve 4x5, four 8x10, five 11x14 counted two each."""
    sizes = {"135-36": 1, "120": 2, "4x5 in": 12, "8x10 in": 4}
    by_size = sum(float(size_of(key=key).units) * count for key, count in sizes.items())
    assert by_size + 5 * round(float(size_of(key="11x14 in").units)) == pytest.approx(20, abs=0.001)


FITTING = [
    Row(key="120", film=True, paper=False, source="common practice, no source"),
    Row(key="135-36", film=True, paper=False, source="common practice, no source"),
    Row(key="4x5 in", film=True, paper=False, source="common practice, no source"),
    Row(key="8x10 in", film=True, paper=True, source="common practice, no source"),
    Row(key="18x24 cm", film=False, paper=True, source="common practice, no source"),
    Row(key="A4", film=False, paper=True, source="common practice, no source"),
]


@pytest.mark.parametrize("row", FITTING, ids=lambda row: row.key)
def test_a_size_knows_what_it_is_made_in(row):
    size = size_of(key=row.key)
    for material in Material:
        allowed = row.film if material is Material.FILM else row.paper
        assert size.is_made_in(material) is allowed
        if allowed:
            check_material(size=size, material=material)
        else:
            with pytest.raises(WrongMaterial) as refusal:
                check_material(size=size, material=material)
            assert (refusal.value.key, refusal.value.material) == (row.key, material)


def test_a_roll_on_paper_is_refused_in_words():
    with pytest.raises(WrongMaterial, match="120 is not a size of fibre paper"):
        load_of(size=size_of(key="120"), material=Material.FIBRE, count=1)


def test_a_size_nobody_knows_is_refused():
    with pytest.raises(UnknownSize, match='"7x5 in" is not a size known here'):
        size_of(key="7x5 in")


@pytest.mark.parametrize("material", list(Material))
def test_a_load_stands_under_its_material(material):
    load = load_of(size=size_of(key="8x10 in"), material=material, count=3)
    assert {m: load.area_mm2(m) for m in Material} == {m: 3 * UNIT_MM2 if m is material else 0 for m in Material}
    assert load.pieces == 3
    assert load.paper_mm2 == (0 if material is Material.FILM else 3 * UNIT_MM2)


def test_a_load_cannot_be_less_than_nothing():
    with pytest.raises(OutOfRange):
        Load(film_mm2=-1)
    with pytest.raises(OutOfRange):
        load_of(size=size_of(key="120"), material=Material.FILM, count=-1)


def test_units_cannot_be_less_than_none():
    with pytest.raises(OutOfRange):
        area_of_units_mm2(units=-1)


loads = st.builds(Load, *[st.integers(0, 10**7)] * 3, st.integers(0, 1000))


@given(loads, loads)
def test_loads_add_up_by_material(one, other):
    both = one + other
    assert all(both.area_mm2(m) == one.area_mm2(m) + other.area_mm2(m) for m in Material)
    assert both.pieces == one.pieces + other.pieces
    assert both.is_nothing is (one.is_nothing and other.is_nothing)


def test_a_sheet_has_sides_that_make_its_area_and_a_roll_has_none():
    """Area from sides: geometry. Roll film is wound on a reel."""
    for size in SIZES.values():
        assert (size.sides_mm is None) is (size.key in ("135-36", "135-24", "120", "220"))
        if size.sides_mm is not None:
            assert size.sides_mm[0] * size.sides_mm[1] == pytest.approx(size.surface_mm2, abs=0.51)
