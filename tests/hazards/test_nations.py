"""Which number is rung first where."""

import pytest

from labsys.hazards.nations import ELSEWHERE, Nation, emergency_number, is_number_sure

NUMBERS = [
    *((nation, "999", "999 in the United Kingdom (from memory)") for nation in Nation),
    (ELSEWHERE, "112", "Directive (EU) 2018/1972, article 109 (from memory)"),
    (None, "112", "3GPP TS 22.101: 112 from mobile telephones (from memory)"),
]


@pytest.mark.parametrize(("nation", "number", "source"), NUMBERS)
def test_the_emergency_number_is_that_of_the_nation(nation, number, source):
    assert emergency_number(nation) == number, source
    assert is_number_sure(nation) is (number == "999")
