"""Worked examples of textbooks and school pages: acid taking up alkali, waters mixed, silver plated."""

import pytest

from labsys.chemistry.acidity import ACETIC, ph_of
from labsys.chemistry.silver import silver_by_electrolysis_g
from labsys.chemistry.temperature import Portion, mixed_celsius

# Both tables: acetic acid of 0.100 mol/L, Ka 1.8e-5, so pKa 4.745 where ours is 4.756; 0.02 of a pH is allowed for it.
COLLEGE = "college textbook Table 19-6, p. 815, issuhub.com 4934: 100.0 mL titrated with 0.100 mol/L"
OPENSTAX = "OpenStax, Chemistry: Atoms First, Table 14.4, p. 782: 25.0 mL titrated with 0.100 mol/L"
TITRATED = [
    *[
        (100.0, added, ph, COLLEGE)
        for added, ph in [
            *((0, 2.89), (20, 4.14), (50, 4.74), (75, 5.22), (90, 5.70), (95, 6.02)),
            *((99, 6.74), (100, 8.72), (101, 10.70), (110, 11.68), (120, 11.96)),
        ]
    ],
    *[
        (25.0, added, ph, OPENSTAX)
        for added, ph in [
            *((25.0, 8.72), (25.1, 10.30), (25.5, 11.00), (26.0, 11.29), (28.0, 11.75)),
            *((30.0, 11.96), (35.0, 12.22), (40.0, 12.36), (45.0, 12.46), (50.0, 12.52)),
        ]
    ],
]


@pytest.mark.parametrize(("acid_ml", "base_ml", "ph", "source"), TITRATED)
def test_acetic_acid_takes_up_alkali_as_the_table_has_it(acid_ml, base_ml, ph, source):
    whole_ml = acid_ml + base_ml
    found = ph_of(
        acid=ACETIC,
        grams_per_litre=0.100 * 60.052 * acid_ml / whole_ml,
        base_moles_per_litre=0.100 * base_ml / whole_ml,
    )
    assert found == pytest.approx(ph, abs=0.02), source


MIXED = [
    ([(50, 20), (100, 80)], 60, "school page univerkov.com, there-was-50g-in-the-glass"),
    ([(500, 0), (200, 90)], 25.71, "school page one-school.net, SPM physics, heat capacity"),
    ([(50, 85), (100, 25)], 45, "school page wyzant.com, answer 923889"),
    ([(520, 85.9231), (640, 48)], 65, "school page hackmath.net, problem 25541"),
]


@pytest.mark.parametrize(("waters", "celsius", "source"), MIXED)
def test_waters_mix_as_on_a_school_page(waters, celsius, source):
    assert mixed_celsius(portions=[Portion(*water) for water in waters]) == pytest.approx(celsius, abs=0.005), source


def test_a_current_plates_the_silver_printed_for_it():
    """From the school page solveeit.ai: 14.88 A for three minutes plate 3 g."""
    assert silver_by_electrolysis_g(ampere_hours=14.88 * 3 / 60) == pytest.approx(3, rel=0.003)
