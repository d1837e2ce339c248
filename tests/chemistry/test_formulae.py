from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry import published_formulae as published
from labsys.chemistry.dissolving import faults_of, order_faults
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.formulae import Formula, Ingredient, TooLittleToWeigh, Unit, percent_solution_ml, scale, weigh
from labsys.chemistry.salts import SALTS, NoSuchHydrate, hydrate_factor, read_crystal

HANDBOOK = "a plate and paper maker's handbook (c. 1930)"
SCALED = [
    Row(formula=published.MQ_BORAX_DEVELOPER, ml=500, amounts=[1.0, 2.5, 10.0, 10.0], source=f"{HANDBOOK}, p. 130"),
    Row(formula=published.PLAIN_ACID_HYPO, ml=500, amounts=[100.0, 13.0], source=f"{HANDBOOK}, p. 65"),
    Row(formula=published.PLAIN_ACID_HYPO, ml=5000, amounts=[1000.0, 130.0],
        source=f"calculated from {HANDBOOK}, p. 65"),
    Row(formula=published.RESIDUAL_THIOSULFATE_TEST, ml=500, amounts=[62.5, 3.75],
        source="common practice, no source: these for 500 mL"),
    Row(formula=published.RESIDUAL_THIOSULFATE_TEST, ml=1000, amounts=[125.0, 7.5],
        source="Radiography in Modern Industry, page on testing for thiosulfate"),
    Row(formula=published.CITRIC_STOP, ml=600, amounts=[9.0],
        source="calculated from S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), p. 268"),
    Row(formula=published.SULFITE_WASH_AID, ml=5000, amounts=[100.0], source="common practice, no source: 20 g/L"),
    Row(formula=published.NON_SWELLING_STOP, ml=1000, amounts=[32.0, 45.0],
        source="S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), p. 268"),
]  # fmt: skip
ALL = [formula for formula in vars(published).values() if isinstance(formula, Formula)]


@pytest.mark.parametrize("row", SCALED, ids=lambda row: row.formula.name)
def test_a_formula_is_scaled_in_its_order(row):
    scaled = scale(formula=row.formula, volume_ml=row.ml)
    assert [line.amount for line in scaled.ingredients] == pytest.approx(row.amounts)
    assert [line.name for line in scaled.ingredients] == [line.name for line in row.formula.ingredients]
    assert (scaled.makes_ml, scaled.source) == (row.ml, row.formula.source)


def test_the_first_water_is_scaled_and_its_warmth_is_not():
    scaled = scale(formula=published.MQ_BORAX_DEVELOPER, volume_ml=2000)
    assert (scaled.first_water_ml, scaled.water_celsius) == (1500, 50)


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.name)
def test_every_formula_can_be_made(formula):
    """Added up: the first water, the liquids and the solids at their largest come to less than the whole volume."""
    liquids = sum(line.amount for line in formula.ingredients if line.unit is Unit.MILLILITRE)
    solids = sum(line.amount for line in formula.ingredients if line.unit is Unit.GRAM)
    assert formula.first_water_ml + liquids + 0.6 * solids < formula.makes_ml
    assert formula.begin_with_ml == formula.first_water_ml
    assert list(faults_of(formula)) == []
    assert list(order_faults(formula.ingredients)) == []
    assert ", p. " in formula.source or "page" in formula.source or "no source" in formula.source


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.name)
def test_a_formula_says_which_crystal_it_means(formula):
    """US Army SS0513: chemicals exist dry, mono- and decahydrated, and the formula must say which."""
    salts = [crystal for line in formula.ingredients if (crystal := read_crystal(line.name))]
    assert [crystal.salt.name for crystal in salts if crystal.waters is None] in ([], ["citric acid"])


ATOMIC = "calculated from IUPAC atomic weights"
FACTORS = [
    Row(salt="sodium carbonate", old=0, new=1, factor=1.170, source=ATOMIC),
    Row(salt="borax", old=5, new=10, factor=1.309, source=ATOMIC + "; The Darkroom Cookbook, p. 329, rounds to 1.32"),
    Row(salt="sodium carbonate", old=0, new=10, factor=2.700, source=ATOMIC),
    Row(salt="sodium sulfite", old=0, new=7, factor=2.000, source=ATOMIC),
    Row(salt="sodium thiosulfate", old=5, new=0, factor=0.637, source=ATOMIC),
    Row(salt="sodium sulfate", old=0, new=10, factor=2.268, source=ATOMIC),
    Row(salt="borax", old=10, new=5, factor=0.764, source=ATOMIC),
    Row(salt="citric acid", old=0, new=1, factor=1.094, source=ATOMIC),
    Row(salt="sodium sulfide", old=0, new=9, factor=3.078, source=ATOMIC),
]


@pytest.mark.parametrize("row", FACTORS, ids=lambda row: f"{row.salt} {row.old} to {row.new}")
def test_one_hydrate_stands_in_for_another(row):
    factor = hydrate_factor(salt=SALTS[row.salt], from_waters=row.old, to_waters=row.new)
    assert factor == pytest.approx(row.factor, abs=0.0006)


EXCHANGED = [
    Row(grams=67.5, salt="sodium carbonate", old=0, new=1, expected=79.0, source=ATOMIC + ", print developer"),
    Row(grams=67.5, salt="sodium carbonate", old=0, new=10, expected=182.2, source=ATOMIC + ", print developer"),
    Row(grams=320, salt="sodium thiosulfate", old=5, new=0, expected=203.9, source=ATOMIC + ", acid fixer"),
    Row(grams=100, salt="sodium sulfite", old=0, new=7, expected=200.1, source=ATOMIC + ", film developer"),
]


@pytest.mark.parametrize("row", EXCHANGED, ids=lambda row: f"{row.salt} {row.old} to {row.new}")
def test_a_formula_is_made_with_the_hydrate_at_hand(row):
    factor = hydrate_factor(salt=SALTS[row.salt], from_waters=row.old, to_waters=row.new)
    assert row.grams * factor == pytest.approx(row.expected, abs=0.1)


MOLAR = [
    Row(salt="sodium carbonate", waters=0, mass=105.99, source="from memory, any chemical catalogue"),
    Row(salt="sodium thiosulfate", waters=5, mass=248.18, source="from memory, any chemical catalogue"),
    Row(salt="borax", waters=10, mass=381.37, source="from memory, any chemical catalogue"),
    Row(salt="sodium metaborate", waters=8, mass=209.92, source="from memory, any chemical catalogue"),
    Row(salt="potassium alum", waters=12, mass=474.39, source="from memory, any chemical catalogue"),
]


@pytest.mark.parametrize("row", MOLAR, ids=lambda row: row.salt)
def test_molar_masses_are_those_of_the_catalogues(row):
    assert SALTS[row.salt].grams_per_mole(waters=row.waters) == pytest.approx(row.mass, abs=0.03)


def test_a_hydrate_that_is_not_sold_is_refused():
    with pytest.raises(NoSuchHydrate, match="sodium sulfite is not listed with 5 water"):
        hydrate_factor(salt=SALTS["sodium sulfite"], from_waters=0, to_waters=5)


WEIGHINGS = [
    Row(grams=12.5, step=0.1, reading=12.5, percent=0.8, source="calculated from 0.1/12.5"),
    Row(grams=1.9, step=1, reading=2, percent=57.9, source="calculated from (1 + 0.1)/1.9"),
    Row(grams=250, step=0.5, reading=250, percent=0.2, source="calculated from 0.5/250"),
]


@pytest.mark.parametrize("row", WEIGHINGS, ids=lambda row: f"{row.grams} g by {row.step}")
def test_a_balance_weighs_to_its_step(row):
    weighing = weigh(wanted_g=row.grams, step_g=row.step)
    assert weighing.reading_g == row.reading
    assert 100 * weighing.error_share == pytest.approx(row.percent, abs=0.05)


def test_too_little_to_weigh_is_measured_from_a_percent_solution_instead():
    with pytest.raises(TooLittleToWeigh, match=r"0\.4 g is too little for a balance that shows steps of 1 g"):
        weigh(wanted_g=0.4, step_g=1)
    assert percent_solution_ml(grams=0.4, percent=10) == pytest.approx(4)


def test_a_percent_solution_holds_grams_in_a_hundred_millilitres():
    """US Army SS0513; calculated: 37.5 g in 2.5 L of 1.5 %."""
    assert percent_solution_ml(grams=37.5, percent=1.5) == pytest.approx(2500)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: scale(formula=published.CITRIC_STOP, volume_ml=0),
        lambda: Ingredient("nothing", 0),
        lambda: Formula("nothing", (), "no source", makes_ml=0),
        lambda: weigh(wanted_g=0, step_g=1),
        lambda: weigh(wanted_g=1, step_g=0),
        lambda: percent_solution_ml(grams=1, percent=0),
    ],
)
def test_amounts_that_cannot_be_are_refused(ask):
    with pytest.raises(OutOfRange):
        ask()


@given(st.sampled_from(sorted(SALTS)), st.data())
def test_there_and_back_is_one(name, data):
    salt = SALTS[name]
    one, other = (data.draw(st.sampled_from(salt.hydrates)) for _ in range(2))
    there = hydrate_factor(salt=salt, from_waters=one, to_waters=other)
    assert there * hydrate_factor(salt=salt, from_waters=other, to_waters=one) == pytest.approx(1)


@given(st.floats(1, 10_000), st.floats(1, 10_000))
def test_scaling_twice_is_scaling_once(first, second):
    formula = published.PLAIN_ACID_HYPO
    twice = scale(formula=scale(formula=formula, volume_ml=first), volume_ml=second)
    once = scale(formula=formula, volume_ml=second)
    assert [line.amount for line in twice.ingredients] == pytest.approx([line.amount for line in once.ingredients])


@given(st.floats(0.01, 1000), st.sampled_from([0.01, 0.1, 0.5, 1]))
def test_what_is_read_is_never_further_off_than_said(grams, step):
    try:
        weighing = weigh(wanted_g=grams, step_g=step)
    except TooLittleToWeigh:
        assert grams <= step / 2 * (1 + 1e-9)
        return
    assert abs(weighing.reading_g - grams) <= weighing.error_share * grams
