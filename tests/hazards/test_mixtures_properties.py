"""What must hold for any mixture at all."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from labsys.hazards.classes import HazardClass
from labsys.hazards.mixtures import Ingredient, classify, dilute
from labsys.hazards.mixtures.model import Route
from labsys.hazards.substances import all_substances

CATEGORY_ORDER = {
    "Skin Corr.": ("1", "1C", "1B", "1A"),
    "Skin Sens.": ("1", "1B", "1A"),
    "Resp. Sens.": ("1", "1B", "1A"),
}


def severities(classes: tuple[HazardClass, ...]) -> dict[str, tuple[int, float]]:
    """Return how bad each kind of harm is; corrosion outranks irritation of the same organ."""
    found: dict[str, tuple[int, float]] = {}
    for hazard in classes:
        kind = {"Skin Corr.": "skin", "Skin Irrit.": "skin", "Eye Dam.": "eye", "Eye Irrit.": "eye"}.get(hazard.name)
        kind = kind or (f"acute {hazard.code[:3]}" if hazard.name == "Acute Tox." else hazard.name)
        kind = f"airways {hazard.code}" if hazard.name == "STOT SE" and hazard.category == "3" else kind
        outranks = 1 if hazard.name in ("Skin Corr.", "Eye Dam.") else 0
        order = CATEGORY_ORDER.get(hazard.name)
        if order:
            within = float(order.index(hazard.category))
        else:
            within = -float(int(hazard.category[0]) if hazard.category else 0) - (0.5 if "B" in hazard.category else 0)
        found[kind] = max(found.get(kind, (-1, -99.0)), (outranks, within))
    return found


def is_no_worse(one: tuple[HazardClass, ...], other: tuple[HazardClass, ...]) -> bool:
    mild, strong = severities(one), severities(other)
    return all(kind in strong and rank <= strong[kind] for kind, rank in mild.items())


percents = st.integers(0, 1_000_000).map(lambda ppm: ppm / 10_000)
routes = st.frozensets(st.sampled_from(list(Route)), max_size=2)


@st.composite
def ingredients(draw: st.DrawFn) -> tuple[Ingredient, ...]:
    """A few reference substances, perhaps one of unknown toxicity, at any content."""
    chosen = draw(st.lists(st.sampled_from(all_substances()), unique=True, min_size=1, max_size=5))
    listed = [entry.as_ingredient(high_percent=draw(percents)) for entry in chosen]
    if draw(st.booleans()):
        listed.append(Ingredient(name="unknown", high_percent=draw(percents), unknown_toxicity=draw(routes)))
    return tuple(listed)


@given(ingredients(), st.floats(0.001, 1))
def test_diluting_never_makes_a_mixture_worse(mixture, strength):
    weak = classify(dilute(mixture, strength_fraction=strength))
    assert is_no_worse(weak.classes, classify(mixture).classes)


@given(ingredients(), st.data())
def test_the_worst_end_of_a_range_dominates_every_content_inside_it(mixture, data):
    inside = tuple(replace(i, high_percent=data.draw(st.floats(0, i.high_percent))) for i in mixture)
    assert is_no_worse(classify(inside).classes, classify(mixture).classes)


@given(ingredients(), percents)
def test_adding_an_unclassified_ingredient_never_adds_a_hazard(mixture, percent):
    water = Ingredient(name="water", high_percent=percent)
    assert classify((*mixture, water)).classes == classify(mixture).classes


@given(ingredients(), st.randoms(use_true_random=False))
def test_the_order_of_the_sheet_does_not_matter(mixture, random):
    shuffled = list(mixture)
    random.shuffle(shuffled)
    assert set(classify(shuffled).classes) == set(classify(mixture).classes)


@given(ingredients(), st.floats(0.000_01, 1))
def test_a_sensitiser_outlives_any_dilution(mixture, strength):
    present = [i for i in mixture if i.high_percent * strength > 1e-6]
    weak = classify(dilute(present, strength_fraction=strength))
    assert weak.sensitisers == classify(present).sensitisers


@given(ingredients(), st.floats(0, 14))
def test_every_mixture_gets_reasons_and_each_kind_of_harm_once(mixture, ph):
    found = classify(mixture, ph=ph)
    assert found.reasons
    assert len(set(found.classes)) == len(found.classes)
    assert {"H315", "H319"}.isdisjoint(found.h_codes) or "H314" not in found.h_codes


@given(ingredients())
def test_a_request_for_the_sheet_and_a_class_exclude_each_other(mixture):
    found = classify(mixture)
    assert not (found.is_classified and "EUH210" in [supplement.code for supplement in found.euh])
