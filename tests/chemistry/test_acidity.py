from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.acidity import ACETIC, CITRIC, base_taken_up, hydrogens_given_off, moles_per_litre, ph_of
from labsys.chemistry.errors import OutOfRange

PKA = "calculated, pKa from memory"
AMOUNTS = [
    Row(acid=ACETIC, moles=0.250, ph=2.68, tolerance=0.05, source=PKA + " (4.756)"),
    Row(acid=CITRIC, moles=0.0781, ph=2.1, tolerance=0.1, source=PKA + " (3.13, 4.76, 6.40)"),
]


@pytest.mark.parametrize("row", AMOUNTS, ids=lambda row: row.acid.name)
def test_fifteen_grams_a_litre_make_a_stop_bath(row):
    assert moles_per_litre(acid=row.acid, grams_per_litre=15) == pytest.approx(row.moles, rel=0.002)
    assert ph_of(acid=row.acid, grams_per_litre=15) == pytest.approx(row.ph, abs=row.tolerance)


NEUTRALISED = [
    Row(ph=5.2, percent=73.5, source=PKA + "; bromocresol purple begins to turn at 5.2"),
    Row(ph=5.8, percent=91.7, source=PKA + "; P. Glafkides: a stop bath must stay below 5.8"),
    Row(ph=6.8, percent=99.1, source=PKA + "; bromocresol purple is purple at 6.8"),
]


@pytest.mark.parametrize("row", NEUTRALISED, ids=lambda row: f"pH {row.ph}")
def test_an_acetic_bath_is_nearly_spent_when_its_indicator_turns(row):
    assert 100 * hydrogens_given_off(acid=ACETIC, ph=row.ph) == pytest.approx(row.percent, abs=0.05)


TAKEN_UP = [
    Row(acid=ACETIC, moles=0.229, source=PKA + "; 15 g/L to pH 5.8"),
    Row(acid=CITRIC, moles=0.165, source=PKA + "; 15 g/L to pH 5.8"),
]


@pytest.mark.parametrize("row", TAKEN_UP, ids=lambda row: row.acid.name)
def test_a_litre_takes_up_some_alkali_before_it_is_spent(row):
    assert base_taken_up(acid=row.acid, grams_per_litre=15, ph=5.8) == pytest.approx(row.moles, rel=0.05)


def test_an_acid_is_never_more_acid_than_alone():
    with pytest.raises(OutOfRange):
        base_taken_up(acid=ACETIC, grams_per_litre=15, ph=2.0)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: moles_per_litre(acid=ACETIC, grams_per_litre=0),
        lambda: hydrogens_given_off(acid=ACETIC, ph=15),
        lambda: ph_of(acid=ACETIC, grams_per_litre=15, base_moles_per_litre=-0.1),
    ],
)
def test_solutions_that_cannot_be_are_refused(ask):
    with pytest.raises(OutOfRange):
        ask()


acids = st.sampled_from([ACETIC, CITRIC])
strengths = st.floats(1, 50)


@given(acids, strengths, st.floats(0, 0.5))
def test_the_base_taken_up_at_a_ph_gives_that_ph(acid, grams, base):
    ph = ph_of(acid=acid, grams_per_litre=grams, base_moles_per_litre=base)
    assert base_taken_up(acid=acid, grams_per_litre=grams, ph=ph) == pytest.approx(base, abs=1e-6)


@given(acids, strengths, st.floats(0, 0.5), st.floats(0, 0.5))
def test_more_alkali_never_makes_it_more_acid(acid, grams, one, other):
    less, more = sorted((one, other))
    facts = {"acid": acid, "grams_per_litre": grams}
    assert ph_of(**facts, base_moles_per_litre=less) <= ph_of(**facts, base_moles_per_litre=more) + 1e-9
