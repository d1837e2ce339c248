"""Figures printed by others, as the page of the bench shows them."""

import pytest

from tests.bench.asking import amounts, answer_element, numbers
from tests.support.pages import HTML, words

pytestmark = pytest.mark.sqlite_only

LIMITS = [
    ("Dallas", "0.36 mg/L", "City of Dallas Water Utilities, silver best management practices"),
    ("Palo Alto", "1 mg/L", "Palo Alto Municipal Code, chapter 16.09"),
    ("suburbs of Washington", "1.2 mg/L", "Washington Suburban Sanitary Commission, in essr.umd.edu"),
    ("Massachusetts", "2 mg/L", "310 CMR 71.02"),
    ("United Kingdom", "5 mg/L", "COPPICE: consent is unlikely above"),
]


@pytest.mark.parametrize(("where", "limit", "source"), LIMITS)
def test_a_used_fixer_is_far_over_each_limit_printed_for_a_sewer(client_as, where, limit, source):
    answer = answer_element(client_as("member"), "silver", size="120", count="20", bath="1 L")
    told = [[words(cell) for cell in row] for row in answer.iter(HTML + "tr")]
    (row,) = [cells for cells in told if where in cells[0]]
    assert row[1] == limit, source
    assert row[2].startswith("over, some ")


WEAKER = [
    ("28", "1", "28 mL", "1 mL", "27 mL", "calculated by the cross: 28 % to 1 % is 1 + 27"),
    ("99.5", "28", "9.9 L", "2800 mL", "7100 mL", "S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), p. 170: 28 + 71"),
    ("99.5", "36", "9.9 L", "3600 mL", "6300 mL", "S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), p. 170: 36 + 63"),
    ("99.5", "56", "9.9 L", "5600 mL", "4300 mL", "S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), p. 170: 56 + 43"),
]


@pytest.mark.parametrize(("strong", "wanted", "volume", "acid", "water", "source"), WEAKER)
def test_an_acid_is_weakened_as_the_table_has_it_to_whole_parts(client_as, strong, wanted, volume, acid, water, source):
    """The table counts whole parts of 99, by weight; the page answers in parts of what was typed."""
    got = amounts(client_as("member"), "weaken", strong=strong, wanted=wanted, volume=volume)
    part = numbers(volume)[0] * (1000 if volume.endswith(" L") else 1) / 99 if strong == "99.5" else 1
    for amount, printed in zip(got, (acid, water), strict=True):
        assert numbers(amount)[0] == pytest.approx(numbers(printed)[0], abs=0.5 * part + 0.5), source
