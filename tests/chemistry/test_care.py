from types import SimpleNamespace as Row

import pytest

from labsys.chemistry.care import (
    NEED_OF,
    Need,
    SolutionKind,
    is_good_enough,
    least_batch_ml,
    least_measurable_ml,
    measure_mix,
)
from labsys.chemistry.dilution import Dilution
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.measuring import LIMITS, CannotMeasure, Cylinder, CylinderClass, Standard


def class_b(*nominals):
    rows = LIMITS[Standard.ISO_4788]
    return [Cylinder(nominal, rows[nominal].divisions_ml[0], CylinderClass.B) for nominal in nominals]


NEEDS = [
    Row(kind=SolutionKind.DEVELOPER, need=Need.EXACT, source="common practice, no source: developer exactly"),
    Row(kind=SolutionKind.FIXER, need=Need.REASONABLE, source="common practice, no source: fixer reasonably"),
    Row(kind=SolutionKind.STOP, need=Need.ROUGH, source="common practice, no source: stop roughly"),
    Row(kind=SolutionKind.WETTING_AGENT, need=Need.ROUGH, source="common practice, no source: rinse roughly"),
]


@pytest.mark.parametrize("row", NEEDS, ids=lambda row: row.kind)
def test_each_kind_of_solution_has_its_need(row):
    assert NEED_OF[row.kind] is row.need


def test_no_kind_of_solution_is_without_a_need():
    assert set(NEED_OF) == set(SolutionKind)


VERDICTS = [
    Row(need=Need.EXACT, share=0.05, good=True, source="common practice, no source: 5 %"),
    Row(need=Need.EXACT, share=0.0501, good=False, source="common practice, no source: 5 %"),
    Row(need=Need.REASONABLE, share=0.10, good=True, source="common practice, no source: 10 %"),
    Row(need=Need.REASONABLE, share=0.101, good=False, source="common practice, no source: 10 %"),
    Row(need=Need.ROUGH, share=0.20, good=True, source="common practice, no source: 20 %"),
    Row(need=Need.ROUGH, share=0.201, good=False, source="common practice, no source: 20 %"),
]


@pytest.mark.parametrize("row", VERDICTS, ids=lambda row: f"{row.need} {row.share}")
def test_an_error_is_good_enough_up_to_its_share(row):
    assert is_good_enough(error_share=row.share, need=row.need) is row.good


def test_an_error_is_never_negative():
    with pytest.raises(OutOfRange):
        is_good_enough(error_share=-0.01, need=Need.ROUGH)


def test_a_mix_says_what_to_pour_and_how_right_it_will_be():
    """Calculated: 20 and 480 mL fall on graduations, so 0.96 * (0.5/20 + 5/480) = 3.40 %, likely 2.60 %."""
    mix = measure_mix(dilution=Dilution(24), working_ml=500, owned=class_b(25, 500), need=Need.EXACT)
    assert (mix.concentrate.reading_ml, mix.water.reading_ml) == (20, 480)
    assert 100 * mix.error.worst == pytest.approx(3.40, abs=0.005)
    assert 100 * mix.error.likely == pytest.approx(2.60, abs=0.005)
    assert mix.is_good_enough


def test_the_same_mix_with_a_coarse_cylinder_is_not_exact_enough_for_a_developer():
    """Calculated: 0.96 * (1/20 + 5/480) = 5.80 %."""
    mix = measure_mix(dilution=Dilution(24), working_ml=500, owned=class_b(100, 500), need=Need.EXACT)
    assert not mix.is_good_enough
    assert measure_mix(dilution=Dilution(24), working_ml=500, owned=class_b(100, 500), need=Need.ROUGH).is_good_enough


def test_stock_takes_no_water_and_has_no_error_in_strength():
    mix = measure_mix(dilution=Dilution(0), working_ml=500, owned=class_b(500), need=Need.EXACT)
    assert mix.water is None
    assert mix.error.worst == 0


def test_the_smallest_volume_a_cylinder_measures_exactly():
    """Calculated from 0.5 / 5 %."""
    assert least_measurable_ml(cylinder=class_b(25)[0], need=Need.EXACT) == pytest.approx(10)


def test_a_larger_batch_is_offered_where_the_concentrate_is_too_little():
    """Calculated: 10 mL of concentrate is the least a 25 mL class B cylinder measures to 5 %; 1+50 makes 510 mL."""
    assert least_batch_ml(dilution=Dilution(50), owned=class_b(25, 500), need=Need.EXACT) == pytest.approx(510)


def test_no_batch_is_offered_where_no_cylinder_serves_and_none_is_owned():
    assert least_batch_ml(dilution=Dilution(4), owned=class_b(10), need=Need.EXACT) == pytest.approx(20)
    with pytest.raises(CannotMeasure):
        least_batch_ml(dilution=Dilution(4), owned=[], need=Need.EXACT)
