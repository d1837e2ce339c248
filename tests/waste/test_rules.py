from datetime import UTC, datetime

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.hazards.incompatibility import Group
from labsys.products.groups import groups_of_product
from labsys.products.models import Product, ProductIngredient
from labsys.waste import rules
from labsys.waste.meeting import groups_in, keep_apart, solution_of
from labsys.waste.models import WasteKind
from labsys.waste.rules import Fullness, Poured, WasteRefused

L = 1_000_000


@pytest.mark.parametrize(
    ("level_ul", "words"),
    [  # nearly full from nine tenths up: common practice, no source
        (0, Fullness.EMPTY),
        (1, Fullness.HAS_ROOM),
        (22_499_999, Fullness.HAS_ROOM),
        (22_500_000, Fullness.NEARLY_FULL),
        (24_999_999, Fullness.NEARLY_FULL),
        (25 * L, Fullness.FULL),
    ],
)
def test_a_container_of_25_litres_is_called_what_it_is(level_ul, words):
    assert rules.fullness(level_ul=level_ul, capacity_ul=25 * L) is words


@pytest.mark.parametrize(
    ("weight_mg", "volume_ul", "fits"),
    [  # spent working solutions weigh 1.00 to 1.15 kg/L: from memory
        (27_300_000, 25 * L, True),  # 1.09 kg/L
        (23_750_000, 25 * L, True),  # 0.95 kg/L, the lightest let through
        (23_700_000, 25 * L, False),
        (32_500_000, 25 * L, True),  # 1.30 kg/L, the heaviest
        (40_000_000, 25 * L, False),  # the container was weighed too
        (None, 25 * L, True),
        (27_300_000, 0, True),
    ],
)
def test_a_weight_that_no_spent_solution_has_is_noticed(weight_mg, volume_ul, fits):
    assert (rules.weight_warning(weight_mg=weight_mg, volume_ul=volume_ul) == "") is fits


@pytest.mark.parametrize(
    ("difference_ul", "words"),
    [
        (None, ""),
        (0, "as in the book"),
        (-400_000, "400 mL less than the book"),
        (1_200_000, "1.2 L more than the book"),
    ],
)
def test_a_difference_is_told_in_words(difference_ul, words):
    assert rules.difference_in_words(difference_ul) == words


def test_more_than_a_container_can_hold_was_not_found_in_it():
    rules.check_found(found_ul=25 * L, capacity_ul=25 * L, label="AS-W0001-X")
    with pytest.raises(WasteRefused, match="AS-W0001-X holds 25 L when full") as refusal:
        rules.check_found(found_ul=25 * L + 1, capacity_ul=25 * L, label="AS-W0001-X")
    assert refusal.value.field == "found"


# A toner of which nobody says more may hold sulfide, ferricyanide or an oxidiser.
TONER_WITH_ACID = "hydrogen cyanide, chlorine, hydrogen sulfide or hydrogen selenide"


def of_kind(kind):
    return solution_of(WasteKind(kind) if kind else None, None)


@pytest.mark.parametrize(
    ("kind", "code", "takes", "holds", "said", "gas"),
    [  # one List of Waste code a container: Hazardous Waste Regulations 2005, regulations 18 to 20 (headings read);
        # what reacts: table of incompatible groups, standard chemistry, from memory
        ("fixer", "09 01 04*", "09 01 04*", ["fixer"], None, ""),
        ("fixer", "09 01 04*", "09 01 04*", [], None, ""),
        ("developer", "09 01 01*", "09 01 04*", ["fixer"], "code 09 01 01* was poured into Fixer", "ammonia"),
        (
            "wash_aid",
            "09 01 99",
            "09 01 99",
            ["stop"],
            "Wash aid was poured into Fixer, which holds stop",
            "sulfur dioxide",
        ),
        ("stop", "09 01 99", "09 01 99", ["wash_aid"], "Stop bath was poured into", "sulfur dioxide"),
        ("toner", "09 01 99", "09 01 99", ["stop"], "Toner was poured into", TONER_WITH_ACID),
        ("rinse", "09 01 99", "09 01 99", ["stop"], None, ""),
        ("wetting_agent", "09 01 99", "09 01 99", ["stop"], None, ""),
        ("stop", "09 01 99", "09 01 99", ["rinse"], None, ""),
        ("stabiliser", "09 01 99", "09 01 99", ["stop"], "What they do to each other is not known", "not known"),
        (
            "stop",
            "09 01 04*",
            "09 01 04*",
            [],
            "Stop bath was poured into Fixer, which holds waste of",
            "sulfur dioxide",
        ),
        (None, "09 01 04*", "09 01 04*", ["fixer"], "It is not known what was poured", "not known"),
        (None, "09 01 04*", "09 01 04*", [], "It is not known what was poured", ""),
    ],
)
def test_what_is_in_a_container_decides_what_may_go_in(kind, code, takes, holds, said, gas):
    wrong = rules.wrong_pour(
        poured=Poured("P", code, L),
        solution=of_kind(kind),
        into=rules.Into("Fixer", takes, [of_kind(held) for held in holds]),
    )
    if said is None:
        assert wrong is None
    else:
        assert said in wrong.reason
        assert wrong.gas == gas
        assert wrong.advice.startswith("Pour nothing more into it.")
        assert "Never seal it" in wrong.advice


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ({"is_quarantined": True}, "was in quarantine"),
        ({"is_restated": True}, "waiting to leave"),
        ({"why_not_known": "What is in it is not known."}, "not known"),
    ],
)
def test_nothing_goes_into_a_container_that_is_held(state, said):
    into = rules.Into("Fixer", "09 01 04*", [of_kind("fixer")], **state)
    assert said in rules.wrong_pour(poured=Poured("P", "09 01 04*", L), solution=of_kind("fixer"), into=into).reason


@pytest.mark.parametrize(
    ("wrong_ul", "gas", "trivial"),
    [  # 1 % of ten litres is a tenth of a litre; the figure is the lab's: common practice, no source
        (100_000, "ammonia", True),
        (100_001, "ammonia", False),
        (1_000, "", True),
        (1_000, "hydrogen sulfide or hydrogen selenide", False),
        (1_000, "chlorine", False),
        (1_000, "not known", False),
        (0, "", False),
    ],
)
def test_a_carry_over_is_trivial_by_the_figure_of_the_lab_and_never_where_the_gas_kills(wrong_ul, gas, trivial):
    assert rules.is_trivial(wrong_ul=wrong_ul, level_ul=10 * L, carry_over_milli=10, gas=gas) is trivial


@pytest.mark.parametrize("typed", ["", "irritant", "HP 16", "HP 5 and more", "HP 0"])
def test_hazardous_properties_that_are_none_are_asked_back(typed):
    with pytest.raises(WasteRefused, match="by their codes"):
        rules.read_properties(typed)


def test_a_collected_container_takes_nothing():
    with pytest.raises(WasteRefused, match="was collected"):
        rules.check_not_collected(collected_at=datetime(2026, 3, 2, tzinfo=UTC), label="AS-W0001-X")


def product(kind, *cas):
    rows = [
        ProductIngredient(name=number, cas=number, low_ppm=0, high_ppm=1, classification="", specific_limits="")
        for number in cas
    ]
    return Product(name="P", kind=kind, waste_code="09 01 99", ingredients=rows)


@pytest.mark.parametrize(
    ("made", "groups"),
    [  # families by substance and groups by example: standard chemistry, from memory
        (product(SolutionKind.STOP), {Group.ACID}),
        (product(SolutionKind.STOP, "64-19-7"), {Group.ACID}),  # acetic acid
        (product(SolutionKind.FIXER), {Group.FIXER}),
        (product(SolutionKind.DEVELOPER, "7757-83-7"), {Group.ALKALINE_SULFITE}),  # sodium sulfite
        (product(SolutionKind.WETTING_AGENT), set()),
    ],
)
def test_a_product_belongs_to_groups_by_what_it_does_and_what_is_in_it(made, groups):
    assert groups_of_product(made) == groups


def test_an_empty_container_is_kept_apart_by_its_code_and_a_full_one_by_what_is_in_it():
    assert groups_in([], code="09 01 04*") == {Group.FIXER}
    assert groups_in([of_kind("stop")], code="09 01 99") == {Group.ACID}
    assert groups_in([], code="09 01 99") == frozenset()


def test_acid_is_kept_from_fixer_and_the_gas_is_named_first():
    apart = keep_apart([Group.FIXER])
    assert apart[0].gas
    assert "fixer" not in {one.name for one in apart}
    acid = next(one for one in apart if one.name == "acid")
    assert acid.in_short == "Acid: frees sulfur dioxide"
    gases = [bool(one.gas) for one in apart]
    assert gases == sorted(gases, reverse=True)


def test_nothing_known_of_a_waste_claims_nothing():
    assert keep_apart([]) == ()
