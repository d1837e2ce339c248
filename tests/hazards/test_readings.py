"""Which of two readings stands: the usual one, until somebody chooses and says why; the other is shown beside it."""

from labsys.hazards.classes import read_class
from labsys.hazards.mixtures import Choice, Ingredient, classify, settle
from labsys.hazards.substances import substance

# Hydroquinone is a phenol and Eye Dam. 1; at 2 % the summed limits give Eye Irrit. 2 (3 % is the limit of Eye Dam. 1),
# and the table for phenols alone gives Eye Dam. 1 from 1 %: CLP Annex I Tables 3.3.3 and 3.3.4, from memory.
HYDROQUINONE = [substance("123-31-9").as_ingredient(high_percent=2)]
RULE = ("Each ingredient alone, not added up", "Eye Dam. 1 H318")


def test_without_a_choice_the_usual_reading_stands_and_the_stricter_is_named_beside_it():
    settled = settle(classify(HYDROQUINONE), HYDROQUINONE, choices={})
    assert "H319" in settled.h_codes
    assert "H318" not in settled.h_codes
    (told,) = [one.text for one in settled.reasons if one.topic == RULE[0]]
    assert told.startswith("Eye Irrit. 2 H319: the usual reading of the rule, until somebody chooses and says why")
    assert "the other, Eye Dam. 1 H318" in told


def test_the_stricter_reading_taken_brings_its_names():
    settled = settle(classify(HYDROQUINONE), HYDROQUINONE, choices={RULE: Choice(True, "x")})
    assert ("H318" in settled.h_codes, "H319" in settled.h_codes) == (True, False)
    assert "hydroquinone" in settled.names


def test_where_the_two_hang_on_what_is_not_stated_the_stricter_stands():
    """Acute Tox. 3 by inhalation, form not named, 37 %: dust 0.5/0.37 = 1.35 mg/L, 4; vapour 3/0.37 = 8.1 mg/L, 3."""
    unnamed = [Ingredient(name="unnamed", high_percent=37, classes=(read_class("Acute Tox. 3 H331"),))]
    assert "H332" in classify(unnamed).h_codes
    settled = settle(classify(unnamed), unnamed, choices={})
    assert "H331" in settled.h_codes
    assert any("the form in which it is breathed in is not stated" in one.text for one in settled.reasons)


def test_a_choice_stands_and_names_who_chose_it():
    chosen = {RULE: Choice(False, "chosen by Odile: the supplier tested it")}
    settled = settle(classify(HYDROQUINONE), HYDROQUINONE, choices=chosen)
    assert settled.h_codes == classify(HYDROQUINONE).h_codes
    assert settled.reasons[-1].text == "Eye Irrit. 2 H319: chosen by Odile: the supplier tested it"
    assert "H318" in settle(classify(HYDROQUINONE), HYDROQUINONE, choices={RULE: Choice(True, "x")}).h_codes


def test_the_stricter_reading_of_naming_a_sensitiser_adds_its_name():
    """The 2025 EU text names ammonium dichromate from a tenth of its limit of 0.2 %: read in part, from memory."""
    weak = [substance("7789-09-5").as_ingredient(high_percent=0.03)]
    calculated = classify(weak)
    assert "Newer EU rule for naming sensitisers" in [one.rule for one in calculated.alternatives]
    assert "EUH208" not in [one.code for one in settle(calculated, weak, choices={}).euh]
    key = next(one.key for one in calculated.alternatives if one.euh)
    settled = settle(calculated, weak, choices={key: Choice(True, "x")})
    assert ("EUH208", ("ammonium dichromate",)) in [(one.code, one.names) for one in settled.euh]


def test_a_milder_alternative_stands_only_when_chosen():
    """By vapour columns a category for inhalation gives another result than by those of dust: CLP Table 3.1.1."""
    strong = [substance("50-00-0").as_ingredient(high_percent=10)]
    for alternative in classify(strong).alternatives:
        settled = settle(classify(strong), strong, choices={alternative.key: Choice(True, "x")})
        assert all(one in settled.classes for one in alternative.gives)
        assert not set(alternative.instead_of) & set(settled.classes)


def test_what_becomes_classified_no_longer_says_that_a_sheet_can_be_had():
    """EUH210 is for mixtures that are not classified: CLP Annex II 2.10, read in reachlex.eu."""
    citric = [substance("77-92-9").as_ingredient(high_percent=4)]
    calculated = classify(citric)
    assert (calculated.classes, [one.code for one in calculated.euh]) == ((), ["EUH210"])
    strict = settle(calculated, citric, choices={one.key: Choice(True, "x") for one in calculated.alternatives})
    assert strict.h_codes == ("H319",)
    assert "EUH210" not in [one.code for one in strict.euh]
    assert [one.code for one in settle(calculated, citric, choices={}).euh] == ["EUH210"]
