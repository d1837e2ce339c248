"""Acute toxicity against the bounds printed in the regulation, water life against a worked example of the UN."""

import math

import pytest

from labsys.hazards.mixtures import classify
from labsys.hazards.mixtures.acute import category_of
from labsys.hazards.mixtures.model import Ate, Route
from tests.hazards.making import plain

TABLE = "CLP Annex I Table 3.1.1, consolidated version 20250901, read in reachlex.eu"
UPPER_ENDS = [
    (Route.ORAL, (5, 50, 300, 2000)),
    (Route.DERMAL, (50, 200, 1000, 2000)),
    (Route.GAS, (100, 500, 2500, 20_000)),
    (Route.VAPOUR, (0.5, 2.0, 10.0, 20.0)),
    (Route.DUST_MIST, (0.05, 0.5, 1.0, 5.0)),
]
BOUNDS = [(route, bound, at, TABLE) for route, ends in UPPER_ENDS for at, bound in enumerate(ends, start=1)]


@pytest.mark.parametrize(("route", "bound", "category", "source"), BOUNDS)
def test_a_category_reaches_up_to_its_printed_end_and_no_further(route, bound, category, source):
    above = None if category == 4 else str(category + 1)
    assert category_of(route=route, ate=bound) == str(category), source
    assert category_of(route=route, ate=math.nextafter(bound, math.inf) * 1.001) == above, source
    (hazard,) = classify([plain("x", 100, ates=(Ate(route, bound),))]).classes
    assert (hazard.name, hazard.category) == ("Acute Tox.", str(category))


def test_the_printed_class_for_water_life_comes_out_with_its_sum():
    """UN ST/SG/AC.10/C.4/2012/25, example 4.1(a): sum 26.01, Chronic 4, no acute class."""
    found = classify(
        [
            plain("first", 0.01, "Aquatic Acute 1 H400", "Aquatic Chronic 1 H410", m_acute=10, m_chronic=10),
            plain("second", 1, "Aquatic Chronic 2 H411"),
            plain("third", 25, "Aquatic Chronic 4 H413"),
        ]
    )
    assert [str(hazard) for hazard in found.classes] == ["Aquatic Chronic 4 H413"]
    assert any("26.01" in reason.text for reason in found.reasons)
