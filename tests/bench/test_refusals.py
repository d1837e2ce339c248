"""What the bench will not work out: nothing is moved into a range, and each message says what may be entered."""

import pytest

from tests.bench.asking import ask

pytestmark = pytest.mark.sqlite_only

TEMPER = {"volume": "2500ml", "target": "20", "hot": "50", "cold": "8"}
DILUTE = {"dilution": "1+6", "volume": "1 L"}
POWDERS = {"formula": "", "lines": "metol 2 g", "volume": "1 L"}


@pytest.mark.parametrize(
    ("key", "typed", "says"),
    [
        ("dilute", {**DILUTE, "dilution": "1+100000"}, "stock (no water) to 1+1000"),
        ("dilute", {**DILUTE, "dilution": "one to six"}, "Write 1+6"),
        ("dilute", {**DILUTE, "dilution": ""}, "Write 1+6"),
        ("dilute", {**DILUTE, "dilution": "0+6"}, "Write 1+6"),
        ("dilute", {**DILUTE, "volume": "2500"}, "Write the unit too"),
        ("dilute", {**DILUTE, "volume": "0 mL"}, "above zero"),
        ("dilute", {**DILUTE, "volume": "-2 L"}, "above zero"),
        ("dilute", {**DILUTE, "volume": "nan L"}, "Write a number and its unit"),
        ("dilute", {**DILUTE, "volume": "inf mL"}, "Write a number and its unit"),
        ("dilute", {**DILUTE, "volume": "2 pints"}, "US or imperial? 2 US pints is 946.4 mL, 2 imp pints is 1137 mL."),
        ("dilute", {**DILUTE, "volume": "32 fl oz"}, "32 US fl oz is 946.4 mL"),
        ("dilute", {**DILUTE, "volume": "0 US gal"}, "above zero"),
        ("dilute", {**DILUTE, "volume": "300 US gal"}, "more than 1,000 L"),
        ("dilute", {**DILUTE, "volume": "2 cups"}, "is not a unit used here"),
        ("dilute", {**DILUTE, "dilution": "1+0+100"}, "Write 1+6, 1+1+100"),
        ("series", {"first": "1+9", "second": "1+1+8", "volume": "1 L"}, "write it as 1+N"),
        ("develop", {"minutes": "9:75", "now": "22"}, "Or write it as 9:30"),
        ("dilute", {**DILUTE, "volume": "2000 L"}, "more than 1,000 L"),
        ("dilute", {**DILUTE, "volume": ""}, "Enter a volume with its unit"),
        ("dilute", {**DILUTE, "kind": "soup"}, "Choose one of the list"),
        ("make-from", {"dilution": "1+6", "left": "0 mL"}, "above zero"),
        ("series", {"first": "1+99", "second": "1+99", "volume": "1 L"}, "at most 1000"),
        ("weaken", {"strong": "2", "wanted": "28", "volume": "1 L"}, "enter at most 2 %"),
        ("weaken", {"strong": "100", "wanted": "0.01", "volume": "1 L"}, "dilute in two steps"),
        ("weaken", {"strong": "0", "wanted": "2", "volume": "1 L"}, "above 0, up to 200 %"),
        ("least", {"dilution": "1+50", "films": "2", "least": "6", "volume": "1 L", "largest": "500 mL"}, "at least"),
        ("least", {"dilution": "1+50", "films": "9", "least": "190", "volume": "1 L", "largest": "1 L"}, "Even undil"),
        ("least", {"dilution": "1+50", "films": "1.5", "least": "6", "volume": "1 L", "largest": "1 L"}, "a whole"),
        ("least", {"dilution": "1+900", "films": "1", "least": "6", "volume": "1 L", "largest": "1 L"}, "one film"),
        ("temper", {**TEMPER, "target": "68"}, "That looks like °F: 68 °F is 20 °C. Enter a number from 5 to 60 °C."),
        ("temper", {**TEMPER, "hot": "122"}, "That looks like °F: 122 °F is 50 °C."),
        ("temper", {**TEMPER, "room": "70"}, "That looks like °F: 70 °F is 21.1 °C."),
        ("temper", {**TEMPER, "cold": "46"}, "That looks like °F: 46 °F is 7.78 °C."),
        ("temper", {**TEMPER, "target": "nan"}, "Enter a number from 5 to 60 °C."),
        ("temper", {**TEMPER, "target": "inf"}, "Enter a number from 5 to 60 °C."),
        ("temper", {**TEMPER, "target": "1e1"}, "Enter a number from 5 to 60 °C."),
        ("temper", {**TEMPER, "target": "-20"}, "Enter a number from 5 to 60 °C."),
        ("temper", {**TEMPER, "hot": ""}, "Enter a number from 1 to 65 °C."),
        ("temper", {**TEMPER, "hot": "8"}, "warmer than the cold"),
        ("temper", {**TEMPER, "target": "55"}, "from 8.0 to 50.0 °C can"),
        ("cool", {"start": "24", "minutes": "0"}, "above 0, up to 1440 min"),
        ("develop", {"minutes": "10", "now": "75"}, "That looks like °F: 75 °F is 23.9 °C."),
        ("develop", {"minutes": "10", "now": "26"}, "this holds from 18 to 24 °C"),
        ("develop", {"minutes": "10", "now": "22", "at": "17"}, "has to lie in the range"),
        ("develop", {"minutes": "10", "now": "22", "q10": "9"}, "from 1 to 5"),
        ("capacity", {"material": "rc", "size": "120", "count": "5", "bath": "1 L"}, "120 is not made in RC"),
        ("capacity", {"material": "film", "size": "120", "count": "0", "bath": "1 L"}, "from 1 to 100000"),
        ("clearing", {"fresh": "0", "now": "70"}, "above 0, up to 3600 s"),
        ("two-baths", {"first": "10 mL", "sheets": "3"}, "one whole sheet"),
        ("replenish", {"rate": "5 L", "units": "3", "tank": "1 L"}, "more than the tank holds"),
        ("wash", {"size": "120", "count": "10", "volume": "500 mL", "left": "10 mL"}, "The film alone holds 20 mL"),
        ("wash", {"material": "rc", "size": "120", "volume": "500 mL"}, "120 is not made in RC paper"),
        ("wash", {"size": "120", "volume": "500 mL", "water": "30"}, "from 1 to 24 °C"),
        ("temper", {**TEMPER, "vessel": "steel"}, "what it weighs"),
        ("temper", {**TEMPER, "weight": "500"}, "say what it is of"),
        ("cool", {"start": "24", "room": "18", "minutes": "8", "read_at": "8"}, "give both"),
        ("cool", {"start": "24", "room": "18", "minutes": "8", "read_at": "8", "read": "25"}, "between 18 and 24 °C"),
        ("stop", {"acid": "acetic", "now": "1"}, "a lower reading belongs to a stronger bath"),
        ("air", {"room": "30"}, "Air drawn out: Enter a number above 0"),
        ("silver", {"material": "fibre", "size": "135-36", "count": "5", "bath": "1 L"}, "is not made in fibre"),
        ("powders", {**POWDERS, "lines": ""}, "Choose a formula, or type your own"),
        ("powders", {**POWDERS, "formula": "mq-borax"}, "not both"),
        ("powders", {**POWDERS, "lines": "metol"}, "“metol”: write a name and an amount"),
        ("powders", {**POWDERS, "lines": "metol 0 g"}, "an amount above 0"),
        ("powders", {**POWDERS, "lines": "metol 2 g\n" * 21}, "up to 20 lines"),
        ("powders", {**POWDERS, "prices": "metol"}, "its price for a kilogram"),
        ("powders", {**POWDERS, "step": "0"}, "above 0, up to 100 g"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_what_may_be_entered(member, key, typed, says):
    assert says in ask(member, key, status=422, **typed)


def test_what_was_typed_is_still_there_after_a_refusal(member):
    page = member.get("/bench", query_string={"ask": "temper", **TEMPER, "target": "68"}).get_data(as_text=True)
    assert 'value="68"' in page
    assert 'value="2500ml"' in page


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"cold": "3"}, "Mains water at 3 °C"),
        ({"cold": "4"}, "under about 7 °C it needs tempering"),
        ({"cold": "31", "target": "35"}, "31 °C is warm for a cold tap"),
        ({"target": "46"}, "46 °C is warmer than any usual bath"),
    ],
)
def test_an_odd_temperature_is_worked_with_and_doubted(member, typed, says):
    """Winter mains at 3 to 4 °C, which have to be tempered: common practice, no source."""
    assert says in ask(member, "temper", **{**TEMPER, **typed})


def test_water_that_is_cool_but_washes_is_not_doubted(member):
    assert "Mains water" not in ask(member, "temper", **TEMPER)


def test_too_short_a_development_is_shown_with_a_warning(member):
    told = ask(member, "develop", minutes="6", now="24")
    assert "under 5 min: development would be uneven" in told


def test_an_exhausted_bath_and_too_weak_a_wash_are_warned_of(member):
    over = ask(member, "capacity", material="film", size="120", count="60", bath="2.5 L")
    assert "Exhausted" in over
    assert "not fixed or developed to the end" in over
    assert "Neither of these washes enough." in ask(member, "wash", volume="500 mL", fills="1", minutes="1")
    assert "Neither of these washes enough." in ask(member, "wash", volume="500 mL", fills="2", minutes="5")


def test_silver_over_a_limit_is_called_so_and_an_estimate(member):
    told = ask(member, "silver", size="120", count="20", bath="1 L", limit="100000", status=422)
    assert "up to 20000 mg/L" in told
    told = ask(member, "silver", size="120", count="20", bath="1 L", limit="20000")
    assert "below, by this estimate" in told
    assert "over, some 2600 times" in told
    assert "An estimate, never a measurement." in told
    assert "may be over" in ask(member, "silver", size="120", count="1", bath="1 L", limit="200")


def test_a_balance_too_coarse_for_the_smallest_weighing_is_called_so(member):
    told = ask(member, "powders", lines="metol 2 g\nphenidone 0.2 g\nacid 28 %: 32 mL", volume="1 L", step="0.1")
    assert "0.2 g of phenidone is too little for this balance" in told
    assert "make a 0.5 % solution and measure 40 mL of it" in told
    assert "metol is too little" not in told
    assert "measured, not weighed" in told
    assert "too little to weigh" in ask(member, "powders", lines="phenidone 0.2 g", volume="1 L", step="1")


def test_a_batch_is_priced_by_the_kilogram_as_far_as_prices_are_known(member):
    told = ask(member, "powders", formula="mq-borax", volume="2 L", prices="metol 90\nHydroquinone: 60\ngold 9000")
    assert "Cost = metol 0.36 + hydroquinone 0.60 = 0.96" in told
    assert "Without sodium sulfite, heptahydrate, borax, decahydrate." in told
    assert "not counted: gold" in told


@pytest.mark.parametrize(
    ("key", "typed", "same"),
    [
        ("clearing", {"fresh": "0:30", "now": "0:45"}, {"fresh": "30", "now": "45 s"}),
        ("clearing", {"fresh": "1 min", "now": "1:10"}, {"fresh": "60 s", "now": "70"}),
        (
            "temper",
            {**TEMPER, "vessel": "steel", "weight": "1.2 kg"},
            {**TEMPER, "target": "20 °C", "vessel": "steel", "weight": "1200"},
        ),
    ],
)
def test_a_time_or_a_weight_may_be_written_as_people_write_it(member, key, typed, same):
    assert ask(member, key, **typed) == ask(member, key, **same)


def test_a_weight_or_a_time_that_cannot_be_read_says_how_to_write_it(member):
    assert "such as 1.2 kg" in ask(member, "temper", status=422, **TEMPER, vessel="steel", weight="heavy")
    assert "Or write it as 0:30" in ask(member, "clearing", status=422, fresh="soon", now="70")
