from datetime import UTC, datetime

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.hazards.incompatibility import Group
from labsys.products.groups import groups_of_product
from labsys.products.models import Product, ProductIngredient
from labsys.waste import rules
from labsys.waste.meeting import groups_of_stream, keep_apart
from labsys.waste.rules import Fullness, WasteRefused

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


@pytest.mark.parametrize(
    ("poured", "takes", "quarantined", "said"),
    [  # one List of Waste code a container: Hazardous Waste Regulations 2005, regulations 18 to 20 (headings read)
        ("09 01 04*", "09 01 04*", False, None),
        ("09 01 01*", "09 01 04*", False, "code 09 01 01* was poured into Fixer, which takes 09 01 04*"),
        ("09 01 04*", "09 01 04*", True, "was in quarantine"),
        ("09 01 01*", "09 01 04*", True, "code 09 01 01*"),
    ],
)
def test_a_wrong_pour_is_told_from_a_right_one(poured, takes, quarantined, said):
    wrong = rules.wrong_pour(poured_code=poured, stream_name="Fixer", stream_code=takes, quarantined=quarantined)
    assert wrong is None if said is None else said in wrong.reason
    if wrong:
        assert wrong.advice.startswith("Pour nothing more into it.")


def test_hazardous_waste_down_the_drain_is_flagged_and_other_waste_is_not():
    assert "belongs in a container" in rules.wrong_discharge(poured_code="09 01 04*")
    assert rules.wrong_discharge(poured_code="09 01 99") == ""


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
    assert groups_of_stream(code="09 01 99", products=[made]) == groups


def test_a_stream_is_kept_apart_by_its_code_even_before_any_product_is_known():
    assert groups_of_stream(code="09 01 04*", products=[]) == {Group.FIXER}
    assert groups_of_stream(code="20 01 21*", products=[product(SolutionKind.FIXER)]) == frozenset()


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
