"""The plan on plain values. Facts of the trade are marked with where they come from."""

from dataclasses import replace
from fractions import Fraction
from time import process_time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.baths.models import Place
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.dilution import Dilution
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.measuring import Cylinder, CylinderClass
from labsys.chemistry.sizes import Material, WrongMaterial, size_of
from labsys.hazards.protective import THIN_GLOVES, Equipment
from labsys.ledger.models import Unit
from labsys.planning.facts import Dangers, PlannedLoad, ProcessFacts
from labsys.planning.loads import LoadTooLarge, PlanRefused, usual_volume_ul
from labsys.planning.plan import AIR_BELLS
from labsys.planning.warmth import changes_in_words, cold_water_warning
from tests.planning.making import DEVELOP, FILM, FIX, RINSE, STOP, WASH, fixer, plan, rolls, solution, today


def step(made, name):
    return next(one for one in made.steps if one.step.name == name)


# Facts of the trade


def test_the_order_of_use_is_developer_stop_fixer_wash_rinse():
    """Common practice, no source."""
    assert [one.step.name for one in plan().steps][1:] == ["Develop", "Stop", "Fix", "Wash", "Rinse"]


def test_solutions_are_made_up_in_the_order_of_their_use():
    """US Army subcourse SS0509, Laboratory Procedures, ed. 8 (1988): developer, then stop, then fixer."""
    jumbled = replace(FILM, steps=(RINSE, FIX, STOP, DEVELOP))
    assert [one.step.name for one in plan(jumbled).making_up] == ["Develop", "Stop", "Fix", "Rinse"]


def test_eight_minutes_with_a_change_each_minute_are_eight_changes():
    """Common practice, no source."""
    wash = step(plan(), "Wash")
    assert (wash.step.changes, wash.time) == (8, "8 min")
    assert wash.changes == "8 changes, one each minute"
    assert wash.water_ul == 8 * 2_500_000


@pytest.mark.parametrize(
    ("cold", "is_told"),
    [  # common practice, no source: winter mains at 3 to 4 °C; water under about 7 °C does not wash well
        (3, True),
        (4, True),
        (6.9, True),
        (7, False),
        (12, False),
    ],
)
def test_mains_water_under_seven_degrees_is_reported_as_needing_tempering(cold, is_told):
    assert bool(cold_water_warning(cold)) is is_told
    told = step(plan(conditions=today(cold_celsius=cold)), "Wash").warnings
    assert any("needs tempering" in one for one in told) is is_told


def test_half_a_degree_held_is_as_good_if_it_is_the_same_every_time():
    """Common practice, no source."""
    develop = step(plan(conditions=today(20.5)), "Develop")
    assert develop.timed.seconds == 480
    assert "20.5 °C held is as good as 20 °C, if it is the same every time." in develop.remarks
    assert not develop.warnings


def test_air_bells_are_knocked_off_by_tapping_the_tank():
    """Common practice, no source."""
    assert AIR_BELLS in step(plan(), "Develop").remarks
    said = replace(FILM, steps=(replace(DEVELOP, note="Tap it to free air bells."),))
    assert not plan(said).steps[0].remarks  # the process says it already
    paper = ProcessFacts(1, "RC prints", Material.RC, (DEVELOP,))
    sheets = PlannedLoad(size_of(key="8x10 in"), Material.RC, 3, 1_000_000)
    assert AIR_BELLS not in plan(paper, load=sheets).steps[0].remarks


def test_hands_are_kept_out_from_the_developer_to_the_rinse():
    """Common practice, no source: developers irritate and can sensitise, so gloves at the tank all through."""
    made = plan()
    for one in made.steps[1:]:
        assert any(item.kind is Equipment.HANDS for item in one.protection), one.step.name
    assert made.steps[0].protection == ()  # film is loaded with dry, bare hands
    assert [item.words for item in step(made, "Wash").protection] == [THIN_GLOVES]
    assert any("hydroquinone" in item.reason for item in made.working.protection)


def test_a_five_reel_tank_takes_two_and_a_half_litres():
    """Common practice, no source."""
    assert usual_volume_ul(size=size_of(key="120"), material=Material.FILM, count=5) == 2_500_000


# Amounts


def test_five_rolls_in_the_developer_take_the_amounts_that_a_hand_can_measure():
    """2500 / 7 = 357.1 mL, calculated; the nearest mark of a 500 mL cylinder in 5 mL is 355, calculated."""
    mix = step(plan(), "Develop").mix
    assert [one.words for one in mix.pours] == ["357 mL", "2143 mL"]
    assert mix.pours[0].cylinder == "500 mL cylinder, mark 355"
    assert mix.how_exact.startswith("Exactly")
    assert step(plan(), "Stop").mix.how_exact == "Roughly is good enough."
    assert not mix.trouble


def test_no_error_in_per_cent_stands_on_a_students_plan():
    for one in plan().steps:
        told = [*one.remarks, *one.warnings, *([one.mix.how_exact, one.mix.trouble] if one.mix else [])]
        assert not any("%" in words for words in told)


def test_a_cylinder_too_coarse_for_a_developer_is_said_and_a_way_out_named():
    coarse = solution(SolutionKind.DEVELOPER, 4, cylinders=(Cylinder(1000, 10, CylinderClass.B),))
    told = plan(replace(FILM, steps=(replace(DEVELOP, solution=coarse),)), load=rolls(1, working_ml=500)).steps[0]
    assert "too coarse" in told.mix.trouble
    assert told.mix.trouble in told.warnings
    assert "or mix 1 L or more" in told.mix.trouble  # 0.8 × (10/200 + 10/800) = 5 %: calculated


def test_less_than_the_lowest_mark_of_a_cylinder_is_never_asked_for():
    """A tenth of the capacity as the lowest mark: ISO 4788, from memory. 500 mL at 1+49 hold 10 mL, calculated.

    13 L hold 260 mL of concentrate and 12 740 mL of water: 0.98 × (10/260 + 130/12740) = 4.8 %; 12 L give 5.1 %.
    """
    begins_high = solution(SolutionKind.DEVELOPER, 49, cylinders=(Cylinder(1000, 10, CylinderClass.B),))
    told = plan(replace(FILM, steps=(replace(DEVELOP, solution=begins_high),)), load=rolls(1, working_ml=500)).steps[0]
    assert [one.cylinder for one in told.mix.pours] == ["", ""]
    assert "too little for the cylinders here. Use a finer one, or mix 13 L or more." in told.mix.trouble


def test_where_no_cylinder_is_entered_the_amounts_still_stand():
    bare = solution(SolutionKind.FIXER, 4, cylinders=())
    mix = plan(replace(FILM, steps=(replace(FIX, solution=bare),))).steps[0].mix
    assert [one.words for one in mix.pours] == ["500 mL", "2 L"]
    assert "No measuring cylinder is entered" in mix.trouble


def test_a_powder_is_weighed_and_made_up_to_the_volume():
    """100 g that make a litre undiluted, at 1+1: half a litre's worth to the litre, 50 g, calculated."""
    powder = solution(SolutionKind.DEVELOPER, 1, powder_mg_per_l=100_000)
    mix = plan(replace(FILM, steps=(replace(DEVELOP, solution=powder),)), load=rolls(2, working_ml=1_000)).steps[0].mix
    assert [(one.words, one.unit) for one in mix.pours] == [("50 g", Unit.MG), ("1 L", Unit.UL)]


def test_an_undiluted_solution_is_one_pour():
    mix = plan(replace(FILM, steps=(replace(FIX, solution=solution(SolutionKind.FIXER, 0)),))).steps[0].mix
    assert [(one.what, one.words) for one in mix.pours] == [("undiluted", "2.5 L")]


@given(
    parts=st.integers(0, 200),
    working_ml=st.integers(500, 20_000),
    order=st.permutations((DEVELOP, STOP, FIX, WASH, RINSE)),
)
def test_steps_keep_the_order_of_the_process_and_amounts_add_up_to_the_volume(parts, working_ml, order):
    kind = SolutionKind.STOP
    steps = tuple(replace(one, solution=solution(kind, parts)) if one is STOP else one for one in order)
    made = plan(replace(FILM, steps=steps), load=rolls(1, working_ml=working_ml))
    assert tuple(one.step for one in made.steps) == steps
    assert [one.number for one in made.steps] == list(range(1, len(steps) + 1))
    for one in made.steps:
        if one.mix is not None:
            assert sum(pour.amount for pour in one.mix.pours) == working_ml * 1_000
    concentrate = next(one.mix for one in made.steps if one.step.name == "Stop").pours[0]
    assert abs(concentrate.amount - Fraction(working_ml * 1_000, parts + 1)) <= 1


# Temperature and time


def test_hot_and_cold_water_bring_the_mix_to_its_temperature():
    """(V·T − Vc·Tr) / Vw = (2500·20 − 500·20) / 2000 = 20 °C; hot (20 − 8) / (50 − 8) · 2000 = 571 mL, calculated."""
    made = plan(conditions=today(room_celsius=20, cold_celsius=8, hot_celsius=50))
    mix = step(made, "Fix").mix
    assert mix.tempered.sentence == "Water at 20.0 °C: 571 mL hot and 1429 mL cold."
    assert mix.tempered.mix.hot_ml + mix.tempered.mix.cold_ml == pytest.approx(2_000)
    assert made.assumption == ""


def test_an_unmeasured_room_is_said_to_be_taken_for_granted():
    assert "taken as 20 °C" in plan(conditions=today(cold_celsius=8, hot_celsius=50)).assumption
    assert plan().assumption == ""


def test_the_wash_is_tempered_a_filling_at_a_time():
    """(20 − 4) / (50 − 4) of 2500 mL = 870 mL hot, calculated."""
    wash = step(plan(conditions=today(cold_celsius=4, hot_celsius=50)), "Wash")
    assert wash.tempered.sentence == "Each filling: 870 mL hot and 1630 mL cold."


def test_what_the_taps_cannot_reach_is_said_with_what_they_can():
    told = step(plan(conditions=today(cold_celsius=24, hot_celsius=50)), "Wash").tempered
    assert told.mix is None
    assert "20 °C cannot be reached by mixing; from 24.0 to 50.0 °C can" in told.sentence


def test_cold_water_without_hot_washes_longer():
    """US Army TM 11-2323: twice as long at 50 °F (10 °C) as at 68 °F (20 °C)."""
    assert (
        "Untempered, at 10 °C, it takes 2.0 times as long."
        in step(plan(conditions=today(cold_celsius=10)), "Wash").remarks
    )


def test_a_hot_tap_colder_than_the_cold_one_is_refused():
    with pytest.raises(OutOfRange):
        plan(conditions=today(cold_celsius=20, hot_celsius=10))


def test_developing_time_is_corrected_inside_the_range_of_the_coefficient():
    """8 min · 2.5^(−0.2) = 6.66 min, to 5 s: 6:40 min, calculated; coefficient 2.5: common practice, no source."""
    develop = step(plan(conditions=today(22)), "Develop")
    assert develop.time == "6:40 min"
    assert any("an estimate; the maker's chart comes first" in told for told in develop.remarks)
    assert step(plan(conditions=today(22)), "Stop").temperature == "22 °C"  # what ran at its temperature follows it
    assert step(plan(conditions=today(22)), "Fix").timed.seconds == 300  # and nothing else is timed anew


@pytest.mark.parametrize("celsius", [15, 17.9, 24.1, 30])
def test_outside_the_range_of_the_coefficient_no_time_is_given(celsius):
    """18 to 24 °C: common practice, no source."""
    develop = step(plan(conditions=today(celsius)), "Develop")
    assert (develop.timed.seconds, develop.time) == (None, "not known")
    assert any("holds from 18 to 24 °C" in told for told in develop.warnings)


def test_under_five_minutes_no_time_is_given():
    """Shorter development is uneven: common practice, no source."""
    quick = replace(FILM, steps=(replace(DEVELOP, seconds=360),))
    develop = plan(quick, conditions=today(23)).steps[0]
    assert develop.timed.seconds is None
    assert any("under 5 min development is uneven" in told for told in develop.warnings)


@pytest.mark.parametrize(
    ("material", "usual", "what"), [(Material.RC, 21, "paper"), (Material.FILM, 38, "a process at 38 °C")]
)
def test_where_no_coefficient_is_stated_the_time_is_left_and_that_is_said(material, usual, what):
    steps = (replace(DEVELOP, seconds=195, celsius=usual),)
    size = "8x10 in" if material is Material.RC else "120"
    load = PlannedLoad(size_of(key=size), material, 2, 1_000_000)
    develop = plan(ProcessFacts(1, "Another", material, steps), load=load, conditions=today(usual - 2)).steps[0]
    assert develop.timed.seconds == 195
    assert any(f"for {what} no correction is stated" in told for told in develop.warnings)


def test_another_dilution_has_no_time():
    weaker = replace(DEVELOP, solution=solution(SolutionKind.DEVELOPER, 9, usual_dilution=Dilution(6)))
    develop = plan(replace(FILM, steps=(weaker,))).steps[0]
    assert develop.time == "not known"
    assert "No time is entered for 1+9" in develop.warnings[0]
    assert [one.words for one in develop.mix.pours] == ["250 mL", "2250 mL"]


# Shared baths


def test_a_shared_bath_takes_the_place_of_a_fresh_mix_and_says_what_is_left():
    """50 rolls in all, 10 done, 5 to come: 35, calculated."""
    made = plan(baths=[fixer(used_rolls=10)])
    fix = step(made, "Fix")
    assert fix.mix is None
    assert fix.bath.bath.code == "AS-F1"
    assert fix.bath.for_this == "Takes this load; then 35 more of 120."
    assert "Fix" not in [one.step.name for one in made.making_up]


def test_an_exhausted_bath_names_the_spare():
    fix = step(plan(baths=[fixer(1, used_rolls=50), fixer(2, in_service=False)]), "Fix")
    assert fix.bath.bath.code == "AS-F2"
    assert fix.warnings == (
        "Film fixer AS-F1 is exhausted: do not use it.",
        "Use the spare AS-F2: ask for it to be put in service.",
    )


def test_without_a_spare_a_fresh_mix_stands_in():
    fix = step(plan(baths=[fixer(used_rolls=48)]), "Fix")
    assert (fix.bath, fix.mix.pours[0].words) == (None, "500 mL")
    assert fix.warnings == (
        "Film fixer AS-F1 has too little left for this: do not use it.",
        "There is no spare: mix fresh.",
    )


def test_a_load_that_uses_up_the_last_of_a_bath_still_fits():
    fix = step(plan(baths=[fixer(used_rolls=45)]), "Fix")
    assert fix.bath.for_this == "Takes this load; then none of 120."


@pytest.mark.parametrize(
    "change",
    [
        {"dilution": Dilution(9)},
        {"product_id": 99},
        {"place": Place.SECOND_FIXER},
        {"materials": frozenset({Material.RC, Material.FIBRE})},
    ],
)
def test_a_bath_of_something_else_is_left_alone(change):
    fix = step(plan(baths=[fixer(**change)]), "Fix")
    assert fix.bath is None
    assert not fix.warnings


def test_the_second_fixing_step_takes_the_second_fixer():
    twice = replace(FILM, steps=(FIX, replace(FIX, name="Fix again")))
    made = plan(twice, baths=[fixer(1), fixer(2, place=Place.SECOND_FIXER)])
    assert [one.bath.bath.bath_id for one in made.steps] == [1, 2]


def test_the_line_of_the_process_comes_first():
    fix = step(plan(baths=[fixer(1), fixer(2, process_id=FILM.process_id)]), "Fix")
    assert fix.bath.bath.bath_id == 2


def test_a_bath_that_does_not_cover_the_load_gives_way_to_one_that_does():
    low = fixer(level_ul=1_200_000)
    short = "Film fixer AS-F1 holds 1.2 L, less than the 2.5 L you need."
    alone = step(plan(baths=[low]), "Fix")
    assert (alone.bath, alone.warnings) == (None, (short, "There is no spare: mix fresh."))
    beside_a_spare = step(plan(baths=[low, fixer(2, in_service=False)]), "Fix")
    assert beside_a_spare.bath.bath.code == "AS-F2"
    assert beside_a_spare.warnings[0] == short
    second_line = step(plan(baths=[low, fixer(2)]), "Fix")
    assert (second_line.bath.bath.code, second_line.warnings) == ("AS-F2", ())


# Hazards


def test_bottles_are_told_of_only_where_something_is_mixed_from_them():
    acid = Dangers(h_codes=("H314",), signal_word="Danger", statements=("Causes severe skin burns.",))
    stop = replace(STOP, solution=solution(SolutionKind.STOP, 19, bottle=acid))
    made = plan(replace(FILM, steps=(stop, FIX)))
    assert [(row.named, row.is_bottle) for row in made.dangers] == [("A stop concentrate", True)]
    assert {item.kind for item in made.mixing.protection} == {Equipment.APRON, Equipment.EYES, Equipment.HANDS}
    assert {item.kind for item in made.working.protection} == {Equipment.HANDS}
    assert any(told.startswith("Stop: On the skin") for told in made.cautions)
    shared = plan(replace(FILM, steps=(FIX,)), baths=[fixer()])
    assert (shared.mixing, shared.dangers) == (None, ())


def test_a_product_nobody_confirmed_may_not_be_mixed():
    told = plan(
        replace(
            FILM, steps=(replace(FIX, solution=solution(SolutionKind.FIXER, 4, may_mix=False, standing="Nobody has.")),)
        )
    )
    assert told.steps[0].warnings == ("Not to be mixed yet. Nobody has.",)


# Loads


def test_film_that_stands_out_of_the_solution_is_refused_with_what_it_needs():
    """At least 450 mL a roll of 120: common practice, no source."""
    with pytest.raises(LoadTooLarge) as refused:
        plan(load=rolls(5, working_ml=2_000))
    assert (refused.value.needed_ul, refused.value.covered) == (2_250_000, 4)
    assert str(refused.value).startswith("5 of 120 need at least 2.25 L; 2 L covers 4.")
    plan(load=rolls(5, working_ml=2_250))


def test_more_reels_than_one_tank_takes_are_refused():
    with pytest.raises(PlanRefused, match="At most 20 reels"):
        usual_volume_ul(size=size_of(key="120"), material=Material.FILM, count=21)


@pytest.mark.parametrize(
    ("key", "litres"),
    [("8x10 in", 1), ("5x7 in", 1), ("A4", 1.5), ("24x30 cm", 1.5), ("16x20 in", 4), ("50x60 cm", 6), ("20x24 in", 6)],
)
def test_a_sheet_takes_the_usual_fill_of_a_tray_it_lies_flat_in(key, litres):
    """Common practice, no source."""
    assert usual_volume_ul(size=size_of(key=key), material=Material.RC, count=40) == litres * 1_000_000


def test_a_roll_of_film_does_not_go_through_a_paper_process():
    with pytest.raises(WrongMaterial):
        plan(
            replace(FILM, material=Material.RC, steps=(FIX,)),
            load=replace(rolls(), material=Material.RC),
            baths=[fixer(materials=frozenset({Material.RC}))],
        )


def test_changes_are_told_with_how_often():
    assert changes_in_words(changes=4, seconds=360) == "4 changes, one each 1:30 min"
    assert changes_in_words(changes=4, seconds=None) == "4 changes"


def test_a_whole_plan_takes_well_under_a_millisecond():
    baths = [fixer(1, used_rolls=50), fixer(2, in_service=False)]
    conditions = today(22, room_celsius=19, cold_celsius=8, hot_celsius=50)
    plan(baths=baths, conditions=conditions)
    runs = 50
    best = min(_seconds(baths, conditions, runs) for _ in range(3)) / runs
    assert best < 0.001, f"{best * 1e6:.0f} µs"


def _seconds(baths, conditions, runs):
    start = process_time()
    for _ in range(runs):
        plan(baths=baths, conditions=conditions)
    return process_time() - start
