"""CAS numbers: our own check digit, the reference table, and a second opinion."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import casrn

from labsys.hazards.cas import cas_check_digit, check_cas, is_cas
from labsys.hazards.errors import BadCas
from labsys.hazards.substances import all_substances

NUMBERS = [
    {"text": "64-19-7", "valid": True, "source": "acetic acid; check_CAS of the chemicals library 1.5.2"},
    {"text": "64-19-8", "valid": False, "source": "check_CAS of the chemicals library 1.5.2 refuses it"},
    {"text": "55-55-0", "valid": True, "source": "ICSC 1528, metol"},
    {"text": "10102-18-8", "valid": True, "source": "ICSC 0698, sodium selenite"},
    {"text": "7782-49-2", "valid": True, "source": "ICSC 0072, selenium"},
    {"text": "10043-35-3", "valid": True, "source": "Swedish CLH report for boric acid and borates (2018)"},
    {"text": "10039-54-0", "valid": True, "source": "nite.go.jp GHS result page, bis(hydroxylammonium) sulfate"},
    {"text": "7732-18-5", "valid": True, "source": "water, from memory"},
    {"text": "123-31-9", "valid": True, "source": "hydroquinone, from memory"},
    {"text": "123-13-9", "valid": False, "source": "calculated: hydroquinone with two digits swapped"},
]


@pytest.mark.parametrize("row", NUMBERS, ids=lambda row: row["text"])
def test_a_known_number_passes_and_a_spoilt_one_fails(row):
    assert is_cas(row["text"]) is row["valid"], row["source"]


@pytest.mark.parametrize("text", ["", "64197", "64-19", "6-19-7", "64 -19-7", "64-19-77", "٦٤-19-7", "12345678-90-1"])
def test_a_number_of_the_wrong_shape_is_refused(text):
    with pytest.raises(BadCas):
        check_cas(text)


def test_blanks_around_a_number_are_dropped():
    assert check_cas("  64-19-7\n") == "64-19-7"


def test_a_body_that_is_too_short_has_no_check_digit():
    with pytest.raises(BadCas):
        cas_check_digit("1-2")


@pytest.mark.parametrize("entry", all_substances(), ids=lambda entry: entry.cas)
def test_every_number_of_the_reference_table_passes_both_checks(entry):
    assert casrn.is_valid(entry.cas)
    assert is_cas(entry.cas)


@given(st.from_regex(r"[1-9][0-9]{1,6}-[0-9]{2}-[0-9]", fullmatch=True))
def test_our_check_agrees_with_a_second_opinion(text):
    """python-stdnum's casrn is the second opinion."""
    assert is_cas(text) is casrn.is_valid(text)


@given(st.from_regex(r"[1-9][0-9]{1,6}-[0-9]{2}", fullmatch=True), st.integers(0, 9))
def test_exactly_one_last_digit_is_right(body, digit):
    assert is_cas(f"{body}-{digit}") is (digit == cas_check_digit(body))
