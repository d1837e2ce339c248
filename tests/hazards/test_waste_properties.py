"""Hazardous properties by the limits of Regulation (EU) No 1357/2014, HP 14 by (EU) 2017/997: from memory."""

import pytest

from labsys.hazards.classes import read_class
from labsys.hazards.mixtures import Ingredient
from labsys.hazards.waste_properties import hazardous_properties


def part(percent, *classes, euh=()):
    return Ingredient(name="X", high_percent=percent, classes=tuple(read_class(text) for text in classes), euh=euh)


@pytest.mark.parametrize(
    ("parts", "reached"),
    [
        ([part(0.99, "Skin Corr. 1A H314")], ""),
        ([part(1.0, "Skin Corr. 1A H314")], "HP 4"),
        ([part(2.5, "Skin Corr. 1B H314"), part(2.5, "Skin Corr. 1B H314")], "HP 8"),
        ([part(9.9, "Eye Dam. 1 H318")], ""),
        ([part(5, "Eye Dam. 1 H318"), part(5, "Eye Dam. 1 H318")], "HP 4"),
        ([part(12, "Skin Irrit. 2 H315"), part(8, "Eye Irrit. 2 H319")], "HP 4"),
        ([part(20, "STOT SE 3 H335")], "HP 5"),
        ([part(10, "STOT SE 3 H335"), part(10, "STOT SE 3 H335")], ""),  # not added up
        ([part(1, "STOT RE 1 H372")], "HP 5"),
        ([part(0.1, "Acute Tox. 1 H300")], "HP 6"),
        ([part(0.24, "Acute Tox. 2 H300")], ""),
        ([part(5, "Acute Tox. 3 H301")], "HP 6"),
        ([part(24.9, "Acute Tox. 4 H302")], ""),
        ([part(25, "Acute Tox. 4 H302")], "HP 6"),
        ([part(0.1, "Carc. 1B H350")], "HP 7"),
        ([part(1, "Carc. 2 H351"), part(1, "Muta. 2 H341")], "HP 7, HP 11"),
        ([part(0.3, "Repr. 1B H360FD")], "HP 10"),
        ([part(2.9, "Repr. 2 H361")], ""),
        ([part(10, "Skin Sens. 1 H317")], "HP 13"),
        ([part(0.25, "Aquatic Chronic 1 H410")], "HP 14"),
        ([part(0.24, "Aquatic Chronic 1 H410")], ""),
        ([part(25, "Aquatic Acute 1 H400")], "HP 14"),
        ([part(2.5, "Aquatic Chronic 2 H411")], "HP 14"),
        ([part(1, euh=("EUH031",))], "HP 12"),
        ([part(1, "Ox. Sol. 2 H272")], "HP 2"),
    ],
)
def test_a_property_holds_from_its_limit_on(parts, reached):
    assert ", ".join(each.code for each in hazardous_properties(parts)) == reached


def test_a_property_says_what_decided_it():
    (found,) = hazardous_properties([part(1.5, "Carc. 2 H351")])
    assert (str(found), found.reason) == ("HP 7 carcinogenic", "H351 comes to 1.5 %, the limit is 1 %")
