import math
from types import SimpleNamespace as Row

import pytest

from labsys.chemistry.dilution import parse_dilution, working_from_concentrate
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.fixing import TwoBaths, fixing_seconds, two_baths
from labsys.chemistry.washing import fills_to

NAVY = "NAVEDTRA 14209, Photography (Basic): fix for twice the clearing time"
TURNS = "S. Anchell, The Darkroom Cookbook, 3rd ed., Focal Press 2008, p. 107"
FIXED = [Row(clearing=70, seconds=140, source=NAVY), Row(clearing=45, seconds=90, source=NAVY)]


@pytest.mark.parametrize("row", FIXED, ids=lambda row: f"{row.clearing} s")
def test_film_is_fixed_for_twice_its_clearing_time(row):
    assert fixing_seconds(clearing_seconds=row.clearing) == row.seconds


PAIRS = [
    Row(sheets=0, expected=TwoBaths(0, 50, False), source="common practice, no source: 50 sheets a litre"),
    Row(sheets=49, expected=TwoBaths(0, 1, False), source="calculated from 50 sheets a litre"),
    Row(sheets=50, expected=TwoBaths(1, 50, False), source=TURNS + ": the second becomes the first"),
    Row(sheets=199, expected=TwoBaths(3, 1, False), source=TURNS + ": a third turn"),
    Row(sheets=200, expected=TwoBaths(4, 50, True), source=TURNS + ": both discarded after three turns"),
]


@pytest.mark.parametrize("row", PAIRS, ids=lambda row: f"{row.sheets} sheets")
def test_the_second_bath_becomes_the_first_and_after_three_turns_both_are_renewed(row):
    assert two_baths(sheets=row.sheets, first_bath_ml=1000, sheets_per_litre=50) == row.expected


def test_a_whole_number_of_sheets_does_not_lose_its_last():
    """Calculated: 0.7 L at 10 sheets a litre takes 7."""
    assert two_baths(sheets=6, first_bath_ml=700, sheets_per_litre=10).left_in_first == 1


@pytest.mark.parametrize(
    "ask",
    [
        lambda: fixing_seconds(clearing_seconds=0),
        lambda: fixing_seconds(clearing_seconds=math.nan),
        lambda: two_baths(sheets=-1, first_bath_ml=1000, sheets_per_litre=50),
        lambda: two_baths(sheets=1, first_bath_ml=0, sheets_per_litre=50),
        lambda: two_baths(sheets=1, first_bath_ml=1000, sheets_per_litre=math.inf),
        lambda: two_baths(sheets=1, first_bath_ml=10, sheets_per_litre=50),
    ],
)
def test_what_cannot_be_is_refused(ask):
    with pytest.raises(OutOfRange):
        ask()


LEFT = [
    Row(text="1+6", ml=180, makes=1260, source="calculated from 180 * 7"),
    Row(text="1+19", ml=125, makes=2500, source="common practice, no source: 125 mL of stop bath in 2.5 L"),
    Row(text="1+4", ml=5000, makes=25000, source="calculated: 5 L in a 25 L tank"),
]


@pytest.mark.parametrize("row", LEFT, ids=lambda row: row.text)
def test_what_is_left_in_the_bottle_makes_what_the_dilution_says(row):
    made = working_from_concentrate(dilution=parse_dilution(row.text), concentrate_ml=row.ml)
    assert (made.working_ml, made.water_ml) == (row.makes, row.makes - row.ml)


FILLS = [
    Row(end=1.18, fills=1, source="calculated: 60 * 10/510 is 1.18 g/L after one"),
    Row(end=0.39, fills=2, source="calculated: 0.014 g/m2 of 36 CFR 1238.14 (c) in the 2 mL of a 135-36"),
]


@pytest.mark.parametrize("row", FILLS, ids=lambda row: f"{row.end} g/L")
def test_as_many_fills_as_bring_the_water_down(row):
    assert fills_to(start_g_per_l=60, end_g_per_l=row.end, left_ml=10, fill_ml=500) == row.fills
