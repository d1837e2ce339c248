"""The reference entries read as their table writes them."""

import pytest

from labsys.hazards.classes import Family
from labsys.hazards.errors import BadCas, OutOfRange, UnknownSubstance
from labsys.hazards.mixtures.model import Route
from labsys.hazards.substances import find_substances, substance


@pytest.mark.parametrize(
    ("cas", "molar_mass", "source"),
    [
        ("64-19-7", 2 * 12.011 + 4 * 1.008 + 2 * 15.999, "calculated from atomic weights"),
        ("1310-73-2", 22.990 + 15.999 + 1.008, "calculated from atomic weights"),
        ("7757-83-7", 2 * 22.990 + 32.06 + 3 * 15.999, "calculated from atomic weights"),
        ("7761-88-8", 107.868 + 14.007 + 3 * 15.999, "calculated from atomic weights"),
        ("10102-18-8", 2 * 22.990 + 78.971 + 3 * 15.999, "calculated from atomic weights"),
        ("50-00-0", 12.011 + 2 * 1.008 + 15.999, "calculated from atomic weights"),
    ],
)
def test_molar_masses_agree_with_atomic_weights(cas, molar_mass, source):
    assert substance(cas).molar_mass_g_mol == pytest.approx(molar_mass, abs=0.03), source


def test_an_entry_carries_its_classes_limits_and_factors():
    acid = substance("64-19-7")
    assert [str(hazard) for hazard in acid.classes] == ["Flam. Liq. 3 H226", "Skin Corr. 1A H314"]
    assert [(str(limit.hazard), limit.from_percent) for limit in acid.limits] == [
        ("Skin Corr. 1A H314", 90),
        ("Skin Corr. 1B H314", 25),
        ("Skin Irrit. 2 H315", 10),
        ("Eye Irrit. 2 H319", 10),
    ]
    assert (substance("7758-99-8").m_acute, substance("7758-99-8").m_chronic) == (10, 1)
    assert [(ate.route, ate.value) for ate in substance("7758-99-8").ates] == [(Route.ORAL, 481)]
    assert substance("7757-83-7").euh == ("EUH031",)
    assert Family.PHENOL in substance("123-31-9").families


def test_an_unknown_factor_is_none_and_not_one():
    assert substance("55-55-0").m_acute is None


def test_an_entry_becomes_an_ingredient_with_everything_the_rules_need():
    entry = substance("123-31-9")
    ingredient = entry.as_ingredient(high_percent=1.2)
    assert (ingredient.name, ingredient.cas, ingredient.high_percent) == (entry.name, entry.cas, 1.2)
    assert (ingredient.classes, ingredient.m_acute, ingredient.has_workplace_limit) == (entry.classes, 10, True)
    with pytest.raises(OutOfRange):
        entry.as_ingredient(high_percent=101)


def test_entries_are_found_by_part_of_name_or_number():
    assert [entry.cas for entry in find_substances("HYDROQUINONE")] == ["123-31-9"]
    assert [entry.name for entry in find_substances("64-19-7")] == ["acetic acid"]
    assert find_substances("  ") == ()
    assert find_substances("unobtainium") == ()


def test_a_number_without_entry_and_a_wrong_number_are_told_apart():
    with pytest.raises(UnknownSubstance):
        substance("7732-18-5")
    with pytest.raises(BadCas):
        substance("64-19-8")
