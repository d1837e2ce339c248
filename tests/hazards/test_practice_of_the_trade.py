"""What the trade has learnt about skin and smell, held against what this room works out."""

import pytest

from labsys.hazards.concentrate import Concentrate
from labsys.hazards.exposure import pressure_over_solution_pa
from labsys.hazards.label import label_elements
from labsys.hazards.mixtures import classify
from labsys.hazards.protective import Equipment
from labsys.hazards.solution import solution_hazards
from labsys.hazards.substances import substance
from tests.hazards.making import ACETIC, DEVELOPER, HYDROQUINONE, METOL, of

PRACTICE = "common practice, no source"

CONCENTRATES = [
    ({HYDROQUINONE: 5, "584-08-7": 15}, PRACTICE),
    (DEVELOPER, PRACTICE),
    ({METOL: 2, "497-19-8": 10}, PRACTICE),
    ({"25646-77-9": 2, "584-08-7": 15}, PRACTICE),
]


@pytest.mark.parametrize(("parts", "source"), CONCENTRATES)
def test_concentrated_developer_irritates_and_can_sensitise(parts, source):
    found = classify(of(parts))
    codes = set(found.h_codes)
    assert codes & {"H315", "H318", "H319"}, source
    assert "H317" in codes, source


@pytest.mark.parametrize("strength", [1, 0.1, 0.01])
def test_gloves_or_tongs_stay_through_the_whole_process(strength):
    """Repeated contact can sensitise even after years of none (common practice, no source), in a weak bath too."""
    parts = of({cas: percent * strength for cas, percent in DEVELOPER.items()})
    bath = solution_hazards(Concentrate("developer", (), tuple(parts)), water_parts_milli=0)
    assert any(each.kind is Equipment.HANDS for each in bath.working.protection)
    assert any("stays for life and can begin with a weak bath" in caution for caution in bath.working.cautions)
    assert bath.sensitisers


def test_citric_stop_gives_off_nothing_where_acetic_stop_smells():
    """Common practice, no source: citric stop has less smell and vapour. Calculated: acetic acid over a 2 % bath by
    Raoult's law, 9.48 Pa (1558 Pa × 0.006085); citric acid is a solid for which no vapour pressure is on file.
    """
    acetic = substance(ACETIC)
    over_the_tray = pressure_over_solution_pa(
        pure_pa=acetic.vapour_pressure_pa_20c, content_percent=2, molar_mass_g_mol=acetic.molar_mass_g_mol
    )
    assert over_the_tray == pytest.approx(9.48, abs=0.02)
    assert substance("77-92-9").vapour_pressure_pa_20c is None


STOPS = [
    (
        "acetic concentrate 60 %",
        {ACETIC: 60},
        "GHS05",
        "calculated from the Annex VI limits of acetic acid, from memory",
    ),
    ("citric concentrate 30 %", {"77-92-9": 30}, "GHS07", "calculated from CLP Annex I Table 3.3.3, from memory"),
]


@pytest.mark.parametrize(("what", "parts", "pictogram", "source"), STOPS)
def test_a_stop_concentrate_is_milder_by_citric_acid(what, parts, pictogram, source):
    assert pictogram in label_elements(classify(of(parts))).pictograms, (what, source)
