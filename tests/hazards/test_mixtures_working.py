"""What a classification says besides its classes: the working, other rules, names, what stays open; and diluting."""

import pytest

from labsys.hazards.classes import Family, HazardClass, read_class
from labsys.hazards.errors import BadCas, OutOfRange, UnknownClass
from labsys.hazards.mixtures import Ingredient, classify, dilute, read_limit, strength_by_mass
from labsys.hazards.mixtures.acute import mixture_ate
from labsys.hazards.mixtures.classify import Part, blend
from labsys.hazards.mixtures.model import Ate, Route
from labsys.hazards.mixtures.surroundings import flammable_liquid
from labsys.hazards.substances import substance
from tests.hazards.making import (
    ACETIC,
    AMMONIUM_DICHROMATE,
    BLEACH,
    CARBONATE,
    DEVELOPER,
    HYDROQUINONE,
    KOH,
    METOL,
    NAOH,
    PEROXIDE,
    SILVER_NITRATE,
    SULFITE,
    of,
    plain,
)


def test_both_results_are_shown_where_the_ph_rule_and_the_limits_differ():
    found = classify(of({NAOH: 0.6}), ph=13)
    alternative = next(a for a in found.alternatives if "pH" in a.rule)
    assert alternative.outcome == "Skin Irrit. 2 H315, Eye Irrit. 2 H319"
    assert any("pH 13" in reason.text for reason in found.reasons)


@pytest.mark.parametrize(("ph", "corrosive"), [(2.0, True), (2.1, False), (11.4, False), (11.5, True)])
def test_the_ph_is_extreme_at_its_bounds(ph, corrosive):
    """CLP Annex I 3.2.3, read in reachonline.eu: 2 and below, 11.5 and above."""
    assert ("H314" in classify(of({CARBONATE: 1}), ph=ph).h_codes) is corrosive


def test_both_results_are_shown_for_a_phenol_and_the_eye():
    """1.2 % of a phenol: irritant when added up (1 to 3 %), damaging when it counts alone (from 1 %)."""
    found = classify(of(DEVELOPER), ph=10.2)
    assert [a.outcome for a in found.alternatives] == ["Eye Dam. 1 H318"]
    assert "hydroquinone" in found.alternatives[0].why


def test_the_vapour_columns_are_shown_where_no_form_of_inhalation_is_named():
    """Acute Tox. 3 at 37 %: dust and mist 0.5/0.37 = 1.35 mg/L, category 4; vapour 3/0.37 = 8.1 mg/L, category 3."""
    found = classify([plain("unnamed", 37, "Acute Tox. 3 H331")])
    assert "Acute Tox. 4 H332" in map(str, found.classes)
    assert ("Vapour columns for inhalation", "Acute Tox. 3 H331") in [(a.rule, a.outcome) for a in found.alternatives]


def test_the_newer_rule_for_naming_sensitisers_is_shown():
    found = classify(of({AMMONIUM_DICHROMATE: 0.05}))
    assert "EUH208 naming ammonium dichromate" in [a.outcome for a in found.alternatives]
    assert "EUH208" not in [supplement.code for supplement in found.euh]


def test_a_tenth_of_a_low_own_limit_names_a_sensitiser():
    """Own limit 0.05 %: classified from there, named from 0.005 % (CLP Annex I Table 3.4.6, from memory)."""
    limit = read_limit("Skin Sens. 1A H317: C>=0.05")
    named = classify([plain("isothiazolone", 0.005, "Skin Sens. 1A H317", limits=(limit,))])
    assert [supplement.names for supplement in named.euh if supplement.code == "EUH208"] == [("isothiazolone",)]
    assert classify([plain("isothiazolone", 0.05, "Skin Sens. 1A H317", limits=(limit,))]).h_codes == ("H317",)


def test_the_working_says_that_an_m_factor_was_assumed():
    reasons = [reason.text for reason in classify(of(DEVELOPER)).reasons]
    assert any("M assumed 1" in text and "metol" in text for text in reasons)
    assert any("hydroquinone 1.2 % × 10" in text for text in reasons)


def test_a_label_names_what_classifies_and_every_other_sensitiser():
    found = classify(of(DEVELOPER))
    assert found.names == (substance(HYDROQUINONE).name, substance(METOL).name)
    assert "EUH208" not in [supplement.code for supplement in found.euh]


@pytest.mark.parametrize("percent", [1.2, 0.12, 0.03, 0.0001])
def test_a_sensitiser_at_any_strength_keeps_skin_protection(percent):
    """Common practice: a developer that calculates as unclassified is still the usual cause of dermatitis."""
    assert classify(of({METOL: percent})).sensitisers == (substance(METOL).name,)


def test_a_mixture_without_sensitiser_asks_for_no_skin_protection_of_that_kind():
    assert classify(of({ACETIC: 2, METOL: 0})).sensitisers == ()


@pytest.mark.parametrize(
    ("parts", "codes"),
    [
        ({SULFITE: 0.5}, ["EUH031"]),
        ({"10102-17-7": 10}, ["EUH031"]),
        ({"1313-82-2": 1}, ["EUH031"]),
        ({"13746-66-2": 2}, ["EUH032"]),
        ({BLEACH: 1}, ["EUH031"]),
        ({BLEACH: 5}, []),
        ({ACETIC: 2}, []),
    ],
)
def test_what_frees_gas_with_acid_is_said_whatever_its_content(parts, codes):
    """Sulfites, thiosulfates, sulfides, hypochlorite, cyanide complexes; bleach is official from 5 %."""
    assert [found.code for found in classify(of(parts)).screening] == codes


def test_bleach_from_five_percent_carries_the_statement_officially():
    """Annex VI limit for sodium hypochlorite solution, 5 % active chlorine (from memory)."""
    assert "EUH031" in [supplement.code for supplement in classify(of({BLEACH: 5})).euh]


def test_what_only_a_test_decides_is_left_open_and_not_guessed():
    found = classify(of({"67-63-0": 70, SILVER_NITRATE: 1}))
    assert any("flash point" in point and "propan-2-ol" in point for point in found.open_points)
    assert any(point.startswith("Ox. Sol.") for point in found.open_points)
    assert not any(hazard.name in ("Flam. Liq.", "Ox. Sol.") for hazard in found.classes)


def test_a_statement_no_rule_carries_over_is_left_to_judgement():
    found = classify([plain("x", 5, euh=("EUH071", "EUH031"))])
    assert found.open_points == ("EUH071 of x is carried over by judgement: it holds 5 %.",)


def test_what_merely_irritates_is_not_named_beside_what_burns():
    """CLP Article 18(3)(b) names substances for skin corrosion and eye damage, not for irritation, from memory."""
    found = classify([plain("burns eyes", 4, "Eye Dam. 1 H318"), plain("itches", 12, "Skin Irrit. 2 H315")])
    assert set(found.h_codes) == {"H318", "H315"}
    assert found.names == ("burns eyes",)


def test_an_extreme_ph_names_what_brings_it():
    assert classify(of({NAOH: 0.3, KOH: 0}), ph=13).names == ("sodium hydroxide",)


def test_a_flash_point_closes_the_open_point():
    """99 % acetic acid: flash point 39 °C and boiling point 118 °C from the chemicals library 1.5.2."""
    found = classify(of({ACETIC: 99}), flash_point_celsius=39, boiling_point_celsius=117.9)
    assert {"H226", "H314"} <= set(found.h_codes)
    assert found.open_points == ()


@pytest.mark.parametrize(
    ("flash", "boiling", "code"),
    [
        (22.9, 35, "H224"),
        (22.9, 35.1, "H225"),
        (12, None, "H225"),
        (23, 80, "H226"),
        (60, 80, "H226"),
        (60.1, 80, None),
    ],
)
def test_flammable_liquids_follow_the_table(flash, boiling, code):
    """CLP Annex I Table 2.6.1, from memory."""
    found = flammable_liquid(flash_point_celsius=flash, boiling_point_celsius=boiling)
    assert (found and found.code) == code


def test_a_specific_limit_classifies_a_physical_hazard():
    """Hydrogen peroxide: Ox. Liq. 2 from 50 %, Ox. Liq. 1 from 70 % (Annex VI, from memory)."""
    assert "H271" not in classify(of({PEROXIDE: 60})).h_codes
    assert {"H272"} <= set(classify(of({PEROXIDE: 60})).h_codes)
    assert {"H271"} <= set(classify(of({PEROXIDE: 70})).h_codes)


def test_a_thick_liquid_is_no_aspiration_hazard():
    thick = classify([plain("oil", 50, "Asp. Tox. 1 H304")], viscosity_mm2_s=20.6)
    assert thick.classes == ()
    assert "20.6" in thick.reasons[0].text
    assert classify([plain("oil", 50, "Asp. Tox. 1 H304")], viscosity_mm2_s=20.5).h_codes == ("H304",)


def test_the_limit_for_telling_a_workplace_limit_is_one_percent():
    """CLP Annex II 2.10, read in reachlex.eu."""
    with_limit = plain("glycol", 1, has_workplace_limit=True)
    assert [s.code for s in classify([with_limit]).euh] == ["EUH210"]
    assert classify([plain("glycol", 0.99, has_workplace_limit=True)]).euh == ()


def test_an_unknown_poison_of_ten_percent_is_not_left_out_of_the_sum():
    """CLP Annex I 3.1.3.6.1: up to 10 % the plain formula; above, the unknown part is taken off."""
    known = plain("a", 10, "Acute Tox. 3 H301")
    ten, eleven = (plain("b", p, unknown_toxicity=frozenset({Route.ORAL})) for p in (10, 11))
    assert mixture_ate([known, ten], route=Route.ORAL) == pytest.approx(1000)
    assert mixture_ate([known, eleven], route=Route.ORAL) == pytest.approx(890)


def test_a_given_estimate_goes_before_the_converted_one():
    """Copper sulfate pentahydrate, oral 481 mg/kg (ATP 9, from memory): 30 % gives 1603 mg/kg."""
    assert mixture_ate(of({"7758-99-8": 30}), route=Route.ORAL) == pytest.approx(1603.3, abs=0.1)


def test_two_parts_and_water_are_blended_and_the_same_substance_is_added_up():
    a = tuple(of({SULFITE: 10, HYDROQUINONE: 2}))
    b = tuple(of({SULFITE: 20}))
    mixed = {i.cas: i.high_percent for i in blend([Part(a, 0.25), Part(b, 0.25)])}
    assert mixed == {SULFITE: 7.5, HYDROQUINONE: 0.5}


def test_blended_parts_keep_the_worse_of_what_either_says():
    one = Ingredient(name="x", high_percent=10, classes=(read_class("Skin Irrit. 2 H315"),), m_acute=10)
    two = Ingredient(name="x", high_percent=10, families=frozenset({Family.ACID}), m_acute=100)
    (mixed,) = blend([Part((one,), 0.5), Part((two,), 0.5)])
    assert (mixed.high_percent, mixed.m_acute, mixed.families) == (10, 100, frozenset({Family.ACID}))
    assert mixed.classes == one.classes


@pytest.mark.parametrize("fractions", [(0.6, 0.6), (0, 0.5), (-0.1, 0.5)])
def test_parts_that_are_more_than_the_whole_or_nothing_are_refused(fractions):
    parts = [Part(tuple(of({SULFITE: 1})), fraction) for fraction in fractions]
    with pytest.raises(OutOfRange):
        blend(parts)


def test_strength_by_mass_is_calculated_from_the_masses():
    """1+9 of a concentrate of 1.2 g/mL: 120 g in 120 + 898.4 g."""
    strength = strength_by_mass(volume_fraction=0.1, density_g_per_ml=1.2)
    assert strength == pytest.approx(120 / (120 + 900 * 0.9982))
    assert strength_by_mass(volume_fraction=1, density_g_per_ml=1.3) == 1


@pytest.mark.parametrize("strength", [0, -0.1, 1.01])
def test_a_strength_that_is_no_dilution_is_refused(strength):
    with pytest.raises(OutOfRange):
        dilute(of(DEVELOPER), strength_fraction=strength)


@pytest.mark.parametrize(
    ("fields", "error"),
    [
        ({"high_percent": 101}, OutOfRange),
        ({"high_percent": -1}, OutOfRange),
        ({"cas": "64-19-8"}, BadCas),
        ({"classes": (HazardClass("Carc.", "2", "H350"),)}, UnknownClass),
        ({"m_acute": 0.5}, OutOfRange),
        ({"m_chronic": 0}, OutOfRange),
        ({"ates": (Ate(Route.ORAL, 0),)}, OutOfRange),
    ],
)
def test_an_ingredient_that_cannot_be_is_refused(fields, error):
    with pytest.raises(error):
        Ingredient(**{"name": "x", "high_percent": 1, **fields})


def test_a_ph_that_cannot_be_is_refused():
    with pytest.raises(OutOfRange):
        classify([], ph=140)


@pytest.mark.parametrize("text", ["Skin Irrit. 2 H315", "Skin Irrit. 2 H315: C>10", "Nonsense: C>=1"])
def test_a_specific_limit_that_does_not_read_is_refused(text):
    with pytest.raises(UnknownClass):
        read_limit(text)


def test_water_alone_is_not_classified_and_says_why():
    found = classify([])
    assert (found.classes, found.euh, found.is_classified) == ((), (), False)
    assert found.reasons[0].text == "no declared ingredient reaches any cut-off"


@pytest.mark.parametrize(
    ("volume_fraction", "density", "name"), [(0, 1.1, "volume_fraction"), (1.01, 1.1, "volume_fraction"), (0.1, 0, "d")]
)
def test_a_strength_from_impossible_figures_is_refused(volume_fraction, density, name):
    with pytest.raises(OutOfRange) as refusal:
        strength_by_mass(volume_fraction=volume_fraction, density_g_per_ml=density)
    assert refusal.value.name.startswith(name)


def test_a_refused_content_says_what_would_have_been_accepted():
    with pytest.raises(OutOfRange) as refusal:
        plain("x", 120)
    assert (refusal.value.name, refusal.value.value, refusal.value.low, refusal.value.high) == (
        "high_percent",
        120,
        0,
        100,
    )
