import math
from decimal import Decimal
from fractions import Fraction
from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.dilution import (
    AmbiguousDilution,
    Dilution,
    UnreadableDilution,
    in_series,
    parse_dilution,
    split,
    split_to_percent,
    split_ul,
    working_from_concentrate,
)
from labsys.chemistry.errors import OutOfRange

TRADE = "common practice, no source"

NOTATIONS = [
    Row(text="1+6", water=6, source=TRADE),
    Row(text=" 1 + 6 ", water=6, source=TRADE),
    Row(text="1+1.5", water=Fraction(3, 2), source=TRADE),
    Row(text="3+97", water=Fraction(97, 3), source="calculated from parts: 97 of water to 3 of concentrate"),
    Row(text="stock", water=0, source=TRADE),
    Row(text="Undiluted", water=0, source=TRADE),
    Row(text="10 ml/L", water=99, source="calculated from 10 mL made up to 1 L"),
    Row(text="50 mL per litre", water=19, source="calculated from 50 mL made up to 1 L; stop baths are sold as 1+19"),
    Row(text="5 %", water=19, source="calculated from 5 mL made up to 100 mL"),
    Row(text="100%", water=0, source="calculated from 100 mL in 100 mL"),
    Row(text="1 in 10", water=9, source="US Pharmacopeia 37, General Notices 6.50.20: one part made up to ten"),
]


@pytest.mark.parametrize("row", NOTATIONS, ids=lambda row: row.text)
def test_the_notations_of_the_trade_are_read(row):
    assert parse_dilution(row.text).water_parts == row.water


@pytest.mark.parametrize(
    "text", ["", "1+", "+6", "1+-6", "-1+6", "1+6+", "1+nan", "1+inf", "0+6", "0 %", "1+1,5", "four", "1+" + "0" * 50]
)
def test_what_is_no_notation_is_refused(text):
    with pytest.raises(UnreadableDilution) as refusal:
        parse_dilution(text)
    assert refusal.value.text == text


def test_a_refusal_says_what_can_be_read():
    with pytest.raises(
        UnreadableDilution, match=r'cannot read "one to four" as a dilution; write 1\+N, 1\+1\+N, stock,'
    ):
        parse_dilution("one to four")


@pytest.mark.parametrize("text", ["1+1001", "1+1000.5", "0.05 %", "0.5 ml/l", "101 %", "2 in 1", "1500 ml/l"])
def test_a_readable_but_absurd_dilution_is_out_of_range(text):
    with pytest.raises(OutOfRange):
        parse_dilution(text)


@pytest.mark.parametrize("parts", [-1, 1001, Decimal("nan"), Decimal("inf"), Fraction(-1, 10)])
def test_a_dilution_holds_only_sense(parts):
    with pytest.raises(OutOfRange):
        Dilution(parts)


@pytest.mark.parametrize("parts", [1.5, math.nan])
def test_a_dilution_takes_no_float(parts):
    with pytest.raises(TypeError):
        Dilution(parts)


AMBIGUOUS = [
    Row(text="1:4", plus=120, made_up_to=150, ratio=Fraction(5, 4), source="calculated from 600/5 and 600/4"),
    Row(text="1 to 4", plus=120, made_up_to=150, ratio=Fraction(5, 4), source="calculated from 600/5 and 600/4"),
    Row(text="1/9", plus=60, made_up_to=Fraction(200, 3), ratio=Fraction(10, 9), source="calculated: 600/10, 600/9"),
    Row(text="1:1", plus=300, made_up_to=600, ratio=2, source="calculated: 600/2, 600/1, twice as strong"),
]


@pytest.mark.parametrize("row", AMBIGUOUS, ids=lambda row: row.text)
def test_one_to_n_is_never_computed_but_shown_both_ways(row):
    with pytest.raises(AmbiguousDilution) as refusal:
        parse_dilution(row.text)
    plus, made_up_to = refusal.value.at(working_ml=600)
    assert (plus.concentrate_ml, made_up_to.concentrate_ml) == (row.plus, row.made_up_to)
    assert refusal.value.strength_ratio == row.ratio


def test_the_refusal_of_one_to_four_names_both_readings():
    with pytest.raises(AmbiguousDilution, match=r"1\+4 \(20 % concentrate\) or 1\+3 \(25 % concentrate\)"):
        parse_dilution("1:4")


def test_a_ratio_with_more_of_the_first_is_not_guessed_at():
    with pytest.raises(UnreadableDilution):
        parse_dilution("4:1")


SPLITS = [
    Row(text="1+4", ml=600, concentrate=120, water=480, tolerance=0, source="calculated from 600/5"),
    Row(text="1+25", ml=500, concentrate=19.23, water=480.77, tolerance=0.01, source="calculated from 500/26"),
    Row(text="1+31", ml=650, concentrate=20.31, water=629.69, tolerance=0.01, source="calculated from 650/32"),
    Row(text="1+4", ml=25_000, concentrate=5000, water=20_000, tolerance=0, source="calculated: 25 L as 5 L + 20 L"),
    Row(
        text="1+6", ml=2500, concentrate=357, water=2143, tolerance=0.2, source=TRADE + ": 357 mL of developer in 2.5 L"
    ),
    Row(text="1+4", ml=2500, concentrate=500, water=2000, tolerance=0, source=TRADE + ": film fixer, 500 mL in 2.5 L"),
    Row(text="1+9", ml=2500, concentrate=250, water=2250, tolerance=0, source=TRADE + ": paper fixer, 250 mL in 2.5 L"),
    Row(text="1+19", ml=1000, concentrate=50, water=950, tolerance=0, source=TRADE + ": stop bath, 50 mL per litre"),
    Row(text="1+19", ml=2500, concentrate=125, water=2375, tolerance=0, source=TRADE + ": stop bath, 125 mL in 2.5 L"),
    Row(
        text="10 ml/L",
        ml=2500,
        concentrate=25,
        water=2475,
        tolerance=0,
        source=TRADE + ": wetting agent, 25 mL in 2.5 L",
    ),
    Row(
        text="1+4",
        ml=1000,
        concentrate=200,
        water=800,
        tolerance=0,
        source="calculated: rapid fixer concentrate at 1+4",
    ),
    Row(text="stock", ml=500, concentrate=500, water=0, tolerance=0, source=TRADE),
]


@pytest.mark.parametrize("row", SPLITS, ids=lambda row: f"{row.ml} mL at {row.text}")
def test_a_volume_splits_into_concentrate_and_water(row):
    parts = split(dilution=parse_dilution(row.text), working_ml=row.ml)
    assert float(parts.concentrate_ml) == pytest.approx(row.concentrate, abs=row.tolerance, rel=0)
    assert float(parts.water_ml) == pytest.approx(row.water, abs=row.tolerance, rel=0)


def test_a_splash_more_water_saves_a_quarter_litre_of_developer():
    """Common practice, no source: 1+6 in 2.5 L takes 357 mL where 1+4 would take 500 mL."""
    saved = [split(dilution=Dilution(n), working_ml=2500).concentrate_ml for n in (4, 6)]
    assert [round(float(ml)) for ml in saved] == [500, 357]


@pytest.mark.parametrize("volume", [0, -1, math.nan, math.inf, 1_000_001])
def test_a_volume_that_cannot_be_is_refused(volume):
    for ask in (
        lambda: split(dilution=Dilution(4), working_ml=volume),
        lambda: working_from_concentrate(dilution=Dilution(4), concentrate_ml=volume),
    ):
        with pytest.raises(OutOfRange):
            ask()


def test_a_volume_of_less_than_nothing_in_microlitres_is_refused():
    with pytest.raises(OutOfRange):
        split_ul(dilution=Dilution(4), working_ul=0)


SERIES = [
    Row(steps=["1+1", "1+3"], whole="1+7", source="calculated from 2 * 4 = 8 parts"),
    Row(steps=["1+9", "1+9"], whole="1+99", source="calculated from 10 * 10 = 100 parts"),
    Row(steps=[], whole="stock", source="calculated: nothing done is undiluted"),
]


@pytest.mark.parametrize("row", SERIES, ids=lambda row: row.whole)
def test_dilutions_in_series_multiply_their_parts(row):
    assert str(in_series(steps=[parse_dilution(step) for step in row.steps])) == row.whole


def test_five_hundred_at_one_plus_one_then_one_plus_three_needs_an_eighth():
    """Calculated from 500/8."""
    whole = in_series(steps=[Dilution(1), Dilution(3)])
    assert split(dilution=whole, working_ml=500).concentrate_ml == Fraction(125, 2)


def test_a_series_weaker_than_any_solution_is_refused():
    with pytest.raises(OutOfRange):
        in_series(steps=[Dilution(99), Dilution(99)])


PERCENT = [
    Row(
        have=99.5, want=28, volume=32, concentrate=9.0, water=23.0, tolerance=0.05,
        source="US Army SS0513, Photographic Quality Control, ed. 9 (1988), worked example in fl oz",
    ),
    Row(have=28, want=28, volume=100, concentrate=100, water=0, tolerance=0, source="calculated: nothing to weaken"),
]  # fmt: skip


@pytest.mark.parametrize("row", PERCENT, ids=lambda row: f"{row.have} to {row.want}")
def test_a_stronger_acid_is_weakened_to_a_percentage(row):
    parts = split_to_percent(from_percent=row.have, to_percent=row.want, working_ml=row.volume)
    assert float(parts.concentrate_ml) == pytest.approx(row.concentrate, abs=row.tolerance, rel=0)
    assert float(parts.water_ml) == pytest.approx(row.water, abs=row.tolerance, rel=0)


def test_a_solution_cannot_be_made_stronger_with_water():
    with pytest.raises(OutOfRange):
        split_to_percent(from_percent=28, to_percent=30, working_ml=100)


IN_PARTS = [
    Row(text="1+1+10", ml=600, each=[50, 50], water=500, source="calculated: twelve parts of 50 mL"),
    Row(text="1+1+100", ml=1020, each=[10, 10], water=1000, source="calculated: 102 parts of 10 mL"),
    Row(text="1 + 2 + 100", ml=515, each=[5, 10], water=500, source="calculated: 103 parts of 5 mL"),
    Row(text="1:1:100", ml=510, each=[5, 5], water=500, source="US Pharmacopeia 37, 6.50.20: (20:5:2) is parts mixed"),
    Row(text="1+1+1+7", ml=100, each=[10, 10, 10], water=70,
        source="Henley's Twentieth Century Formulas: A, B and C one part each, water 7 parts"),
    Row(text="1+1+0", ml=100, each=[50, 50], water=0, source="calculated: half and half"),
]  # fmt: skip


@pytest.mark.parametrize("row", IN_PARTS, ids=lambda row: row.text)
def test_a_developer_in_parts_is_read_and_split(row):
    dilution = parse_dilution(row.text)
    parts = split(dilution=dilution, working_ml=row.ml)
    assert (list(dilution.each(parts.concentrate_ml)), parts.water_ml) == (row.each, row.water)
    assert parse_dilution(str(dilution)) == dilution


@pytest.mark.parametrize("text", ["1+0+100", "1+1+1+1+50", "1+1:100", "1++100"])
def test_parts_that_cannot_be_meant_are_not_read(text):
    with pytest.raises(UnreadableDilution):
        parse_dilution(text)


def test_in_series_the_concentrates_stay_what_they_are():
    """Calculated: 1+1+8 is ten parts, diluted tenfold again a hundred."""
    assert str(in_series(steps=[parse_dilution("1+1+8"), parse_dilution("1+9")])) == "1+1+98"


dilutions = st.builds(
    Dilution,
    st.one_of(st.integers(0, 1000), st.decimals(0, 1000, places=2), st.fractions(0, 1000, max_denominator=999)),
)
volumes = st.integers(1, 100_000) | st.floats(0.001, 100_000) | st.fractions(Fraction(1, 1000), 10_000)


@given(dilutions, volumes)
def test_the_parts_always_add_up(dilution, volume):
    parts = split(dilution=dilution, working_ml=volume)
    assert parts.concentrate_ml + parts.water_ml == parts.working_ml == Fraction(volume)


@given(dilutions, st.integers(1, 10**9))
def test_whole_microlitres_always_add_up_and_are_the_nearest(dilution, volume):
    concentrate, water = split_ul(dilution=dilution, working_ul=volume)
    assert concentrate + water == volume
    assert abs(concentrate - volume * dilution.strength) <= Fraction(1, 2)


@given(dilutions, volumes)
def test_the_inverse_undoes_the_split(dilution, volume):
    parts = split(dilution=dilution, working_ml=volume)
    if parts.concentrate_ml <= 1_000_000:
        assert working_from_concentrate(dilution=dilution, concentrate_ml=parts.concentrate_ml) == parts


@given(st.builds(Dilution, st.integers(0, 1000) | st.decimals(0, 1000, places=3)))
def test_what_is_printed_reads_back_as_the_same_dilution(dilution):
    assert parse_dilution(str(dilution)) == dilution


PRINTED = [
    Row(parts=Decimal("1.2"), text="1+1.2", source="calculated: 6/5 ends as a decimal"),
    Row(parts=Decimal("0.5"), text="1+0.5", source="calculated: 1/2 ends as a decimal"),
    Row(parts=100, text="1+100", source="calculated: no exponent"),
    Row(parts=Fraction(97, 3), text="3+97", source="calculated: 97/3 never ends"),
    Row(parts=Fraction(1, 6), text="6+1", source="calculated: 1/6 never ends"),
    Row(parts=0, text="stock", source="common practice, no source"),
]


@pytest.mark.parametrize("row", PRINTED, ids=lambda row: row.text)
def test_a_dilution_is_printed_as_the_trade_writes_it(row):
    assert str(Dilution(row.parts)) == row.text


@given(st.fractions(0, 1000, max_denominator=500).map(Dilution))
def test_parts_that_never_end_as_decimals_read_back_too(dilution):
    assert parse_dilution(str(dilution)) == dilution


@given(dilutions, dilutions, volumes)
def test_more_water_parts_never_take_more_concentrate(one, other, volume):
    weaker, stronger = sorted((one, other), key=lambda d: d.strength)
    weak = split(dilution=weaker, working_ml=volume).concentrate_ml
    assert weak <= split(dilution=stronger, working_ml=volume).concentrate_ml


@given(st.text(max_size=60))
def test_no_text_breaks_the_reader(text):
    try:
        dilution = parse_dilution(text)
    except (UnreadableDilution, AmbiguousDilution, OutOfRange):
        return
    assert 0 <= dilution.water_parts <= 1000
