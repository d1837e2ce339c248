import math
from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.measuring import (
    LIMITS,
    CannotMeasure,
    Cylinder,
    CylinderClass,
    NotInStandard,
    Standard,
    choose_cylinder,
    strength_error,
)

ISO_MEMORY = "ISO 4788, from memory"
ASTM = "ASTM E1272-02(2012), Table 1"
ASTM_MEMORY = "ASTM E1272, from memory"


def standard_cylinder(nominal, accuracy_class=CylinderClass.B, standard=Standard.ISO_4788):
    """Divided as its standard divides it, the coarser where the standard allows two."""
    return Cylinder(nominal, max(LIMITS[standard][nominal].divisions_ml), accuracy_class, standard)


def class_b(*nominals):
    return [standard_cylinder(nominal) for nominal in nominals]


TABLE = [
    Row(standard=Standard.ISO_4788, nominal=10, division=0.2, a=0.1, b=0.2, source=ISO_MEMORY),
    Row(standard=Standard.ISO_4788, nominal=25, division=0.5, a=0.25, b=0.5, source=ISO_MEMORY),
    Row(standard=Standard.ISO_4788, nominal=50, division=1, a=0.5, b=1, source=ISO_MEMORY),
    Row(standard=Standard.ISO_4788, nominal=100, division=1, a=0.5, b=1, source=ISO_MEMORY),
    Row(standard=Standard.ISO_4788, nominal=250, division=2, a=1, b=2, source=ISO_MEMORY),
    Row(standard=Standard.ISO_4788, nominal=500, division=5, a=2.5, b=5, source=ISO_MEMORY),
    Row(standard=Standard.ISO_4788, nominal=1000, division=10, a=5, b=10, source=ISO_MEMORY),
    Row(standard=Standard.ISO_4788, nominal=2000, division=20, a=10, b=20, source=ISO_MEMORY),
    Row(standard=Standard.ASTM_E1272, nominal=10, division=0.2, a=0.10, b=0.20, source=ASTM),
    Row(standard=Standard.ASTM_E1272, nominal=25, division=0.5, a=0.17, b=0.34, source=ASTM),
    Row(standard=Standard.ASTM_E1272, nominal=50, division=1, a=0.25, b=0.50, source=ASTM),
    Row(standard=Standard.ASTM_E1272, nominal=100, division=1, a=0.50, b=1.00, source=ASTM),
    Row(standard=Standard.ASTM_E1272, nominal=250, division=2, a=1.00, b=2.00, source=ASTM),
    Row(standard=Standard.ASTM_E1272, nominal=500, division=5, a=2.00, b=4.00, source=ASTM),
    Row(standard=Standard.ASTM_E1272, nominal=1000, division=10, a=3.0, b=6.0, source=ASTM_MEMORY),
    Row(standard=Standard.ASTM_E1272, nominal=2000, division=20, a=6.0, b=12.0, source=ASTM_MEMORY),
]


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row.standard} {row.nominal}")
def test_a_cylinder_keeps_the_limits_of_its_standard(row):
    for accuracy_class, limit in ((CylinderClass.A, row.a), (CylinderClass.B, row.b)):
        cylinder = standard_cylinder(row.nominal, accuracy_class, row.standard)
        assert (cylinder.division_ml, cylinder.limit_ml) == (row.division, limit)


@pytest.mark.parametrize("standard", list(Standard))
def test_class_b_limits_are_as_a_rule_twice_class_a(standard):
    """Common practice, no source; it holds on every row of both tables."""
    assert all(row.class_b_ml == pytest.approx(2 * row.class_a_ml) for row in LIMITS[standard].values())


def test_a_standard_allows_two_divisions_of_small_cylinders():
    """ASTM E1272-02(2012), Table 1: 10 mL in 0.1 or 0.2, 25 mL in 0.2 or 0.5; the rest in one."""
    divisions = {nominal: row.divisions_ml for nominal, row in LIMITS[Standard.ASTM_E1272].items()}
    assert (divisions[10], divisions[25]) == ((0.1, 0.2), (0.2, 0.5))
    assert all(len(allowed) == 1 for nominal, allowed in divisions.items() if nominal > 25)


def test_a_cylinder_outside_its_standard_is_refused():
    with pytest.raises(NotInStandard, match="gives no limits for a 600 mL cylinder"):
        Cylinder(600, 10, CylinderClass.B)


def test_an_unmarked_graduate_is_trusted_to_two_divisions():
    """Common practice, no source."""
    assert Cylinder(600, 10, CylinderClass.UNMARKED).limit_ml == 20


@pytest.mark.parametrize(("nominal", "division"), [(0, 1), (100, 0), (100, 101), (math.nan, 1), (20_000, 10)])
def test_a_cylinder_that_cannot_be_is_refused(nominal, division):
    with pytest.raises(OutOfRange):
        Cylinder(nominal, division, CylinderClass.UNMARKED)


SHARES = [
    Row(ml=12, nominal=25, percent=4.17, source="calculated from 0.5 / 12"),
    Row(ml=12, nominal=50, percent=8.33, source="calculated from 1 / 12"),
    Row(ml=12, nominal=100, percent=8.33, source="calculated from 1 / 12"),
    Row(ml=120, nominal=250, percent=1.67, source="calculated from 2 / 120"),
    Row(ml=480, nominal=500, percent=1.04, source="calculated from 5 / 480"),
]


@pytest.mark.parametrize("row", SHARES, ids=lambda row: f"{row.ml} in {row.nominal}")
def test_the_same_limit_weighs_more_on_a_small_volume(row):
    reading = choose_cylinder(volume_ml=row.ml, owned=class_b(row.nominal))
    assert 100 * reading.worst_share == pytest.approx(row.percent, abs=0.005)


CHOICES = [
    Row(ml=12, nominal=25, source="common practice, no source: the smallest that holds it"),
    Row(ml=120, nominal=250, source="common practice, no source: the smallest that holds it"),
    Row(ml=250, nominal=250, source="common practice, no source: a cylinder holds its nominal volume"),
    Row(ml=480, nominal=500, source="common practice, no source: the smallest that holds it"),
]


@pytest.mark.parametrize("row", CHOICES, ids=lambda row: f"{row.ml} mL")
def test_the_smallest_cylinder_that_holds_the_volume_is_chosen(row):
    reading = choose_cylinder(volume_ml=row.ml, owned=class_b(1000, 25, 500, 50, 100, 250))
    assert [fill.cylinder.nominal_ml for fill in reading.fills] == [row.nominal]


def test_a_true_cylinder_is_preferred_to_a_coarser_jug():
    jug = Cylinder(300, 25, CylinderClass.UNMARKED)
    reading = choose_cylinder(volume_ml=200, owned=[jug, *class_b(500)])
    assert reading.fills[0].cylinder.nominal_ml == 500


def test_five_fills_of_a_small_cylinder_add_their_errors():
    """Calculated: worst 5 * 1 mL = 1.0 %, scatter sqrt(5) * 1 mL = 0.45 %."""
    reading = choose_cylinder(volume_ml=500, owned=class_b(100))
    assert [(fill.times, fill.reading_ml) for fill in reading.fills] == [(5, 100)]
    assert reading.worst_error_ml == pytest.approx(5.0)
    assert 100 * reading.likely_share == pytest.approx(0.447, abs=0.001)


def test_a_class_a_half_litre_is_good_to_two_millilitres():
    """ASTM E1272-02(2012), Table 1: 2.00 mL; calculated 0.40 %."""
    cylinder = standard_cylinder(500, CylinderClass.A, Standard.ASTM_E1272)
    assert choose_cylinder(volume_ml=500, owned=[cylinder]).worst_share == pytest.approx(0.0040)


def test_a_large_volume_is_full_fills_and_a_rest():
    reading = choose_cylinder(volume_ml=2143, owned=class_b(1000, 250))
    assert [(f.cylinder.nominal_ml, f.times, f.reading_ml) for f in reading.fills] == [(1000, 2, 1000), (250, 1, 144)]
    assert reading.reading_ml == 2144
    assert reading.rounding_ml == 1
    assert reading.worst_error_ml == 2 * 10 + 2 + 1


def test_a_rest_too_small_to_read_is_part_of_the_error():
    reading = choose_cylinder(volume_ml=1002, owned=class_b(1000))
    assert [(f.times, f.reading_ml) for f in reading.fills] == [(1, 1000)]
    assert reading.worst_error_ml == 12


def test_a_hand_reads_the_nearest_graduation():
    reading = choose_cylinder(volume_ml=2500 / 7, owned=class_b(500))
    assert reading.reading_ml == 355
    assert reading.worst_error_ml == pytest.approx(5 + 2.143, abs=0.001)


def test_nothing_can_be_measured_without_a_cylinder_or_below_its_lowest_mark():
    """The lowest mark at a tenth of the capacity: ISO 4788, from memory."""
    with pytest.raises(CannotMeasure, match="no measuring cylinder is entered"):
        choose_cylinder(volume_ml=10, owned=[])
    with pytest.raises(CannotMeasure, match=r"4\.9 mL is under the lowest mark of the cylinders here, 5 mL"):
        choose_cylinder(volume_ml=4.9, owned=class_b(50))
    assert choose_cylinder(volume_ml=5, owned=class_b(50)).reading_ml == 5


def test_a_cylinder_whose_scale_begins_higher_is_passed_over():
    """Calculated: 30 mL lie under a lowest mark of 40 mL, so the next larger would have to take them."""
    begins_high = Cylinder(100, 1, CylinderClass.B, least_ml=40)
    assert choose_cylinder(volume_ml=30, owned=[begins_high, *class_b(250)]).fills[0].cylinder.nominal_ml == 250
    with pytest.raises(CannotMeasure):
        choose_cylinder(volume_ml=30, owned=[begins_high])


def test_a_rest_under_every_lowest_mark_goes_with_the_last_fill_into_two():
    """Calculated: 1020 mL by a 1000 mL cylinder that begins at 100 mL are two fills of 510 mL."""
    reading = choose_cylinder(volume_ml=1020, owned=class_b(1000))
    assert [(fill.times, fill.reading_ml) for fill in reading.fills] == [(2, 510)]
    reading = choose_cylinder(volume_ml=3040, owned=class_b(1000))
    assert [(fill.times, fill.reading_ml) for fill in reading.fills] == [(2, 1000), (2, 520)]


@pytest.mark.parametrize("volume", [0, -1, math.nan, math.inf, 2_000_000])
def test_a_volume_that_cannot_be_measured_out_is_refused(volume):
    with pytest.raises(OutOfRange):
        choose_cylinder(volume_ml=volume, owned=class_b(50))


STRENGTHS = [
    Row(concentrate_limit=0.5, worst=3.40, likely=2.60, source="calculated: 0.96 * (0.5/20 + 5/480)"),
    Row(concentrate_limit=1.0, worst=5.80, likely=4.90, source="calculated: 0.96 * (1/20 + 5/480)"),
]


@pytest.mark.parametrize("row", STRENGTHS, ids=lambda row: str(row.concentrate_limit))
def test_the_strength_of_a_mix_is_as_right_as_its_two_measurements(row):
    error = strength_error(
        concentrate_ml=20, concentrate_error_ml=row.concentrate_limit, water_ml=480, water_error_ml=5
    )
    assert 100 * error.worst == pytest.approx(row.worst, abs=0.005)
    assert 100 * error.likely == pytest.approx(row.likely, abs=0.005)


def test_errors_in_strength_are_asked_for_sensible_volumes():
    with pytest.raises(OutOfRange):
        strength_error(concentrate_ml=0, concentrate_error_ml=1, water_ml=480, water_error_ml=5)
    with pytest.raises(OutOfRange):
        strength_error(concentrate_ml=20, concentrate_error_ml=-1, water_ml=480, water_error_ml=5)


shelves = st.lists(st.sampled_from(class_b(10, 25, 50, 100, 250, 500, 1000, 2000)), min_size=1, max_size=5)


@given(st.floats(1, 20_000), shelves)
def test_what_is_read_is_never_further_from_the_wish_than_the_errors_say(volume, owned):
    try:
        reading = choose_cylinder(volume_ml=volume, owned=owned)
    except CannotMeasure:
        assert volume < min(cylinder.lowest_ml for cylinder in owned) or len({c.nominal_ml for c in owned}) > 1
        return
    assert abs(reading.reading_ml - volume) <= reading.likely_error_ml <= reading.worst_error_ml
    for fill in reading.fills:
        assert fill.cylinder.lowest_ml <= fill.reading_ml <= fill.cylinder.nominal_ml
        divisions = fill.reading_ml / fill.cylinder.division_ml
        assert divisions == pytest.approx(round(divisions))


@given(st.floats(0.1, 1000), st.floats(0, 10), st.floats(0.1, 5000), st.floats(0, 10))
def test_the_likely_error_is_never_above_the_worst(concentrate, concentrate_error, water, water_error):
    error = strength_error(
        concentrate_ml=concentrate, concentrate_error_ml=concentrate_error, water_ml=water, water_error_ml=water_error
    )
    assert 0 <= error.likely <= error.worst + 1e-12


@given(st.floats(1, 1000), st.floats(1, 5000), st.floats(0, 0.001), st.floats(0, 0.001))
def test_the_first_order_error_agrees_with_the_strength_itself(concentrate, water, up, down):
    """A small error put into the measurements by hand moves the strength as the formula says."""
    strength = concentrate / (concentrate + water)
    moved = concentrate * (1 + up) / (concentrate * (1 + up) + water * (1 - down))
    error = strength_error(
        concentrate_ml=concentrate, concentrate_error_ml=concentrate * up, water_ml=water, water_error_ml=water * down
    )
    assert moved / strength - 1 == pytest.approx(error.worst, rel=0.01, abs=1e-12)
