"""Contents as sheets print them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.hazards.concentration import Concentration, parse_concentration
from labsys.hazards.errors import OutOfRange, UnreadableConcentration

READ = [  # the ways sheets write a content: common practice, no source
    ("5-10 %", 50_000, 100_000, "5–10 %"),
    ("5 – 10%", 50_000, 100_000, "5–10 %"),
    ("5 to 10 %", 50_000, 100_000, "5–10 %"),
    (">= 5 - <= 10 %", 50_000, 100_000, "5–10 %"),
    ("≥ 1 - < 5 % w/w", 10_000, 49_999, "1–<5 %"),
    ("> 0 - <= 2.5%", 1, 25_000, "0.0001–2.5 %"),
    ("0,5 – 1 %", 5_000, 10_000, "0.5–1 %"),
    ("< 1 %", 0, 9_999, "<1 %"),
    ("<0.1", 0, 999, "<0.1 %"),
    ("<= 1 %", 0, 10_000, "0–1 %"),
    ("≤1%", 0, 10_000, "0–1 %"),
    (">= 25 %", 250_000, 1_000_000, "25–100 %"),
    ("> 25 %", 250_001, 1_000_000, "25.0001–100 %"),
    ("7 %", 70_000, 70_000, "7 %"),
    ("7 wt%", 70_000, 70_000, "7 %"),
    ("7 % (w/w)", 70_000, 70_000, "7 %"),
    ("100 %", 1_000_000, 1_000_000, "100 %"),
    ("0.00005 %", 0, 1, "0–0.0001 %"),
]


@pytest.mark.parametrize(("text", "low", "high", "shown"), READ)
def test_a_content_is_read_and_shown(text, low, high, shown):
    found = parse_concentration(text)
    assert (found.low_ppm, found.high_ppm) == (low, high)
    assert str(found) == shown


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("10-5 %", "backwards"),
        ("101 %", "more than 100 %"),
        ("50-150 %", "more than 100 %"),
        ("> 100 %", "more than 100 %"),
        ("< 0 %", "no content fits"),
        ("> 5 - < 5 %", "no content fits"),
        ("< 5 - 10 %", "wrong way"),
        ("5 - > 10 %", "wrong way"),
        ("5 % w/v", "by mass"),
        ("50 g/L", "by mass"),
        ("trace", "write a figure"),
        ("", "write a figure"),
        ("-5 %", "write a figure"),
        ("5.5.5 %", "write a figure"),
    ],
)
def test_what_cannot_be_a_content_is_refused_with_the_reason(text, reason):
    with pytest.raises(UnreadableConcentration, match=reason) as refusal:
        parse_concentration(text)
    assert refusal.value.text == text


def test_a_limit_is_met_only_from_the_limit_on():
    """CLP limits read "at or above"; a sheet's "< 1 %" stays below a limit of 1 %, its "1 %" does not."""
    assert parse_concentration("< 1 %").high_percent < 1
    assert parse_concentration("<= 1 %").high_percent == 1


@pytest.mark.parametrize(("low", "high"), [(-1, 5), (10, 5), (0, 1_000_001)])
def test_ends_that_are_no_content_are_refused(low, high):
    with pytest.raises(OutOfRange):
        Concentration(low, high)


@given(st.integers(0, 1_000_000), st.integers(0, 1_000_000))
def test_a_written_range_is_read_back_exactly_or_refused_when_backwards(low, high):
    text = f"{low / 10_000:.4f} - {high / 10_000:.4f} %"
    if low <= high:
        assert parse_concentration(text) == Concentration(low, high)
    else:
        with pytest.raises(UnreadableConcentration):
            parse_concentration(text)
