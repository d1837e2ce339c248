from datetime import date

import pytest

from labsys.brought_in import rules
from labsys.brought_in.models import Ending
from labsys.brought_in.rules import DeclarationRefused, Named
from labsys.ledger.models import Unit


def test_ingredients_are_read_a_line_each_and_a_comma_may_be_in_the_name():
    """CAS numbers of hydroquinone and acetic acid: from memory; their check digits agree."""
    text = "1,4-benzenediol, 123-31-9\n\n  acetic acid ,64-19-7 \nacetic acid again, 64-19-7"
    assert rules.parse_ingredients(text) == (Named("1,4-benzenediol", "123-31-9"), Named("acetic acid", "64-19-7"))
    assert rules.parse_ingredients("") == ()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("acetic acid", "write the name, a comma and the CAS number"),
        ("acetic acid, 64-19-8", "64-19-8 is not a CAS number"),
        ("acetic acid, vinegar", "vinegar is not a CAS number"),
        (f"{'x' * 121}, 64-19-7", "use at most 120 characters"),
    ],
)
def test_an_ingredient_that_cannot_be_read_says_what_to_write(text, message):
    with pytest.raises(DeclarationRefused, match=message) as refusal:
        rules.parse_ingredients(text)
    assert refusal.value.field == "ingredients"


@pytest.mark.parametrize(
    ("text", "amount"), [("250 mL", (250_000, Unit.UL)), ("1.5 L", (1_500_000, Unit.UL)), ("40 g", (40_000, Unit.MG))]
)
def test_an_amount_is_a_volume_or_a_mass(text, amount):
    assert rules.parse_amount(text) == amount


@pytest.mark.parametrize("text", ["250", "a lot", "3 cups", "-1 g"])
def test_an_amount_without_a_unit_is_asked_for_again(text):
    with pytest.raises(DeclarationRefused, match="with its unit"):
        rules.parse_amount(text)


@pytest.mark.parametrize(
    ("day", "late"), [(1, True), (2, True), (4, True), (5, False), (30, False)]
)  # three days' notice: common practice, no source
def test_less_than_three_days_ahead_is_late(day, late):
    assert rules.is_late(declared_on=date(2026, 3, 2), first_on=date(2026, 3, day)) is late


@pytest.mark.parametrize(
    ("named", "h_codes", "solutions"),
    [  # what reacts with what: standard chemistry, from memory; EUH031 and EUH032: CLP Annex II, from memory
        ([Named("acetic acid", "64-19-7")], "", ["developer", "fixer", "bleach"]),
        ([Named("sodium hypochlorite", "7681-52-9")], "", ["developer", "stop bath", "fixer", "bleach"]),
        ([Named("potassium permanganate", "7722-64-7")], "", ["developer", "stop bath", "fixer", "bleach"]),
        ([Named("sodium sulfite", "7757-83-7")], "", ["stop bath", "fixer", "bleach"]),
        ([], "H302 EUH031", ["stop bath"]),
        ([], "H302", []),
    ],
)
def test_what_it_must_not_meet_here_is_told(named, h_codes, solutions):
    meetings = rules.keep_apart(named, h_codes=h_codes).meetings
    assert [one.solution.split(",")[0].split(" for")[0] for one in meetings] == solutions


@pytest.mark.parametrize(
    ("cas", "named"),
    [  # standard chemistry, from memory
        (["7681-52-9"], ["chlorine"]),  # hypochlorite
        (["10102-18-8", "7783-18-8"], ["very poisonous gas", "sulfur dioxide"]),  # selenite beside thiosulfate
    ],
)
def test_everything_that_happens_with_the_stop_bath_is_told(cas, named):
    meetings = rules.keep_apart([Named(number, number) for number in cas], h_codes="EUH031").meetings
    told = next(" ".join(one.hazards) for one in meetings if one.solution.startswith("stop bath"))
    for gas in (*named, "Contact with acids liberates toxic gas."):
        assert gas in told


def test_an_ingredient_of_which_nothing_is_known_is_named():
    advice = rules.keep_apart([Named("water", "7732-18-5")], h_codes="")
    assert (advice.not_known, advice.meetings) == (("water",), ())


def test_a_yes_needs_the_sds_and_a_no_its_reasons():
    with pytest.raises(DeclarationRefused, match="Look at its SDS first"):
        rules.check_decision(is_decided=False, is_ended=False, accepts=True, sds_shown=False, reasons="")
    with pytest.raises(DeclarationRefused, match="Write the reasons"):
        rules.check_decision(is_decided=False, is_ended=False, accepts=False, sds_shown=True, reasons="")
    with pytest.raises(DeclarationRefused, match="decided already"):
        rules.check_decision(is_decided=True, is_ended=False, accepts=True, sds_shown=True, reasons="")
    with pytest.raises(DeclarationRefused, match="withdrawn"):
        rules.check_decision(is_decided=False, is_ended=True, accepts=True, sds_shown=True, reasons="")


@pytest.mark.parametrize(
    ("decided", "ended", "ending", "label", "message"),
    [
        (False, False, Ending.TAKEN_HOME, "", "Decide first"),
        (False, True, Ending.NOT_BROUGHT, "", "ended already"),
        (True, True, Ending.TAKEN_HOME, "", "ended already"),
        (True, False, Ending.DISPOSED_OF, "", "label of the container"),
    ],
)
def test_what_is_decided_ends_once_and_what_is_not_can_only_stay_away(decided, ended, ending, label, message):
    with pytest.raises(DeclarationRefused, match=message):
        rules.check_ending(is_decided=decided, is_ended=ended, ending=ending, container_label=label)
