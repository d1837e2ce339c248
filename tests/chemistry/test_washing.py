from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.sizes import Material
from labsys.chemistry.wash_plans import FillPlan, RunningPlan, WashLoad, compare_washes, wash_result
from labsys.chemistry.washing import (
    Keeping,
    NoPublishedLimit,
    after_fills_g_per_l,
    fills_to,
    in_running_water_g_per_m2,
    least_changes,
    limit_g_per_m2,
    residue_g_per_m2,
    running_minutes_to,
)

TORZ = "M. Torzynski, note on film-washing arithmetic, Strasbourg 2004"
FILLS = [
    Row(left=10, fills=1, expected=1.18, tolerance=0.005, source=TORZ + ", with what is left added to the fill"),
    Row(left=2, fills=1, expected=0.24, tolerance=0.002, source=TORZ + ": rinsed first, 2 mL left"),
    Row(left=10, fills=2, expected=0.0231, tolerance=0.0001, source="calculated from 60 * (10/510)^2"),
    Row(left=10, fills=3, expected=0.00045, tolerance=0.00001, source="calculated from 60 * (10/510)^3"),
    Row(left=10, fills=0, expected=60, tolerance=0, source="calculated: not washed"),
]


@pytest.mark.parametrize("row", FILLS, ids=lambda row: f"{row.fills} fills, {row.left} mL left")
def test_each_fill_dilutes_what_is_left(row):
    got = after_fills_g_per_l(start_g_per_l=60, left_ml=row.left, fill_ml=500, fills=row.fills)
    assert got == pytest.approx(row.expected, abs=row.tolerance, rel=0)


LIMIT = "calculated; limit 0.014 g/m2 of 36 CFR 1238.14 (c)"
RESIDUES = [
    Row(fills=1, expected=0.042, passes=False, source=LIMIT),
    Row(fills=2, expected=0.00082, passes=True, source=LIMIT),
]


@pytest.mark.parametrize("row", RESIDUES, ids=lambda row: f"{row.fills} fills")
def test_one_fill_is_too_few_and_two_are_enough_on_paper(row):
    water = after_fills_g_per_l(start_g_per_l=60, left_ml=10, fill_ml=500, fills=row.fills)
    residue = residue_g_per_m2(water_g_per_l=water, absorbed_ml=2, area_mm2=56_000)
    assert residue == pytest.approx(row.expected, rel=0.01)
    assert (residue <= limit_g_per_m2(material=Material.FILM)) is row.passes


LIMITS = [
    Row(keeping=Keeping.PERMANENT_FILM, limit=0.014, source="36 CFR 1238.14 (c), film of ISO 18901 class LE-500"),
    Row(
        keeping=Keeping.PERMANENT_RADIOGRAPH,
        limit=0.020,
        source="D. Nishimura, Conservation DistList, 21 Sept 1997, on ANSI IT9.1-1996",
    ),
]


@pytest.mark.parametrize("row", LIMITS, ids=lambda row: row.keeping)
def test_the_limits_for_keeping_are_those_published(row):
    assert limit_g_per_m2(material=Material.FILM, keeping=row.keeping) == row.limit


MILLIGRAMS = [
    Row(area_mm2=56_000, milligrams=0.78, source="calculated from 0.014 g/m2 on a 135-36"),
    Row(area_mm2=51_613, milligrams=0.72, source="calculated from 0.014 g/m2 on an 8x10 in"),
]


@pytest.mark.parametrize("row", MILLIGRAMS, ids=lambda row: str(row.area_mm2))
def test_the_limit_is_under_a_milligram_a_film(row):
    got = limit_g_per_m2(material=Material.FILM) * row.area_mm2 / 1000
    assert got == pytest.approx(row.milligrams, abs=0.005)


@pytest.mark.parametrize("paper", [Material.RC, Material.FIBRE])
def test_no_limit_is_made_up_for_paper(paper):
    """D. Nishimura, Conservation DistList, 21 Sept 1997: none is set in the film standard."""
    with pytest.raises(NoPublishedLimit, match="test the print itself"):
        limit_g_per_m2(material=paper)


RUNNING = [
    Row(minutes=2, half=60, share=1 / 4, source="NAVEDTRA 14209, Photography (Basic): a quarter after 2 min"),
    Row(minutes=5, half=60, share=1 / 32, source="calculated from NAVEDTRA 14209: halved each minute"),
    Row(minutes=10, half=60, share=1 / 1024, source="calculated from NAVEDTRA 14209: halved each minute"),
    Row(minutes=1, half=15, share=1 / 16, source="calculated from US Army SS0509: halved each 15 s"),
    Row(minutes=0, half=60, share=1, source="calculated: not washed"),
]


@pytest.mark.parametrize("row", RUNNING, ids=lambda row: f"{row.minutes} min, {row.half} s")
def test_running_water_halves_at_a_steady_rate(row):
    got = in_running_water_g_per_m2(start_g_per_m2=1, minutes=row.minutes, half_time_seconds=row.half)
    assert got == row.share


def test_a_fixed_film_takes_seven_halvings_to_the_limit():
    """Calculated: 60 g/L * 2 mL / 0.056 m² = 2.14 g/m², to 0.014 g/m² in 7.26 halvings."""
    start = residue_g_per_m2(water_g_per_l=60, absorbed_ml=2, area_mm2=56_000)
    assert start == pytest.approx(2.14, abs=0.005)
    assert running_minutes_to(start_g_per_m2=start, limit_g_per_m2=0.014) == pytest.approx(7.26, abs=0.005)


def test_what_is_washed_already_takes_no_time_and_no_fill():
    assert running_minutes_to(start_g_per_m2=0.01, limit_g_per_m2=0.014) == 0
    assert fills_to(start_g_per_l=0.3, end_g_per_l=0.39, left_ml=10, fill_ml=500) == 0


OLD_UNITS = [
    Row(mg_per_in2=0.080, g_per_m2=0.124, source="calculated: film washed 30 min in tap water, mg per sq in"),
    Row(mg_per_in2=0.005, g_per_m2=0.00775, source="calculated: film after 10 min in sea water, mg per sq in"),
]


@pytest.mark.parametrize("row", OLD_UNITS, ids=lambda row: str(row.mg_per_in2))
def test_old_residues_come_to_grams_per_square_metre(row):
    """A water of w g/L soaked up as 1 mL on a square inch leaves w mg on it."""
    got = residue_g_per_m2(water_g_per_l=row.mg_per_in2, absorbed_ml=1000, area_mm2=645_160)
    assert got == pytest.approx(row.g_per_m2, rel=0.002)


FILM = WashLoad(absorbed_ml=2, surface_mm2=56_000)
WATER_USED = [
    Row(plan=FillPlan("three fills", 3, 500, 10, 4), litres=1.5, minutes=12, source="calculated: three of 0.5 L"),
    Row(plan=RunningPlan("slow tank", 20, 1000 / 3), litres=6.67, minutes=20, source="calculated: 1 L every 3 min"),
    Row(plan=RunningPlan("tap", 10, 6000), litres=60, minutes=10, source="calculated: 6 L/min"),
]


@pytest.mark.parametrize("row", WATER_USED, ids=lambda row: row.plan.name)
def test_a_plan_says_its_water_and_its_time(row):
    result = wash_result(plan=row.plan, load=FILM)
    assert result.water_litres == pytest.approx(row.litres, abs=0.005)
    assert result.minutes == row.minutes


def test_plans_are_set_side_by_side_the_thriftiest_that_passes_first():
    one = FillPlan("one fill", 1, 500, 10, 4)
    three = FillPlan("three fills", 3, 500, 10, 4)
    tap = RunningPlan("tap", 10, 6000)
    results = compare_washes(plans=[tap, one, three], load=FILM, limit_g_per_m2=0.014)
    assert [result.plan.name for result in results] == ["three fills", "tap", "one fill"]
    assert [result.passes(limit_g_per_m2=0.014) for result in results] == [True, True, False]


@pytest.mark.parametrize(
    "ask",
    [
        lambda: after_fills_g_per_l(start_g_per_l=-1, left_ml=10, fill_ml=500, fills=1),
        lambda: after_fills_g_per_l(start_g_per_l=60, left_ml=0, fill_ml=500, fills=1),
        lambda: after_fills_g_per_l(start_g_per_l=60, left_ml=10, fill_ml=500, fills=-1),
        lambda: residue_g_per_m2(water_g_per_l=1, absorbed_ml=2, area_mm2=0),
        lambda: in_running_water_g_per_m2(start_g_per_m2=1, minutes=-1),
        lambda: running_minutes_to(start_g_per_m2=1, limit_g_per_m2=0),
        lambda: fills_to(start_g_per_l=60, end_g_per_l=0, left_ml=10, fill_ml=500),
        lambda: FillPlan("none", 0, 500, 10, 4),
        lambda: RunningPlan("dry", 10, 0),
        lambda: WashLoad(absorbed_ml=0, surface_mm2=56_000),
        lambda: wash_result(plan=RunningPlan("tap", 1, 1), load=FILM).passes(limit_g_per_m2=0),
    ],
)
def test_a_wash_that_cannot_be_is_refused(ask):
    with pytest.raises(OutOfRange):
        ask()


amounts = st.floats(1, 100)


@given(amounts, st.floats(1, 50), st.floats(100, 2000), st.integers(0, 19))
def test_one_more_fill_never_leaves_more(start, left, fill, fills):
    facts = {"start_g_per_l": start, "left_ml": left, "fill_ml": fill}
    assert after_fills_g_per_l(**facts, fills=fills + 1) < after_fills_g_per_l(**facts, fills=fills)


@given(amounts, st.floats(0, 100), st.floats(0, 100), st.floats(1, 100))
def test_a_longer_wash_never_leaves_more(start, one, other, half):
    short, long = sorted((one, other))
    facts = {"start_g_per_m2": start, "half_time_seconds": half}
    assert in_running_water_g_per_m2(**facts, minutes=long) <= in_running_water_g_per_m2(**facts, minutes=short)


@given(amounts, st.floats(0.001, 50), st.floats(1, 50), st.floats(100, 2000))
def test_the_fills_worked_out_are_enough_and_one_fewer_is_not(start, end, left, fill):
    facts = {"start_g_per_l": start, "left_ml": left, "fill_ml": fill}
    fills = fills_to(**facts, end_g_per_l=end)
    assert after_fills_g_per_l(**facts, fills=fills) <= end * (1 + 1e-6)
    if fills:
        assert after_fills_g_per_l(**facts, fills=fills - 1) > end * (1 - 1e-6)


@given(amounts, st.floats(0.001, 0.9), st.floats(5, 200))
def test_the_time_worked_out_meets_the_limit(start, limit, half):
    minutes = running_minutes_to(start_g_per_m2=start, limit_g_per_m2=limit, half_time_seconds=half)
    left = in_running_water_g_per_m2(start_g_per_m2=start, minutes=minutes, half_time_seconds=half)
    assert left == pytest.approx(limit)


CHANGES = [
    Row(material=Material.FILM, summed=2, least=3, source="three fills: common practice, no source"),
    Row(material=Material.FILM, summed=5, least=5, source="calculated: more than practice asks for"),
    Row(material=Material.RC, summed=1, least=3, source="common practice, no source"),
    Row(material=Material.FIBRE, summed=4, least=12, source="12 changes: common practice, no source"),
]


@pytest.mark.parametrize("row", CHANGES, ids=lambda row: f"{row.material} {row.summed}")
def test_there_are_never_fewer_changes_than_practice_asks_for(row):
    assert least_changes(material=row.material, summed=row.summed) == row.least
