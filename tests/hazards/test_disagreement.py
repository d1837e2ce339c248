"""Where the supplier and the calculation differ: each kind of harm named once, and nothing that is no disagreement."""

import re

import pytest

from labsys.hazards.disagreement import disagreements
from labsys.hazards.mixtures import classify
from tests.hazards.making import plain

_STATEMENT = re.compile(r" \([^)]*\)(?=,|$)")
CASES = [  # declared, classes of the one ingredient at 100 %, what is said
    ("H319", ["Eye Dam. 1 H318"], ["Eyes: the supplier says H319, the calculation gives H318"]),
    ("H318", ["Eye Irrit. 2 H319"], ["Eyes: the supplier says H318, the calculation gives H319"]),
    ("H351", [], ["Cancer: the supplier says H351, the calculation gives none"]),
    ("", ["Muta. 2 H341"], ["Genes: the supplier says nothing, the calculation gives H341"]),
    ("H314", ["Skin Corr. 1B H314", "Eye Dam. 1 H318"], []),  # H314 says H318 as well
    ("H314 H318", ["Skin Corr. 1B H314"], []),
    ("H410", ["Aquatic Acute 1 H400", "Aquatic Chronic 1 H410"], []),  # H410 says H400 as well
    ("H400 H410", ["Aquatic Acute 1 H400", "Aquatic Chronic 1 H410"], []),
    ("H225 H290", [], []),  # only a test tells
    ("H360", ["Repr. 1B H360FD"], []),  # the letters say more of the same
    ("H302+H332", ["Acute Tox. 4 H302", "Acute Tox. 4 H332"], []),
    (
        "H301 H334",
        ["Acute Tox. 4 H302"],
        [
            "Swallowing: the supplier says H301, the calculation gives H302",
            "Allergy of the airways: the supplier says H334, the calculation gives none",
        ],
    ),
    ("EUH031 EUH208", [], []),  # whether acid frees a gas has no limit for most of what does
    ("H226", ["Flam. Liq. 2 H225"], []),  # no flash point of the mixture is stated
]


@pytest.mark.parametrize(("declared", "classes", "told"), CASES, ids=[case[0] or "nothing" for case in CASES])
def test_each_difference_is_named_once(declared, classes, told):
    calculated = classify([plain("it", 100, *classes, m_acute=1, m_chronic=1)])
    assert [_STATEMENT.sub("", row.words) for row in disagreements(declared.split(), calculated)] == told


def test_which_of_the_two_warns_of_more():
    (eyes,) = disagreements(["H319"], classify([plain("it", 100, "Eye Dam. 1 H318")]))
    assert eyes.is_stricter_by_calculation
    (cancer,) = disagreements(["H351"], classify([]))
    assert not cancer.is_stricter_by_calculation
