"""Control banding of what is handled: the derived examples of HSG193, and what an assessor may add to it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.care import SolutionKind
from labsys.hazards.banding import Spread, approach_in_words
from labsys.ledger.models import Unit
from labsys.products.models import Product, ProductDilution, ProductIngredient
from labsys.risk import banding
from labsys.risk.banding import banded
from labsys.risk.handling import handling, liquid_spread, spreads_of
from labsys.risk.models import AssessedSubstance
from labsys.risk.prefill import Part, assessed, set_band

G, ML, L = 1_000, 1_000, 1_000_000

# Derived from the tables of HSE, HSG193 "COSHH essentials" (1999), groups and matrix from memory.
EXAMPLES = [
    ("20 g hydroquinone, fine powder", "H302 H317 H318 H341 H351", 20 * G, Unit.MG, Spread.HIGH_DUST, "E", 4, True),
    ("500 mL of 28 % acetic acid at 20 °C", "H314", 500 * ML, Unit.UL, Spread.MEDIUM_VAPOUR, "C", 2, True),
    ("5 L tray of 2 % acetic acid", "", 5 * L, Unit.UL, Spread.MEDIUM_VAPOUR, "A", 1, False),
    ("10 g sodium sulfide crystals", "H302 H311 H314", 10 * G, Unit.MG, Spread.MEDIUM_DUST, "C", 1, True),
    (
        "2 L of 37 % formaldehyde",
        "H301 H311 H331 H314 H317 H335 H341 H350",
        2 * L,
        Unit.UL,
        Spread.MEDIUM_VAPOUR,
        "E",
        4,
        True,
    ),
    ("100 mL propan-2-ol at 20 °C", "H319 H336", 100 * ML, Unit.UL, Spread.MEDIUM_VAPOUR, "A", 1, True),
]


def product(*ingredients, kind=SolutionKind.STOP, powder=None, h_codes="", dilutions=()):
    return Product(
        id=1,
        name="Something",
        version=1,
        kind=kind,
        h_codes=h_codes,
        powder_mg_per_l=powder,
        ingredients=list(ingredients),
        dilutions=[ProductDilution(water_parts_milli=one, use="film") for one in dilutions],
    )


def ingredient(name, cas, classes="", high_ppm=300_000):
    return ProductIngredient(
        name=name, cas=cas, low_ppm=0, high_ppm=high_ppm, classification=classes, specific_limits=""
    )


@pytest.mark.parametrize(
    ("codes", "amount", "unit", "spread", "group", "approach", "skin"),
    [row[1:] for row in EXAMPLES],
    ids=[row[0] for row in EXAMPLES],
)
def test_the_derived_examples_come_out(codes, amount, unit, spread, group, approach, skin):
    found = banded(codes=codes.split(), amount=amount, unit=unit, spread=spread)
    assert (found.band.group, found.approach.number, found.skin_and_eyes) == (group, approach, skin)


def test_a_sensitiser_keeps_skin_care_where_the_codes_ask_for_none():
    found = banded(codes=(), sensitisers=["hydroquinone"], amount=5 * L, unit=Unit.UL, spread=Spread.LOW_VAPOUR)
    assert found.approach.number == 1
    assert found.skin_and_eyes


@pytest.mark.parametrize(
    ("what", "celsius", "spread"),
    [  # volatility of the pure substance: acetic acid and propan-2-ol medium at 20 °C (bp against temperature, HSE)
        (ingredient("acetic acid", "64-19-7"), 20, Spread.MEDIUM_VAPOUR),
        (ingredient("acetic acid", "64-19-7"), 38, Spread.MEDIUM_VAPOUR),
        (ingredient("propan-2-ol", "67-63-0"), 20, Spread.MEDIUM_VAPOUR),
        (ingredient("hydroquinone", "123-31-9"), 20, Spread.LOW_VAPOUR),
        (ingredient("formaldehyde", "50-00-0"), 20, Spread.MEDIUM_VAPOUR),  # a gas in water; chemistry, from memory
        (ingredient("something else", "110-54-3"), 20, Spread.MEDIUM_VAPOUR),  # nothing on file: looked up by a person
    ],
)
def test_the_most_volatile_ingredient_says_how_it_gets_into_the_air(what, celsius, spread):
    salt = ingredient("potassium bromide", "7758-02-3")
    assert liquid_spread(product(salt, what), celsius=celsius)[0] is spread


def test_acid_beside_sulfite_counts_as_giving_off_sulfur_dioxide():
    sulfite, acid = ingredient("sodium sulfite", "7757-83-7"), ingredient("citric acid", "77-92-9")
    assert liquid_spread(product(sulfite), celsius=20)[0] is Spread.LOW_VAPOUR
    found, why = liquid_spread(product(sulfite, acid), celsius=20)
    assert (found, why) == (Spread.MEDIUM_VAPOUR, "Sulfur dioxide comes off sulfite in an acid solution.")


def test_a_dilution_is_assessed_by_calculation_and_the_bottle_by_its_sds():
    developer = product(
        ingredient("hydroquinone", "123-31-9", "Skin Sens. 1 H317; Muta. 2 H341; Carc. 2 H351", 50_000),
        kind=SolutionKind.DEVELOPER,
        h_codes="H317 H341 H351",
    )
    bottle, bath = (handling(developer, water_parts_milli=one) for one in (None, 9_000))
    assert bottle.codes == ("H317", "H341", "H351")
    assert "H341" not in bath.codes  # 0.5 % is below the 1 % of CLP Annex I Table 3.5.2 (from memory)
    assert bath.sensitisers == ("hydroquinone",)
    assert bath.codes_from.endswith("an estimate. 1 thing not known or assumed.")  # its density


def test_without_ingredients_a_dilution_keeps_the_codes_of_the_bottle():
    found = handling(product(h_codes="H314"), water_parts_milli=19_000)
    assert found.codes == ("H314",)
    assert "No ingredients are entered" in found.codes_from


def test_the_amount_proposed_is_what_makes_a_litre_of_working_solution():
    liquid = product(h_codes="H319", dilutions=(9_000, 4_000))
    assert assessed(Part(liquid, None), position=1).amount == 200 * ML  # 1+4, the strongest
    assert assessed(Part(liquid, 9_000), position=1).amount == 1 * L
    powder = assessed(Part(product(powder=150 * G, dilutions=(1_000,)), None), position=1)
    assert (powder.amount, powder.unit, powder.spread) == (75 * G, Unit.MG, Spread.HIGH_DUST)


def test_the_reasoning_names_the_deciding_code_the_amount_and_the_dust():
    row = assessed(Part(product(powder=20 * G, h_codes="H302 H317 H318 H341 H351"), None), position=1, amount=20 * G)
    lines = banding.reasoning(row)
    assert lines[0].startswith("Hazard group E, decided by H341 Suspected of causing genetic defects.")
    assert lines[1] == "Amount: 20 g in one go is small (under 1 kg)."
    assert lines[2].startswith("Into the air: high dust. Taken as a fine powder")
    assert lines[3] == f"Calculated: approach 4. {approach_in_words(4)}."


@given(
    codes=st.lists(st.sampled_from(["H302", "H314", "H317", "H319", "H331", "H341", "H351", "H334"]), unique=True),
    amount=st.integers(1, 2_000 * L),
    spread=st.sampled_from(spreads_of(Unit.UL)),
    chosen=st.integers(1, 4),
)
def test_another_approach_never_hides_the_calculated_one(codes, amount, spread, chosen):
    row = AssessedSubstance(codes=" ".join(codes), unit=Unit.UL, sensitisers="", codes_from="", spread_from="")
    set_band(row, amount=amount, spread=spread, spread_from="as judged")
    plain = banding.verdict(row)
    assert f"Approach {row.approach}, as calculated" in plain
    calculated = row.approach
    row.chosen_approach, row.chosen_because = chosen, "Hands stay out of it."
    assert row.approach == calculated
    assert f"approach {calculated} was calculated" in banding.verdict(row)
    assert row.chosen_because in banding.verdict(row)
    assert f"Calculated: approach {calculated}." in " ".join(banding.reasoning(row))


@given(amount=st.integers(1, L), more=st.integers(1, 2_000 * L), spread=st.sampled_from(list(Spread)))
def test_more_of_it_never_asks_for_less_control(amount, more, spread):
    unit = Unit.UL if "vapour" in spread else Unit.MG
    few, many = (
        banded(codes=["H331"], amount=handled, unit=unit, spread=spread).approach.number
        for handled in (amount, amount + more)
    )
    assert few <= many
