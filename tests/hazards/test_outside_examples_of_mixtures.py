"""Published worked examples of mixtures, run under the bounds they were written for, and figures on the limit.

Source of the UN's: UN ST/SG/AC.10/C.4/2008/23, read in scribd.com (3.1(a): 460617822; 3.1(d): 460832608; 3.2.3.3(a):
460833118). CLP counts its categories 1 to 4 only, so the same figures may come to another class there.
"""

import pytest

from labsys.hazards.classes import Family
from labsys.hazards.concentration import parse_concentration
from labsys.hazards.mixtures import Choice, classify, dilute, settle
from labsys.hazards.mixtures.acute import Bounds, mixture_ate
from labsys.hazards.mixtures.corrosion import PhAnswer
from labsys.hazards.mixtures.model import Ate, Route
from labsys.hazards.nations import Rules
from labsys.hazards.substances import substance
from tests.hazards.making import FORMALDEHYDE, of, plain

EXAMPLE_A = [
    plain("one", 16, ates=(Ate(Route.ORAL, 1600),)),
    plain("two", 4, ates=(Ate(Route.ORAL, 200),)),
    plain("three", 80, ates=(Ate(Route.ORAL, 3450),)),
]
EXAMPLE_D = [
    plain("one", 26, ates=(Ate(Route.ORAL, 2737),)),
    plain("two", 23, ates=(Ate(Route.ORAL, 4500),)),
    plain("three", 11, ates=(Ate(Route.ORAL, 5001),)),
    plain("four", 40, ates=(Ate(Route.ORAL, 400),)),
]


def test_the_un_examples_of_acute_toxicity_come_to_what_is_printed():
    """3.1(a): ATE 1880, category 4. 3.1(d), by mouth: 873 (an LD50 above 5000 is left out)."""
    assert mixture_ate(EXAMPLE_A, route=Route.ORAL, bounds=Bounds.UN) == pytest.approx(1880, abs=0.5)
    assert mixture_ate(EXAMPLE_D, route=Route.ORAL, bounds=Bounds.UN) == pytest.approx(873, abs=0.6)


def test_clp_counts_its_own_categories_and_the_un_stands_beside_it():
    """3.1(a) under CLP by hand: 100/(16/1600 + 4/200) = 3333 mg/kg, above 2000: no class."""
    assert mixture_ate(EXAMPLE_A, route=Route.ORAL) == pytest.approx(3333.3, abs=0.1)
    found = classify(EXAMPLE_A)
    assert found.h_codes == ()
    (by_un,) = found.alternatives
    assert (by_un.rule, by_un.outcome) == ("UN GHS, oral", "Acute Tox. 4 H302")
    assert "1880" in by_un.why
    assert settle(found, EXAMPLE_A, choices={}).h_codes == ()
    assert settle(found, EXAMPLE_A, choices={by_un.key: Choice(True, "x")}).h_codes == ("H302",)


def test_where_both_come_to_the_same_class_there_is_one_reading():
    """3.1(d) by mouth under CLP by hand: 100/(40/400) = 1000 mg/kg, category 4 as under the UN's 873."""
    assert mixture_ate(EXAMPLE_D, route=Route.ORAL) == pytest.approx(1000)
    assert (classify(EXAMPLE_D).h_codes, classify(EXAMPLE_D).alternatives) == (("H302",), ())


def test_a_result_in_the_category_clp_does_not_have_is_a_line_of_the_working():
    """By hand: 100/(100/3450) = 3450 mg/kg."""
    found = classify([plain("alone", 100, ates=(Ate(Route.ORAL, 3450),))])
    assert (found.h_codes, found.alternatives) == ((), ())
    assert any("its Category 5, which CLP does not have" in reason.text for reason in found.reasons)


def corrosive_example(families=frozenset()):
    """3.2.3.3(a): 4 % Skin Cat. 1 (pH 1.8), 5 % Cat. 2, mixture pH 4: category 1, by an expert's cautious choice."""
    acid = plain("acid", 4, "Skin Corr. 1 H314", families=families)
    return [acid, plain("irritant", 5, "Skin Irrit. 2 H315")]


def test_the_un_example_of_a_corrosive_is_an_open_point_where_its_kind_is_not_known():
    found = classify(corrosive_example(), ph=4.0)
    assert (found.h_codes, found.alternatives) == (("H315", "H318"), ())
    assert "takes 1 % as enough for Skin Corr. 1 H314" in found.open_points[0]


def test_the_un_example_of_a_corrosive_is_the_second_reading():
    parts = corrosive_example(frozenset({Family.ACID}))
    found = classify(parts, ph=4.0)
    assert found.h_codes == ("H315", "H318")
    (alone,) = found.alternatives
    assert alone.outcome == "Skin Corr. 1 H314"
    assert settle(found, parts, choices={}).h_codes == ("H315", "H318")
    assert "H314" in settle(found, parts, choices={alone.key: Choice(True, "x")}).h_codes


def test_an_extreme_ph_that_the_supplier_answers_stands_beside():
    """CLP Annex I 3.2.3.1.2, read: corrosive from pH 11.5 on, unless other data say otherwise."""
    weak = of({"1310-73-2": 0.6})
    assert "H314" in classify(weak, ph=12.9).h_codes
    answered = classify(weak, ph=12.9, ph_answer=PhAnswer("the supplier's classification", ()))
    assert answered.h_codes == ("H315", "H319")
    assert ["Skin Corr. 1 H314" in each.outcome for each in answered.alternatives] == [True]


# Within the error of a figure

NEAR = parse_concentration("0.97 ± 0.05 %")


def near(percent, low, *classes):
    return plain("hydroquinone", percent, *classes, low_percent=low)


def test_a_figure_on_the_limit_is_an_outcome_of_its_own():
    """Carc. 2 from 1 % (CLP Annex I Table 3.6.2, from memory): 0.97 ± 0.05 % lies on both sides."""
    assert (NEAR.low_percent, NEAR.high_percent) == (0.92, 1.02)
    found = classify([near(NEAR.high_percent, NEAR.low_percent, "Carc. 2 H351")])
    assert found.h_codes == ("H351",)
    (told,) = found.open_points
    assert told.startswith("On the limit: Carc. 2 H351 hangs on hydroquinone 0.97 ± 0.05 % against 1 %.")


@pytest.mark.parametrize(("low", "high"), [(0.5, 2), (1.0, 1.02), (0.9, 0.99), (None, 1.02)])
def test_a_suppliers_range_and_a_figure_on_one_side_are_not_on_the_limit(low, high):
    assert classify([near(high, low, "Carc. 2 H351")]).open_points == ()


def test_a_diluted_figure_keeps_its_error():
    """10.2 % at a tenth: 1.02 %, and 9.2 % at a tenth: 0.92 %."""
    diluted = dilute([near(10.2, 9.2, "Carc. 2 H351")], strength_fraction=0.1)
    assert "0.97 ± 0.05 % against 1 %" in classify(diluted).open_points[0]


def test_a_sum_on_the_limit_names_what_it_hangs_on():
    """Skin irritants from 10 % together (CLP Annex I Table 3.2.3, read): 4 and 6.0 ± 0.1 %."""
    parts = [plain("a", 4, "Skin Irrit. 2 H315"), plain("b", 6.1, "Skin Irrit. 2 H315", low_percent=5.9)]
    assert "b 6 ± 0.1 % against 6 %" in classify(parts).open_points[0]


# What burns the airways


def test_euh071_goes_with_a_mixture_that_burns_or_poisons():
    """Formaldehyde carries it (ATP22, read). GB: from 25 % (8th version, read); the EU gives no content."""

    def codes(percent, rules):
        parts = [substance(FORMALDEHYDE, rules=rules).as_ingredient(high_percent=percent)]
        return [supplement.code for supplement in classify(parts, rules=rules).euh]

    assert "EUH071" in codes(25, Rules.GB)
    assert "EUH071" not in codes(24.9, Rules.GB)
    assert "EUH071" in codes(24.9, Rules.EU)  # Acute Tox. 3 H331 by 100/0.249 = 402 ppmV
    assert "EUH071" not in codes(0.9, Rules.EU)  # below the 1 % from which what corrodes counts


def test_the_working_of_any_other_mixture_that_burns_skin_says_when_the_airways_count():
    assert "EUH071" in [reason.topic for reason in classify(of({"64-19-7": 30})).reasons]
    assert "EUH071" not in [reason.topic for reason in classify(of({"64-19-7": 12})).reasons]
