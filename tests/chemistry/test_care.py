from types import SimpleNamespace as Row

import pytest

from labsys.chemistry.care import NEED_OF, Need, SolutionKind, is_good_enough, least_batch, measure_mix
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


BATCHES = [  # dilution, cylinders, batch in mL, whether every larger one can be measured too
    Row(parts=4, owned=class_b(10), ml=30, larger=True,
        source="calculated: at 30 mL 0.8 × (0.2/6 + 0.6/24) = 4.7 %, the water in 3 fills; at 20 mL 6 %"),
    Row(parts=4, owned=class_b(1000), ml=1_000, larger=True,
        source="calculated: at 1 L 0.8 × (10/200 + 10/800) = 5 %; at 950 mL 190 mL give 5.3 %"),
    Row(parts=49, owned=class_b(1000), ml=13_000, larger=True,
        source="calculated: at 13 L 0.98 × (10/260 + 130/12740) = 4.8 %; at 12 L 5.1 %"),
    Row(parts=9, owned=class_b(100, 2000), ml=220, larger=False,
        source="calculated: at 220 mL 0.9 × (1/22 + 2/198) = 5 %; at 210 mL 5.2 %, and at 500 mL the 2 L one alone "
        "takes the water: 0.9 × (1/50 + 30/450) = 7.8 %"),
]  # fmt: skip


@pytest.mark.parametrize("row", BATCHES, ids=lambda row: f"1+{row.parts}")
def test_the_batch_offered_counts_the_error_of_the_water_too(row):
    batch = least_batch(dilution=Dilution(row.parts), owned=row.owned, need=Need.EXACT)
    assert (batch.ml, batch.larger_too) == (row.ml, row.larger)


def test_no_batch_is_offered_where_no_cylinder_serves_and_none_is_owned():
    """Calculated: two divisions of 100 mL are 5 % of 4 L, and an unmarked litre jug never measures so much at once."""
    jug = Cylinder(1000, 100, CylinderClass.UNMARKED)
    assert least_batch(dilution=Dilution(4), owned=[jug], need=Need.EXACT) is None
    with pytest.raises(CannotMeasure):
        least_batch(dilution=Dilution(4), owned=[], need=Need.EXACT)
