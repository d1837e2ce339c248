"""The page of the bench: each question asked by its address; each figure from outside the project names its source."""

import pytest
from sqlalchemy import select

from labsys.bench.questions import GROUPS
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import CylinderClass
from labsys.labware.models import OwnedCylinder
from tests.bench.asking import amounts, answer_element, ask
from tests.support.pages import HTML, queries_for, tree, words

pytestmark = pytest.mark.sqlite_only

TRADE = "common practice, no source"
KNOWN = [
    ("dilute", {"dilution": "1+6", "volume": "2500ml"}, ["357 mL", "2143 mL"], TRADE + ": 357 mL in a 2.5 L tank"),
    ("dilute", {"dilution": "1+4", "volume": "2.5 L", "kind": "fixer"}, ["500 mL", "2000 mL"], TRADE),
    ("dilute", {"dilution": "10 ml/L", "volume": "2,5 l", "kind": "wetting_agent"}, ["25 mL", "2475 mL"], TRADE),
    ("dilute", {"dilution": "5 %", "volume": "1 L", "kind": "stop"}, ["50 mL", "950 mL"], TRADE + ": 50 mL a litre"),
    ("dilute", {"dilution": "stock", "volume": "1 L"}, ["1000 mL"], "calculated: undiluted"),
    ("dilute", {"dilution": "1+1+100", "volume": "1020 mL"}, ["10 mL", "10 mL", "1000 mL"],
     "calculated: 102 parts of 10 mL"),
    ("dilute", {"dilution": "1+8", "volume": "1 US gal"}, ["421 mL", "3365 mL"],
     "calculated from 3785.4 mL, a US gallon of 231 cubic inches"),
    ("make-from", {"dilution": "1+1+100", "left": "10 mL"}, ["1020 mL", "10 mL", "1000 mL"],
     "calculated: 102 parts of 10 mL"),
    ("develop", {"minutes": "9:30", "now": "20"}, ["9:30 min"], "calculated: at the temperature of the data sheet"),
    ("make-from", {"dilution": "1+6", "left": "180 mL"}, ["1260 mL", "1080 mL"], "calculated from 180 * 7"),
    ("make-from", {"dilution": "1+19", "left": "125ml"}, ["2500 mL", "2375 mL"], TRADE + ": 125 mL in 2.5 L"),
    ("series", {"first": "1+9", "second": "1+9", "volume": "500ml"}, ["1+99", "50 mL"], "calculated from 10 * 10"),
    ("weaken", {"strong": "99.5", "wanted": "28", "volume": "32 US fl oz"}, ["266 mL", "680 mL"],
     "US Army SS0513: 9 fl oz and 23 fl oz for 32"),
    ("weaken", {"strong": "99.5", "wanted": "28", "volume": "1 L"}, ["281 mL", "719 mL"],
     "calculated from 28/99.5; US Army SS0513 rounds the same to 9 fl oz in 32"),
    ("least", {"dilution": "1+50", "films": "2", "least": "6", "volume": "500ml", "largest": "1 L"},
     ["612 mL", "12 mL", "600 mL"], "calculated from 2 * 6 * 51"),
    ("temper", {"volume": "1 L", "target": "20", "hot": "50", "cold": "12"}, ["211 mL", "789 mL"],
     "calculated from 1000 * 8/38"),
    ("cool", {"start": "24", "room": "18", "minutes": "8", "tau": "60"}, ["23.3 °C", "23.6 °C"],
     "calculated from 18 + 6 exp(-8/60), and its mean"),
    ("develop", {"minutes": "10", "now": "24"}, ["6:55 min"], "calculated from 10 * 2.5^-0.4 = 6.93 min"),
    ("capacity", {"material": "film", "size": "120", "count": "50", "bath": "2.5 L"}, ["100 %", "0"],
     TRADE + ": 20 rolls a litre"),
    ("clearing", {"fresh": "45", "now": "70"}, ["Plenty", "2:20 min"], "calculated from NAVEDTRA 14209: 2 * 70 s"),
    ("clearing", {"fresh": "45", "now": "90"}, ["Exhausted"], "NAVEDTRA 14209: discard at twice the fresh time"),
    ("two-baths", {"first": "1 L", "sheets": "60"}, ["40", "1 of 3"], "calculated from 50 sheets a litre"),
    ("two-baths", {"first": "1 L", "sheets": "200"}, ["Renew both"], "S. Anchell 2008, p. 107: after three turns"),
    ("replenish", {"rate": "25 mL", "units": "140", "tank": "3.5 L"}, ["3500 mL", "63.2 %"], "calculated: 1 - 1/e"),
    ("wash", {"size": "135-36", "volume": "500 mL"}, ["3", "7:15 min"],
     "three fills: an encyclopaedia on washing, common practice; calculated: log2(2.12 / 0.014) = 7.24 min"),
    ("wash", {"material": "fibre", "size": "8x10 in", "count": "10", "volume": "10 L"}, ["12", "30 min"],
     TRADE + ": 12 changes, or 30 min running, for fibre"),
    ("wash", {"material": "rc", "size": "8x10 in", "count": "10", "volume": "4 L"}, ["3", "2 min"],
     TRADE + ": RC paper is washed for 2 to 4 min"),
    ("wash", {"size": "135-36", "volume": "500 mL", "water": "10"}, ["3", "14:30 min"],
     "calculated from US Army TM 11-2323, par. 33: twice the time at 10 °C, 2 × 7.24 min"),
    ("stop", {"acid": "acetic", "now": "5.2"}, ["Stops", "80.2 %"],
     "calculated: 73.5 % neutralised at pH 5.2, of 91.7 % at pH 5.8"),
    ("stop", {"acid": "citric", "now": "6"}, ["Exhausted", "105.4 %"],
     "calculated by hand from pKa 3.13, 4.76 and 6.40; pH 5.8 at most: P. Glafkides"),
    ("gas", {"what": "acid 7681-57-4", "amount": "100", "room": "40"}, ["630 ppm", "67 g"],
     "calculated by hand: 100 / 190.1 × 2 × 64.06 = 67.4 g; 1685 mg/m³ × 24.055 / 64.06 = 633 ppm"),
    ("meet", {"first": "acid", "second": "hypochlorite"}, ["Keep apart"],
     "S. Anchell 2008, p. 171: acetic acid and household bleach"),
    ("air", {"content": "2", "tray": "12x16 in", "room": "30", "flow": "180"}, ["11 mg/m³", "200 mg/h"],
     "calculated by hand: 10.9 mg/m³ for a tray of 30 × 40 cm in 30 m³ at 6 changes, badly mixed"),
    ("cool", {"start": "24", "room": "18", "minutes": "8", "read_at": "8", "read": "23.2"},
     ["23.2 °C", "23.6 °C", "55.9 min"], "calculated by hand: -8 / ln(5.2 / 6)"),
    ("develop", {"minutes": "8", "at": "24", "now": "24", "high": "26", "room": "18"}, ["8 min", "8:20 min"],
     "calculated by hand: 8.28 to 8.30 min at the mean of 23.6 °C"),
    ("temper", {"volume": "1 L", "target": "20", "hot": "50", "cold": "12", "room": "10", "vessel": "steel",
                "weight": "500"}, ["226 mL", "774 mL"],
     "calculated by hand: 500 × 0.5 / 4.19 = 60 mL of water; (1060 × 20 - 60 × 10 - 1000 × 12) / 38"),
    ("silver", {"size": "120", "count": "20", "bath": "1 L"}, ["1 to 8.3 g", "1 to 8.3 g/L"],
     "calculated; used fixer is quoted at 3 to 4 g/L by a university's page on silver recovery"),
    ("powders", {"formula": "mq-borax", "volume": "500 mL"}, ["375 mL", "500 mL"], "calculated: half a litre of it"),
]  # fmt: skip


@pytest.mark.parametrize(("key", "typed", "figures", "source"), KNOWN)
def test_the_figure_is_the_one_known_from_elsewhere(member, key, typed, figures, source):
    assert amounts(member, key, **typed) == figures, source


def test_every_kind_of_question_is_among_the_known_figures():
    assert {key for key, *_ in KNOWN} == {question.key for _, questions in GROUPS for question in questions}


@pytest.mark.parametrize(("key", "typed"), {key: typed for key, typed, *_ in KNOWN}.items())
def test_every_answer_shows_its_formula_and_its_source(member, key, typed):
    answer = answer_element(member, key, **typed)
    formulas = [words(one) for one in answer.iter(HTML + "p") if one.get("class") == "formula"]
    assert any("=" in told for told in formulas) or key == "meet"
    source = words(answer).split("Source: ")[1]
    assert len(source) > 20
    assert source.endswith(".")


@pytest.mark.parametrize("key", ["dilute", "temper", "develop", "wash", "capacity", "replenish", "stop", "cool"])
def test_a_figure_that_hangs_on_a_reading_says_how_far_off_it_may_be(member, key):
    assert " ± " in ask(member, key, **next(typed for name, typed, *_ in KNOWN if name == key))


def test_without_a_question_all_are_closed_and_none_is_answered(member):
    page = tree(member.get("/bench").get_data(as_text=True))
    assert not [one for one in page.iter(HTML + "details") if one.get("open") is not None and one.get("id")]
    assert not [one for one in page.iter() if (one.get("id") or "").endswith("-answer")]
    assert not [one for one in page.iter(HTML + "button") if one.get("class") == "primary"]


def test_a_question_that_is_not_asked_here_opens_nothing(member):
    assert member.get("/bench?ask=lottery").status_code == 200


def test_one_to_n_is_never_guessed_but_shown_both_ways(member):
    answer = answer_element(member, "dilute", dilution="1:4", volume="2500ml", kind="fixer")
    told = words(answer)
    assert "500 mL concentrate and 2000 mL water" in told
    assert "625 mL concentrate and 1875 mL water" in told
    assert not [one for one in answer.iter() if one.get("class") == "amount"]
    ways = [one.get("href") for one in answer.iter(HTML + "a")]
    assert len(ways) == 2
    assert [large_figures(member, way) for way in ways] == [["500 mL", "2000 mL"], ["625 mL", "1875 mL"]]


def large_figures(member, address):
    page = tree(member.get(address.split("#")[0]).get_data(as_text=True))
    return [words(one) for one in page.iter(HTML + "p") if one.get("class") == "amount"]


def test_an_ambiguous_first_step_is_asked_before_the_second(member):
    told = ask(member, "series", first="1:9", second="1:4", volume="1 L")
    assert "“1:9” has two meanings" in told


def test_what_stands_in_the_address_besides_the_question_goes_nowhere(member):
    answer = answer_element(member, "dilute", dilution="1:4", volume="1 L", _scheme="javascript", _external="1")
    assert all(one.get("href").startswith("/bench?ask=dilute&") for one in answer.iter(HTML + "a"))


# Cylinders of the lab


def test_the_cylinder_is_one_the_lab_owns_and_the_error_is_judged(member):
    told = ask(member, "dilute", dilution="1+6", volume="2500ml", kind="developer")
    assert "Fill the 500 mL cylinder to 355 mL." in told
    assert "developer allows ± 5 %: good enough." in told


def test_too_small_a_mix_is_not_good_enough_and_says_what_would_be(member):
    told = ask(member, "dilute", dilution="1+99", volume="500ml", kind="developer")
    assert "Not exact enough for developer." in told
    assert "at once, or dilute in two steps" in told


def test_less_than_half_a_division_cannot_be_measured_and_still_has_an_amount(member):
    told = ask(member, "dilute", dilution="1+999", volume="100ml", kind="developer")
    assert "0.1 mL" in told
    assert "under the lowest mark of the cylinders here" in told


def test_a_cylinder_kept_for_one_kind_is_used_for_it_alone(lab, member):
    lab.add_cylinder(100, 1_000, CylinderClass.A, SolutionKind.FIXER)
    typed = {"dilution": "1+9", "volume": "1 L"}
    assert "100 mL cylinder" in ask(member, "dilute", **typed, kind="fixer")
    assert "the 100 mL cylinder" not in ask(member, "dilute", **typed, kind="developer")


@pytest.mark.parametrize(
    ("dilution", "volume", "filled"),
    [
        ("1+49", "1.5 L", "Fill the 25 mL cylinder to 25 mL, then the 25 mL cylinder to 5 mL."),
        ("1+49", "2.5 L", "Fill the 50 mL cylinder to 50 mL."),
        ("1+4", "300 mL", "Fill the 250 mL cylinder to 60 mL."),
        ("1+6", "2500 mL", "Fill the 500 mL cylinder to 355 mL."),
    ],
)
def test_what_the_kept_cylinders_measure_badly_goes_into_one_for_any_solution(lab, member, dilution, volume, filled):
    """By hand, class B of ISO 4788 (from memory): 50 mL to 1, 250 mL to 2 and 500 mL to 5 mL."""
    for nominal_ml, division_ul in ((500, 5_000), (25, 500)):
        lab.add_cylinder(nominal_ml, division_ul, kept_for=SolutionKind.DEVELOPER)
    told = ask(member, "dilute", dilution=dilution, volume=volume, kind="developer")
    assert filled in told
    assert "good enough." in told
    assert "lowest mark" not in told


def test_a_larger_mix_is_offered_only_where_it_is_larger_and_good_enough(lab, member):
    """By hand: 0.98 × (1/25 + (10 + 2 + 1)/1225) = 5 %, the water as 1000 and 224 mL; with 24 mL in 1.2 L 5.1 %."""
    assert "mix 1250 mL or more at once" in ask(member, "dilute", dilution="1+49", volume="600 mL", kind="developer")
    assert "mix 1250 mL or more at once" in ask(member, "dilute", dilution="1+49", volume="1 L", kind="developer")
    assert "developer allows ± 5 %: good enough." in ask(
        member, "dilute", dilution="1+49", volume="1250 mL", kind="developer"
    )


def test_rc_paper_in_cold_water_has_one_answer(member):
    """RC paper is washed for 2 to 4 min (common practice, no source): at 5 °C that does not do."""
    typed = {"material": "rc", "size": "8x10 in", "count": "10", "volume": "4 L"}
    cold = ask(member, "wash", **typed, water="5", minutes="4")
    assert "Too cold for RC paper" in cold
    assert "min each" not in cold
    assert "takes it up" not in cold
    warm = ask(member, "wash", **typed, water="20", minutes="3")
    assert "3 fills at least of 4000 mL, 1:20 min each at most" in warm


def test_a_lab_without_cylinders_is_told_that_common_ones_are_taken(lab, member):
    for one in lab.session.execute(select(OwnedCylinder)).scalars():
        lab.session.delete(one)
    lab.session.commit()
    assert "No measuring cylinders are entered" in ask(member, "dilute", dilution="1+6", volume="1 L")


def test_the_number_of_queries_does_not_grow_with_the_cylinders(lab, member):
    before = queries_for(lambda: ask(member, "dilute", dilution="1+6", volume="1 L"))
    for nominal_ml in (25, 100, 2_000):
        lab.add_cylinder(nominal_ml, 20_000 if nominal_ml == 2_000 else 1_000, CylinderClass.UNMARKED)
    assert queries_for(lambda: ask(member, "dilute", dilution="1+6", volume="1 L")) == before <= 20
