"""Codes to scan: the check character finds the slips people make, and says what is wrong."""

import re
from string import ascii_uppercase, digits

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from labsys.records.models import CodeKind
from labsys.records.rules import CodeRefused, read_code, write_code

codes = st.builds(
    write_code,
    prefix=st.text(ascii_uppercase, min_size=2, max_size=4),
    kind=st.sampled_from(CodeKind),
    number=st.integers(1, 999_999),
)


# The system behind the check character, on identifiers of other registries that use it.
@pytest.mark.parametrize(
    ("body", "check", "source"),
    [("A12425GABC1234002", "M", "Global Release Identifier standard, its own example (from memory)")],
)
def test_the_check_character_is_that_of_iso_7064_mod_37_36(body, check, source):
    assert mod_37_36.calc_check_digit(body) == check


@given(codes, st.data())
def test_any_one_wrong_character_is_noticed(code, data):
    place = data.draw(st.sampled_from([i for i, character in enumerate(code) if character != "-"]))
    wrong = data.draw(st.sampled_from([c for c in digits + ascii_uppercase if c != code[place]]))
    mistyped = code[:place] + wrong + code[place + 1 :]
    with pytest.raises(CodeRefused):
        read_code(mistyped, prefix=code.split("-")[0])


@given(codes)
def test_a_code_reads_back_in_either_case_with_or_without_hyphens(code):
    prefix = code.split("-")[0]
    for typed in (code, code.lower(), code.replace("-", ""), code.replace("-", " "), f"  {code} "):
        assert read_code(typed, prefix=prefix).code == code


def test_nearly_all_neighbours_swapped_in_a_number_are_noticed():
    """A hybrid system of ISO 7064 does not find every swap; of those in the first 10,000 bath codes it misses 0.9 %."""
    swaps = missed = 0
    for number in range(1, 10_000):
        plain = write_code(prefix="AS", kind=CodeKind.BATH, number=number).replace("-", "")
        for i in range(3, len(plain) - 2):
            if plain[i] != plain[i + 1]:
                swaps += 1
                missed += mod_37_36.is_valid(plain[:i] + plain[i + 1] + plain[i] + plain[i + 2 :])
    assert missed / swaps < 0.01


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "looks like AS-T0041-U"),
        ("hello", "looks like AS-T0041-U"),
        ("AS-T0041-X", "check character does not fit"),
        (write_code(prefix="KD", kind=CodeKind.BATH, number=41), "belongs to another lab (KD)"),
        ("AS-T41-2", "looks like"),
        ("ΑΣ-T0041-2", "looks like"),
    ],
)
def test_a_code_that_cannot_be_used_says_why(typed, says):
    with pytest.raises(CodeRefused, match=re.escape(says)):
        read_code(typed, prefix="AS")
