"""What to wear and mind. Wording and choice are common practice, no source."""

import pytest

from labsys.hazards.concentrate import Concentrate
from labsys.hazards.protective import ACID_GLOVES, DEFERENCE, THIN_GLOVES, Equipment, Task, advice_for
from labsys.hazards.solution import solution_hazards
from labsys.hazards.substances import substance

CASES = [
    ([], [], [], False, set()),
    ([], [], ["metol"], False, {Equipment.HANDS}),
    (["H317"], [], [], False, {Equipment.HANDS}),
    (["H319"], [], [], False, {Equipment.EYES}),
    (["H314"], [], [], False, {Equipment.HANDS, Equipment.EYES, Equipment.APRON}),
    (["H301+H311"], [], [], False, {Equipment.HANDS}),
    (["H302+H332"], [], [], False, {Equipment.VENTILATION}),
    (["H335"], [], [], False, {Equipment.VENTILATION}),
    ([], ["EUH031"], [], False, {Equipment.VENTILATION}),
    (["H351"], [], [], False, {Equipment.HANDS}),
    (["H412"], [], [], False, set()),
    ([], [], [], True, {Equipment.EYES, Equipment.VENTILATION}),
]


@pytest.mark.parametrize(("h_codes", "euh", "sensitisers", "is_powder", "kinds"), CASES)
def test_protection_follows_the_hazard(h_codes, euh, sensitisers, is_powder, kinds):
    found = advice_for(h_codes=h_codes, euh_codes=euh, sensitisers=sensitisers, is_powder=is_powder)
    assert {item.kind for item in found.protection} == kinds
    assert all(item.reason and item.words for item in found.protection)
    assert found.deference == DEFERENCE


def test_a_burning_liquid_asks_for_gloves_and_a_sensitiser_lets_tongs_do():
    gloves = advice_for(h_codes=["H314", "H317"], task=Task.TRAY).protection[-1].words
    tongs = advice_for(h_codes=[], sensitisers=["metol"], task=Task.TRAY).protection[-1]
    assert "gloves" in gloves.lower()
    assert "Tongs" not in gloves
    assert tongs.words.startswith("Tongs of its own for each tray")
    assert "metol" in tongs.reason


def test_a_splash_in_the_eye_is_rinsed_before_it_is_reported():
    """20 minutes: published advice ranges from 10 to 20; the longer is shown (from memory)."""
    (caution,) = advice_for(h_codes=["H319"]).cautions
    assert "20 minutes" in caution
    assert caution.index("rinse") < caution.index("Report")


def test_a_weak_developer_that_calculates_as_unclassified_keeps_hands_out():
    bath = solution_hazards(
        Concentrate("developer", (), (substance("123-31-9").as_ingredient(high_percent=0.05),)), water_parts_milli=0
    )
    advice = bath.working
    assert not bath.is_classified
    assert [item.kind for item in advice.protection] == [Equipment.HANDS]
    assert any("allergy" in caution for caution in advice.cautions)


def test_a_fixer_warns_of_acid():
    fixer = solution_hazards(
        Concentrate("fixer", (), (substance("10102-17-7").as_ingredient(high_percent=20),)), water_parts_milli=0
    )
    assert any("acid" in caution for caution in fixer.working.cautions)


def test_an_acid_goes_into_water():
    assert any("into water" in caution for caution in advice_for(h_codes=["H314"]).cautions)


@pytest.mark.parametrize(
    ("task", "words"),
    [
        (Task.POURING, THIN_GLOVES),
        (Task.TANK, THIN_GLOVES),
        (Task.TONING, THIN_GLOVES),
        (Task.LARGE_PRINT, "tongs do not carry a print of this size"),
        (Task.TRAY, "Tongs of its own for each tray"),
    ],
)
def test_tongs_belong_to_trays_and_gloves_to_everything_else(task, words):
    """Common practice, no source."""
    asked = {item.kind: item for item in advice_for(h_codes=[], task=task).protection}
    assert words in asked[Equipment.HANDS].words
    assert asked[Equipment.HANDS].is_house_rule
    assert (Equipment.VENTILATION in asked) is (task is Task.TONING)


@pytest.mark.parametrize(("percent", "is_strong"), [(99, True), (25, True), (10, False)])
def test_strong_acetic_acid_is_poured_in_butyl_or_neoprene(percent, is_strong):
    """Glacial acetic acid and thin nitrile: from memory."""
    bottle = Concentrate(
        "acid", ("H314",) if is_strong else ("H315",), (substance("64-19-7").as_ingredient(high_percent=percent),)
    )
    asked = {item.kind: item for item in solution_hazards(bottle, water_parts_milli=None).pouring.protection}
    assert (asked[Equipment.HANDS].words == ACID_GLOVES) is is_strong


def test_a_bottle_of_which_nothing_is_stated_is_poured_with_gloves_and_goggles():
    unknown = Concentrate("unknown", (), (), is_declared=False)
    asked = solution_hazards(unknown, water_parts_milli=None).pouring.protection
    assert {item.kind for item in asked} == {Equipment.EYES, Equipment.HANDS}
    assert {item.reason for item in asked} == {"what it does is not stated"}
