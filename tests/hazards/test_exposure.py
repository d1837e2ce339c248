"""Levels in the air: limits, trays and rooms."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.hazards import exposure as air
from labsys.hazards.errors import OutOfRange, UnknownSubstance
from labsys.hazards.gases import Gas, chlorine_from_bleach, in_closed_room, with_acid, with_alkali

PAIRS = [  # EH40/2005 pairs, from memory, printed to the digit shown
    ("acetic acid", 10, 60.05, 25, 0.5),
    ("sulfur dioxide", 0.5, 64.06, 1.3, 0.05),
    ("ammonia", 35, 17.03, 25, 0.5),
    ("propan-2-ol", 400, 60.10, 999, 0.5),
]


@pytest.mark.parametrize(("what", "ppm", "molar", "mg_m3", "within"), PAIRS)
def test_a_limit_reads_the_same_in_both_units(what, ppm, molar, mg_m3, within):
    assert air.ppm_from_mg_m3(mg_m3=mg_m3, molar_mass_g_mol=molar) == pytest.approx(ppm, rel=within / mg_m3), what


def test_the_conversion_agrees_with_a_second_opinion():
    """ppmv_to_mgm3(10, 60.05196, T=293.15, P=101325.0) of the chemicals library 1.5.2: 24.964."""
    assert air.ppm_from_mg_m3(mg_m3=24.964, molar_mass_g_mol=60.05196) == pytest.approx(10, abs=0.0005)


TRAY = {"molar_mass_g_mol": 60.052, "area_m2": 0.12, "air_m_s": 0.1, "celsius": 20}


def test_the_worked_tray_of_acetic_acid_is_reproduced():
    """Calculated from the EPA/OPPT penetration model and a box of 30 m³ at 6 changes: 2 % stop bath, tray 30 × 40 cm.

    By hand: 9.48 Pa, 538.1 and 3.274 mg/min, 358.7 and 2.18 mg/m³, 0.874 ppm. Tolerances are half their last digit.
    """
    over = air.pressure_over_solution_pa(pure_pa=1558, content_percent=2, molar_mass_g_mol=60.052)
    assert over == pytest.approx(9.48, abs=0.005)
    glacial = air.evaporation_mg_h(vapour_pressure_pa=1558, **TRAY)
    bath = air.evaporation_mg_h(vapour_pressure_pa=over, **TRAY)
    assert glacial / 60 == pytest.approx(538.1, abs=0.05)
    assert bath / 60 == pytest.approx(3.274, abs=0.0005)
    assert air.room_level_mg_m3(emission_mg_h=glacial, room_m3=30, changes_per_hour=6) == pytest.approx(358.7, abs=0.05)
    level = air.room_level_mg_m3(emission_mg_h=bath, room_m3=30, changes_per_hour=6)
    assert level == pytest.approx(2.18, abs=0.005)
    assert air.ppm_from_mg_m3(mg_m3=level, molar_mass_g_mol=60.052) == pytest.approx(0.874, abs=0.0005)


@pytest.mark.parametrize(("changes", "mixing", "mg_m3"), [(6, 0.1, 10.9), (1, 0.5, 13.1), (10, 0.5, 1.31)])
def test_the_same_bath_in_other_rooms(changes, mixing, mg_m3):
    """Calculated from the mixed box for 3.274 mg/min in 30 m³, rounded to three digits."""
    level = air.room_level_mg_m3(emission_mg_h=3.274 * 60, room_m3=30, changes_per_hour=changes, mixing=mixing)
    assert level == pytest.approx(mg_m3, rel=0.005)


def test_evaporation_agrees_with_an_independent_estimate():
    """1 m² of acetic acid at 100 ft/min and 20 °C: about 0.09 g/s by a Schmidt-number mass-transfer estimate."""
    grams_s = air.evaporation_mg_h(
        vapour_pressure_pa=1558, molar_mass_g_mol=60.052, area_m2=1, air_m_s=0.508 - 0.01, celsius=20
    ) / 3.6e6  # fmt: skip
    assert grams_s == pytest.approx(0.09, rel=0.15)


@pytest.mark.parametrize(("hours", "share"), [(0, 0), (0.25, 0.78), (0.5, 0.95), (1, 0.9975)])
def test_a_room_fills_up_as_calculated(hours, share):
    """Calculated at 6 changes and perfect mixing: 78 % after 15 min, 95 % after 30 min, 99.75 % after 1 h."""
    room = {"emission_mg_h": 100.0, "room_m3": 30.0, "changes_per_hour": 6.0, "mixing": 1.0}
    level = air.room_level_mg_m3(**room, hours=hours)
    assert level / air.room_level_mg_m3(**room) == pytest.approx(share, abs=0.005)


def test_air_flow_and_changes():
    """12 m² at 5.0 L/s per m² and 2.5 m: 216 m³/h, 7.2 changes. Calculated."""
    assert air.air_changes_per_hour(air_flow_m3_h=12 * 5.0 * 3.6, room_m3=12 * 2.5) == pytest.approx(7.2)


REFUSED = [
    lambda: air.ppm_from_mg_m3(mg_m3=-1, molar_mass_g_mol=60),
    lambda: air.ppm_from_mg_m3(mg_m3=1, molar_mass_g_mol=0),
    lambda: air.ppm_from_mg_m3(mg_m3=float("nan"), molar_mass_g_mol=60),
    lambda: air.pressure_over_solution_pa(pure_pa=1, content_percent=101, molar_mass_g_mol=60),
    lambda: air.evaporation_mg_h(**{**TRAY, "air_m_s": 0.6}, vapour_pressure_pa=1),
    lambda: air.evaporation_mg_h(**{**TRAY, "air_m_s": 0}, vapour_pressure_pa=1),
    lambda: air.evaporation_mg_h(**{**TRAY, "celsius": 61}, vapour_pressure_pa=1),
    lambda: air.evaporation_mg_h(**{**TRAY, "area_m2": 0}, vapour_pressure_pa=1),
    lambda: air.room_level_mg_m3(emission_mg_h=1, room_m3=30, changes_per_hour=0),
    lambda: air.room_level_mg_m3(emission_mg_h=1, room_m3=30, changes_per_hour=6, mixing=1.1),
    lambda: air.room_level_mg_m3(emission_mg_h=1, room_m3=30, changes_per_hour=6, hours=-1),
    lambda: air.air_changes_per_hour(air_flow_m3_h=1, room_m3=0),
    lambda: air.air_changes_per_hour(air_flow_m3_h=-1, room_m3=30),
    lambda: with_acid(cas="7757-83-7", grams=-1),
    lambda: chlorine_from_bleach(total_ml=-1, available_chlorine_g_l=50),
    lambda: in_closed_room(chlorine_from_bleach(total_ml=1, available_chlorine_g_l=50), room_m3=0),
]


@pytest.mark.parametrize("call", REFUSED)
def test_what_has_no_meaning_is_refused(call):
    with pytest.raises(OutOfRange):
        call()


def test_a_refusal_says_what_would_have_been_accepted():
    with pytest.raises(OutOfRange) as refusal:
        air.evaporation_mg_h(**{**TRAY, "air_m_s": 0.51}, vapour_pressure_pa=1)
    assert (refusal.value.name, refusal.value.value) == ("air_m_s", 0.51)
    assert (refusal.value.low, refusal.value.high) == (0, 0.5)


def test_the_ends_of_a_range_are_accepted():
    assert air.evaporation_mg_h(**{**TRAY, "air_m_s": 0.5, "celsius": 60}, vapour_pressure_pa=1) > 0
    assert air.pressure_over_solution_pa(pure_pa=100, content_percent=100, molar_mass_g_mol=60) == 100
    assert air.pressure_over_solution_pa(pure_pa=100, content_percent=0, molar_mass_g_mol=60) == 0


@given(st.floats(0.01, 1e5), st.floats(1, 1000), st.floats(0.1, 50), st.floats(0, 24))
def test_a_room_never_exceeds_its_long_run_level(emission, room, changes, hours):
    fixed = {"emission_mg_h": emission, "room_m3": room, "changes_per_hour": changes}
    assert air.room_level_mg_m3(**fixed, hours=hours) <= air.room_level_mg_m3(**fixed)


GASES = [  # calculated from molar masses, room of 30 m³ without fresh air, 20 °C
    ("100 g sodium metabisulfite", with_acid(cas="7681-57-4", grams=100), Gas.SULFUR_DIOXIDE, 67.4, 2247, 844),
    ("10 g thiosulfate", with_acid(cas="10102-17-7", grams=10), Gas.SULFUR_DIOXIDE, 2.58, 86.0, 32.3),
    ("10 g sodium sulfide", with_acid(cas="1313-82-2", grams=10), Gas.HYDROGEN_SULFIDE, 4.37, 145.6, 102.7),
    ("100 mL bleach", chlorine_from_bleach(total_ml=100, available_chlorine_g_l=50), Gas.CHLORINE, 5.0, 166.7, 56.5),
]


@pytest.mark.parametrize(("what", "release", "gas", "grams", "mg_m3", "ppm"), GASES)
def test_a_wrong_mixture_frees_the_calculated_gas(what, release, gas, grams, mg_m3, ppm):
    room = in_closed_room(release, room_m3=30)
    assert release.gas is gas
    assert release.grams == pytest.approx(grams, rel=0.002), what
    assert room.mg_m3 == pytest.approx(mg_m3, rel=0.001)
    assert room.ppm == pytest.approx(ppm, rel=0.001)


def test_a_small_release_can_pass_the_dangerous_level():
    """NIOSH IDLH, from memory: hydrogen sulfide 50 or 100 ppm by edition, chlorine 10 ppm."""
    sulfide = in_closed_room(with_acid(cas="1313-82-2", grams=10), room_m3=30)
    bleach = in_closed_room(chlorine_from_bleach(total_ml=100, available_chlorine_g_l=50), room_m3=30)
    assert sulfide.ppm > sulfide.danger_ppm == 50
    assert bleach.ppm > bleach.danger_ppm == 10


def test_alkali_frees_two_ammonia_from_ammonium_thiosulfate():
    """Calculated: 148.20 g hold 2 × 17.03 g."""
    assert with_alkali(cas="7783-18-8", grams=148.20).grams == pytest.approx(34.06)


@pytest.mark.parametrize("cas", ["64-19-7", "37199-66-9", "7732-18-5"])
def test_no_release_is_made_up_for_what_is_not_on_file(cas):
    with pytest.raises(UnknownSubstance):
        with_acid(cas=cas, grams=1)
