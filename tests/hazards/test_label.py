"""Label elements: precedence of pictograms, the signal word, which statements print."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.hazards.classes import HazardClass, label_rows, read_class
from labsys.hazards.errors import UnknownClass, UnknownStatement, UnresolvedStatement
from labsys.hazards.label import (
    NOT_CLASSIFIED,
    from_h_codes,
    hazard_codes_for,
    label_elements,
    pictograms_for,
    signal_word_for,
)
from labsys.hazards.mixtures import Ingredient, classify
from labsys.hazards.mixtures.model import Route
from labsys.hazards.precautions import MOST, all_precautions, choose_precautions
from labsys.hazards.substances import all_substances, substance

ARTICLE_26 = "calculated from CLP Article 26, read in lexparency.de and reachonline.eu"
MEMORY = "CLP Annex V, from memory"
PICTOGRAMS = [
    (["Skin Corr. 1B H314", "Eye Irrit. 2 H319"], ["GHS05"], ARTICLE_26),
    (["Eye Dam. 1 H318", "Acute Tox. 4 H302"], ["GHS05", "GHS07"], ARTICLE_26),
    (["Skin Corr. 1B H314", "Skin Sens. 1 H317"], ["GHS05", "GHS07"], ARTICLE_26),
    (["Skin Corr. 1B H314", "STOT SE 3 H335"], ["GHS05", "GHS07"], ARTICLE_26),
    (["Acute Tox. 3 H301", "Skin Sens. 1 H317"], ["GHS06"], ARTICLE_26),
    (["Acute Tox. 3 H331", "Acute Tox. 4 H302"], ["GHS06"], ARTICLE_26),
    (["Resp. Sens. 1 H334", "Skin Sens. 1 H317", "Eye Irrit. 2 H319"], ["GHS08"], ARTICLE_26),
    (["Resp. Sens. 1 H334", "Acute Tox. 4 H302"], ["GHS07", "GHS08"], ARTICLE_26),
    (["Carc. 2 H351", "Skin Sens. 1 H317", "Eye Irrit. 2 H319"], ["GHS07", "GHS08"], ARTICLE_26),
    (["Flam. Liq. 2 H225", "Eye Irrit. 2 H319", "STOT SE 3 H336"], ["GHS02", "GHS07"], MEMORY),
    (["Aquatic Chronic 2 H411"], ["GHS09"], MEMORY),
    (["Aquatic Chronic 3 H412"], [], MEMORY),
    (["Flam. Gas 1 H220", "Press. Gas Liq. H280"], ["GHS02"], ARTICLE_26),
    (["Acute Tox. 3 H331", "Press. Gas Liq. H280"], ["GHS06"], ARTICLE_26),
    (["Ox. Gas 1 H270", "Press. Gas Liq. H280"], ["GHS03", "GHS04"], ARTICLE_26),
    (["Expl. 1.1 H201", "Flam. Sol. 1 H228"], ["GHS01"], ARTICLE_26),
    (["Self-react. B H241"], ["GHS01", "GHS02"], ARTICLE_26 + ": both are compulsory within one class"),
    (["STOT SE 1 H370", "STOT SE 3 H335"], ["GHS08"], ARTICLE_26 + ": one pictogram within a class"),
    (["STOT RE 2 H373", "STOT SE 3 H335"], ["GHS07", "GHS08"], ARTICLE_26 + ": two classes"),
    (["Met. Corr. 1 H290", "Skin Irrit. 2 H315"], ["GHS05", "GHS07"], "UN GHS on corrosive to metals, from memory"),
    ([], [], "calculated: nothing classified, nothing shown"),
]


@pytest.mark.parametrize(("classes", "pictograms", "source"), PICTOGRAMS, ids=lambda value: str(value)[:60])
def test_pictograms_follow_precedence(classes, pictograms, source):
    assert list(pictograms_for([read_class(text) for text in classes])) == pictograms, source


@pytest.mark.parametrize(
    ("classes", "word"),
    [
        (["Skin Irrit. 2 H315"], "Warning"),
        (["Skin Irrit. 2 H315", "Eye Dam. 1 H318"], "Danger"),
        (["Carc. 2 H351"], "Warning"),
        (["Carc. 1B H350"], "Danger"),
        (["Aquatic Acute 1 H400"], "Warning"),
        (["Aquatic Chronic 2 H411"], ""),
        (["Lact. H362"], ""),
        (["Flam. Liq. 3 H226"], "Warning"),
        (["Flam. Liq. 2 H225"], "Danger"),
        (["Acute Tox. 3 H301"], "Danger"),
        (["Acute Tox. 4 H302"], "Warning"),
        (["Skin Sens. 1 H317"], "Warning"),
        (["Resp. Sens. 1 H334"], "Danger"),
        (["STOT RE 1 H372"], "Danger"),
        (["STOT RE 2 H373"], "Warning"),
        ([], ""),
    ],
)
def test_danger_replaces_warning(classes, word):
    """CLP Article 20(3) and Annex I label tables, from memory; acute toxicity rows read in reachlex.eu."""
    assert signal_word_for([read_class(text) for text in classes]) == word


@pytest.mark.parametrize(
    ("classes", "codes", "source"),
    [
        (["Skin Corr. 1B H314", "Eye Dam. 1 H318"], ["H314"], "UN GHS Rev. 9, 1.4.10.5.3.3; CLP Article 27"),
        (["Aquatic Acute 1 H400", "Aquatic Chronic 1 H410"], ["H410"], "UN GHS Rev. 9, 1.4.10.5.3.3"),
        (["Aquatic Acute 1 H400", "Aquatic Chronic 2 H411"], ["H400", "H411"], "UN GHS Rev. 9, 1.4.10.5.3.3"),
        (["Eye Dam. 1 H318", "Eye Irrit. 2 H319"], ["H318"], "CLP Article 27, from memory"),
        (["Acute Tox. 3 H301", "Acute Tox. 3 H311"], ["H301+H311"], "CLP Annex I 3.1.4, read in reachlex.eu"),
        (
            ["Acute Tox. 3 H301", "Acute Tox. 4 H312"],
            ["H301", "H312"],
            "CLP Annex III: one category joins, from memory",
        ),
        (["Acute Tox. 2 H300", "Acute Tox. 1 H330"], ["H300+H330"], "CLP Annex III, from memory"),
        (["Carc. 2 H351", "Eye Irrit. 2 H319"], ["H319", "H351"], "calculated: nothing said twice"),
    ],
)
def test_a_statement_another_one_includes_is_left_out(classes, codes, source):
    assert list(hazard_codes_for([read_class(text) for text in classes])) == codes, source


LABELS = [
    ("28 % acetic acid", {"64-19-7": 28}, ["GHS05"], "Danger", ["H314"], "calculated from its Annex VI limits"),
    ("12 % acetic acid", {"64-19-7": 12}, ["GHS07"], "Warning", ["H315", "H319"], "calculated from Annex VI limits"),
    (
        "metol-hydroquinone developer",
        {"123-31-9": 1.2, "55-55-0": 0.3, "7757-83-7": 8, "497-19-8": 7, "7758-02-3": 0.2},
        ["GHS07", "GHS08"],
        "Warning",
        ["H317", "H319", "H341", "H351", "H412"],
        "calculated from CLP Annex I",
    ),
    (
        "0.5 % formaldehyde",
        {"50-00-0": 0.5},
        ["GHS07", "GHS08"],
        "Danger",
        ["H317", "H332", "H350"],
        "calculated from its entry since ATP22: Skin Sens. 1A from 0.1 %, Carc. 1B from 0.1 %, 100/0.005 = 20 000 ppmV",
    ),
    ("3 % selenite", {"10102-18-8": 3}, ["GHS06"], "Danger", ["H301", "H317", "H412"], "calculated from CLP Annex I"),
]


@pytest.mark.parametrize(("what", "parts", "pictograms", "word", "codes", "source"), LABELS, ids=lambda v: str(v)[:30])
def test_a_calculated_mixture_gets_its_label(what, parts, pictograms, word, codes, source):
    found = label_elements(classify([substance(cas).as_ingredient(high_percent=p) for cas, p in parts.items()]))
    assert list(found.pictograms) == pictograms, source
    assert found.signal_word == word, source
    assert [code for code, _ in found.hazard_statements] == codes, source
    assert NOT_CLASSIFIED not in found.supplemental


def test_an_unclassified_bath_says_so_and_still_names_its_sensitiser():
    bath = [
        substance("123-31-9").as_ingredient(high_percent=0.12),
        substance("7757-83-7").as_ingredient(high_percent=1),
    ]
    found = label_elements(classify(bath))
    assert (found.pictograms, found.signal_word, found.hazard_statements) == ((), "", ())
    assert found.supplemental == (
        "Not classified as hazardous by calculation.",
        "Keep away from acids: sodium sulfite with acid frees sulfur dioxide.",
    )
    assert found.euh_statements == (
        ("EUH208", "Contains hydroquinone. May produce an allergic reaction."),
        ("EUH210", "Safety data sheet available on request."),
    )


def test_an_unknown_poison_is_declared_on_the_label():
    unknown = Ingredient(name="x", high_percent=5, unknown_toxicity=frozenset({Route.ORAL}))
    assert any("5 % of the mixture" in text for text in label_elements(classify([unknown])).supplemental)


@pytest.mark.parametrize("entry", all_substances(), ids=lambda entry: entry.cas)
def test_the_codes_of_a_sheet_give_the_same_label_as_its_classes(entry):
    """The same label by two ways, for every reference substance; physical classes included."""
    by_codes = from_h_codes([*(hazard.code for hazard in entry.classes), *entry.euh])
    by_classes = pictograms_for(entry.classes)
    if any("most severe" in text for text in by_codes.assumptions):
        assert set(by_classes) <= set(by_codes.pictograms)
    else:
        assert by_codes.pictograms == by_classes
    assert tuple(code for code, _ in by_codes.hazard_statements) == hazard_codes_for(entry.classes)
    assert tuple(code for code, _ in by_codes.euh_statements) == entry.euh


def test_joined_codes_of_a_sheet_are_taken_apart_and_joined_again():
    found = from_h_codes(["H302 + H332", "H302"])
    assert found.hazard_statements == (("H302+H332", "Harmful if swallowed or if inhaled."),)


def test_a_code_that_leaves_a_choice_is_taken_at_its_worst_and_says_so():
    """H272 is Danger for category 2 and Warning for category 3."""
    found = from_h_codes(["H272"])
    assert found.signal_word == "Danger"
    assert found.assumptions == ("H272 is taken as Ox. Liq. 2, the most severe it can be.",)
    assert from_h_codes(["H272"], is_powder=True).assumptions == (
        "H272 is taken as Ox. Sol. 2, the most severe it can be.",
    )
    assert from_h_codes(["H314"]).assumptions == ()


def test_the_names_of_the_sheet_fill_the_allergy_statement():
    assert from_h_codes(["EUH208"], sensitisers=["metol"]).euh_statements[0][1].startswith("Contains metol.")
    assert from_h_codes(["EUH208"], names=["metol"]).euh_statements[0][1].startswith("Contains metol.")
    with pytest.raises(UnresolvedStatement):
        from_h_codes(["EUH208"])


def test_the_precautions_of_the_sheet_win():
    found = from_h_codes(["H319"], p_codes=["P280", "P305+P351+P338"])
    assert [code for code, _ in found.precautionary_statements] == ["P280", "P305+P351+P338"]


@pytest.mark.parametrize("code", ["H999", "P280", "R45", "", "EUH999"])
def test_what_is_no_hazard_code_is_refused(code):
    with pytest.raises(UnknownStatement):
        from_h_codes([code])


def test_a_class_that_does_not_exist_has_no_pictogram():
    with pytest.raises(UnknownClass):
        pictograms_for([HazardClass("Carc.", "3", "H351")])


@pytest.mark.parametrize(
    ("codes", "kept", "dropped", "source"),
    [
        (["H314"], ["P280", "P305+P351+P338", "P303+P361+P353"], ["P302+P352"], "CLP Annex I, from memory"),
        (["H314", "H332"], ["P260"], ["P261"], "CLP Article 28: redundant statements, from memory"),
        (["H302", "H314"], ["P301+P330+P331"], ["P301+P312", "P330"], "redundant ones dropped, from memory"),
        (["H318", "H319"], ["P310"], ["P337+P313"], "redundant ones dropped, from memory"),
        (["H301"], ["P301+P310", "P264"], ["P321"], "CLP Annex I Table 3.1.3, read in reachlex.eu"),
        (["H317"], ["P280", "P302+P352", "P333+P313"], ["P321"], "CLP Annex I, from memory"),
        (["H412"], ["P273", "P501"], ["P391"], "CLP Annex I: P391 is not given for Chronic 3, from memory"),
        (["H410"], ["P273", "P391", "P501"], [], "CLP Annex I, from memory"),
        (["H351"], ["P201", "P280", "P308+P313"], [], "CLP Annex I, from memory"),
        (["H225"], ["P210", "P280"], [], "CLP Annex I, from memory"),
    ],
)
def test_precautions_keep_what_matters_and_drop_what_is_said_twice(codes, kept, dropped, source):
    chosen, missing = choose_precautions(codes)
    assert set(kept) <= set(chosen), source
    assert not set(dropped) & set(chosen), source
    assert missing == ()


H_CODES = sorted({row.hazard.code for row in label_rows() if row.hazard.code.startswith("H")})


@given(st.lists(st.sampled_from(H_CODES), max_size=8))
def test_any_label_prints_six_precautions_at_most_and_no_blank(codes):
    found = from_h_codes(codes)
    assert len(found.precautionary_statements) <= MOST
    assert len(set(found.precautionary_statements)) == len(found.precautionary_statements)
    printed = [*found.hazard_statements, *found.precautionary_statements, *found.euh_statements]
    assert not any(set("…<>[]") & set(text) for _, text in printed)


@given(st.lists(st.sampled_from(H_CODES), min_size=1, max_size=8))
def test_every_hazard_with_a_row_brings_some_precaution(codes):
    chosen, missing = choose_precautions(codes)
    assert set(missing) == {code for code in codes if not all_precautions(code)}
    assert bool(chosen) is any(code not in missing for code in codes)


@given(st.lists(st.sampled_from([row.hazard for row in label_rows() if row.hazard.code]), max_size=8))
def test_precedence_takes_pictograms_away_and_never_adds_or_empties(classes):
    shown = set(pictograms_for(classes))
    possible = {code for row in label_rows() if row.hazard in classes for code in row.pictograms}
    assert shown <= possible
    assert bool(shown) is bool(possible)
    assert "GHS07" not in shown or "GHS06" not in shown
