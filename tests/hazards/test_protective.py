"""What to wear and mind. Wording and choice are common practice, no source."""

import pytest

from labsys.hazards.protective import DEFERENCE, Equipment, advice_for
from labsys.hazards.solution import Concentrate, solution_hazards
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
    gloves = advice_for(h_codes=["H314", "H317"]).protection[-1].words
    tongs = advice_for(h_codes=[], sensitisers=["metol"]).protection[-1]
    assert "gloves" in gloves.lower()
    assert "Tongs" not in gloves
    assert tongs.words.startswith("Tongs, or gloves")
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
