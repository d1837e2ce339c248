"""The lab's own vessels, and what a developer's own sheet says, in a plan on plain values."""

import math
from dataclasses import replace

import pytest

from labsys.baths.models import Place
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material, size_of
from labsys.labware.models import VesselFill, WorkingVessel, WorkingVesselKind
from labsys.planning.facts import Developing, PlannedLoad, Step
from labsys.planning.loads import PlanRefused, planned_load
from tests.planning.making import DEVELOP, FILM, FIX, WASH, fixer, plan, rolls, solution, today

SOURCE = "a data sheet made up for the tests"


def tank(reels: int, litres: float, *, size: str = "120", vessel_id: int = 1) -> WorkingVessel:
    return WorkingVessel(
        id=vessel_id,
        name=f"{reels}-reel tank",
        kind=WorkingVesselKind.TANK,
        capacity_ul=round(litres * 1_100_000),
        fills=[VesselFill(size=size, count=reels, volume_ul=round(litres * 1_000_000))],
    )


FIVE, TWO = tank(5, 2.5), tank(2, 1.0, vessel_id=2)
TRAY = WorkingVessel(
    id=3,
    name="Tray",
    kind=WorkingVesselKind.TRAY,
    capacity_ul=3_000_000,
    length_mm=270,
    width_mm=215,
    depth_mm=17,
    fills=[],
)
OWNED = [FIVE, TWO, TRAY]


def of_film(count: int, *, size: str = "120", **others) -> PlannedLoad:
    return planned_load(size=size_of(key=size), material=Material.FILM, count=count, **others)


def developing(parts: int = 6, *, seconds: int = 480, celsius: float = 20, off: float | None = None, **own) -> Step:
    told = solution(SolutionKind.DEVELOPER, parts, developing=Developing(source=SOURCE, **own))
    return Step("Develop", told, seconds=seconds, celsius=celsius, celsius_off=off, any_film=True)


def planned(step: Step, celsius: float | None = None, *, material: Material = Material.FILM, load=None):
    facts = replace(FILM, steps=(step,), material=material)
    return plan(facts, load=load or replace(rolls(), material=material), conditions=today(celsius)).steps[0]


# Vessels


def test_a_five_reel_tank_takes_two_and_a_half_litres():
    """Common practice, no source."""
    load = of_film(5, offered=OWNED)
    assert (load.working_ul, load.vessel, load.notes) == (2_500_000, "5-reel tank", ())


def test_nobody_chose_so_the_smallest_filling_is_taken():
    assert of_film(2, offered=OWNED).vessel == "2-reel tank"
    three = of_film(3, offered=OWNED)
    assert (three.vessel, three.working_ul) == ("5-reel tank", 2_500_000)
    assert three.notes == ("Fill the tank up with 2 empty reels, so that the load does not slide.",)


def test_without_a_vessel_of_the_lab_the_usual_volume_is_taken_and_said():
    alone = of_film(5)
    assert (alone.working_ul, alone.vessel, alone.notes) == (2_500_000, "", ())
    (told,) = of_film(7, offered=OWNED).notes
    assert told.startswith("The lab's largest tank takes 5 of 120; this is the usual volume for 7.")
    (told,) = of_film(7, size="135-36", offered=OWNED).notes
    assert told == "No tank or tray of the lab is entered for 135-36: this is the usual volume."


def test_a_sheet_goes_into_the_tray_it_lies_flat_in():
    """270 × 215 × 17 mm = 0.987 L, calculated; rounded up for a hand."""
    load = planned_load(size=size_of(key="8x10 in"), material=Material.RC, count=12, offered=OWNED)
    assert (load.vessel, load.working_ul) == ("Tray", 1_000_000)


@pytest.mark.parametrize(
    ("asked", "message", "field"),
    [
        ({"count": 6, "vessel": FIVE}, "5-reel tank takes 5 of 120 at most, not 6", "vessel"),
        ({"count": 1, "size": "135-36", "vessel": FIVE}, "5-reel tank does not take 135-36", "vessel"),
        ({"count": 5, "vessel": FIVE, "volume_ul": 3_000_000}, "takes 2.75 L at most", "volume"),
        ({"count": 3, "vessel": FIVE, "volume_ul": 1_500_000}, "needs 2.5 L to cover 3 of 120", "volume"),
    ],
)
def test_what_the_vessel_does_not_take_is_refused(asked, message, field):
    with pytest.raises(PlanRefused, match=message) as refused:
        of_film(**asked, offered=OWNED)
    assert refused.value.field == field


def test_the_figure_on_the_tank_comes_before_the_usual_one():
    """A tank that covers five of 120 in 2 L, where the usual least is 450 mL a reel."""
    slim = tank(5, 2.0)
    assert plan(load=of_film(5, vessel=slim, offered=[slim])).load.working_ul == 2_000_000


# Temperature


def test_a_developers_own_factor_takes_the_place_of_the_general_one():
    """t = t0 × Q10^((T0 − T) / 10): W. B. Ferguson and F. Howard 1905; counted in steps of 5 s."""
    told = planned(developing(q10=2.0, low_celsius=16, high_celsius=26), 25)
    assert told.timed.seconds == 5 * round(480 * 2 ** (-0.5) / 5)
    assert "own factor of 2 for 10 °C (a data sheet made up for the tests): an estimate." in told.remarks[-1]


def test_outside_its_own_range_and_under_its_own_least_time_nothing_is_said():
    warm = planned(developing(low_celsius=18, high_celsius=22), 23)
    assert (warm.timed.seconds, warm.time) == (None, "not known")
    assert f"the correction holds from 18 to 22 °C ({SOURCE})." in warm.warnings[-1]
    short = planned(developing(least_minutes=7.0), 24)
    assert short.timed.seconds is None
    assert f"under 7 min development is uneven ({SOURCE})." in short.warnings[-1]


def test_paper_is_corrected_only_by_its_developers_own_factor():
    load = PlannedLoad(size_of(key="8x10 in"), Material.RC, 5, 1_000_000)
    plain = planned(developing(seconds=90), 24, material=Material.RC, load=load)
    assert "for paper no correction is stated" in plain.warnings[-1]
    own = planned(developing(seconds=90, q10=2.0), 22, material=Material.RC, load=load)
    assert own.timed.seconds == 5 * round(90 * 2 ** (-0.2) / 5)


@pytest.mark.parametrize(("celsius", "seconds"), [(38.0, 195), (38.25, 195), (37.75, 195), (38.3, None), (37.5, None)])
def test_colour_development_holds_to_a_quarter_of_a_degree(celsius, seconds):
    """Common practice, no source."""
    step = planned(developing(seconds=195, celsius=38, off=0.25), celsius)
    assert step.timed.seconds == seconds
    assert (step.tolerance, step.step.celsius) == ("± 0.25 °C", 38)
    assert any("this step holds 38 °C ± 0.25 °C" in told for told in step.warnings) is (seconds is None)


# Concentrate


def test_too_little_concentrate_forces_a_larger_volume_and_says_so():
    """Two rolls at 6 mL and 1+50 need 612 mL: 2 × 6 × 51, calculated; rounded up for a hand."""
    told = planned(developing(50, least_concentrate_ml=6), load=rolls(2, working_ml=500, size="135-36"))
    assert told.mix.working_ul == 650_000
    assert told.remarks[0] == (
        "Mix 650 mL: 500 mL covers the film, but holds too little concentrate, 6 mL for each roll "
        "(a data sheet made up for the tests)."
    )
    assert planned(developing(25, least_concentrate_ml=6), load=rolls(2, working_ml=1_000)).mix.working_ul == 1_000_000


def test_a_tank_that_holds_too_little_takes_fewer_films():
    load = replace(rolls(5), largest_ul=2_700_000)
    with pytest.raises(PlanRefused, match="Develop 4 of 5 at once") as refused:  # 2700 / (12 × 51) = 4.4, calculated
        planned(developing(50, least_concentrate_ml=12), load=load)
    assert refused.value.field == "count"
    with pytest.raises(PlanRefused, match="holds too little for even one of 120"):
        planned(developing(50, least_concentrate_ml=60), load=load)


def test_the_volume_never_passes_what_the_tank_takes():
    load = replace(rolls(2, working_ml=500, size="135-36"), largest_ul=615_000)
    assert planned(developing(50, least_concentrate_ml=6), load=load).mix.working_ul == 615_000


def test_sheets_count_by_their_area():
    """Four 4x5 in are 80 in²: calculated."""
    sheets = PlannedLoad(size_of(key="4x5 in"), Material.FILM, 8, 500_000)
    told = planned(developing(50, least_concentrate_ml=6), load=sheets)
    assert told.mix.working_ul == 650_000  # 612 mL, as for two rolls


def test_a_shared_bath_and_paper_ask_for_no_least_concentrate():
    load = PlannedLoad(size_of(key="8x10 in"), Material.RC, 30, 1_000_000)
    told = planned(developing(50, least_concentrate_ml=6), material=Material.RC, load=load)
    assert told.mix.working_ul == 1_000_000


def test_a_coating_is_brushed_on_by_area():
    """About 4 mL on an 8x10 in sheet: common practice, no source."""
    coat = Step("Coat", solution(SolutionKind.COATING, 0), air="No acid near it.")
    load = PlannedLoad(size_of(key="8x10 in"), Material.FIBRE, 5, 1_000_000)
    made = plan(replace(FILM, steps=(coat, WASH), material=Material.FIBRE), load=load)
    assert made.steps[0].mix.working_ul == math.ceil(5 * 4.026) * 1_000
    assert made.steps[0].step.air == "No acid near it."
    assert [one.step.name for one in made.making_up] == ["Coat"]


# Two baths


def test_the_second_fixing_step_uses_the_second_fixer():
    second = replace(FIX, name="Fix, second bath")
    baths = [fixer(1), fixer(2, place=Place.SECOND_FIXER)]
    made = plan(replace(FILM, steps=(DEVELOP, FIX, second)), baths=baths)
    assert [one.bath.bath.bath_id for one in made.steps[1:] if one.bath] == [1, 2]


def test_cold_mains_are_warned_of_once():
    rinse = replace(WASH, name="Rinse", changes=2)
    made = plan(replace(FILM, steps=(rinse, WASH)), conditions=today(cold_celsius=4))
    assert [len(one.warnings) for one in made.steps] == [1, 0]
