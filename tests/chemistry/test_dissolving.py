from types import SimpleNamespace as Row

import pytest

from labsys.chemistry.dissolving import dissolved_share, faults_of, most_dissolved_percent, order_faults
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.formulae import Formula, Ingredient, Unit
from labsys.chemistry.salts import NoSuchHydrate, read_crystal

TRADE = "as dealers write it: common practice, no source"
CRYSTALS = [
    Row(text="Sodium sulphite, anhydrous", salt="sodium sulfite", waters=0, source=TRADE),
    Row(text="sodium sulfite (cryst.)", salt="sodium sulfite", waters=7, source=TRADE),
    Row(text="sodium carbonate", salt="sodium carbonate", waters=None, source=TRADE),
    Row(text="washing soda crystals", salt="sodium carbonate", waters=10, source=TRADE),
    Row(text="sodium carbonate monohydrate", salt="sodium carbonate", waters=1, source=TRADE),
    Row(text="hypo, pentahydrate", salt="sodium thiosulfate", waters=5, source=TRADE),
]


@pytest.mark.parametrize("row", CRYSTALS, ids=lambda row: row.text)
def test_a_salt_and_its_water_are_read_as_people_write_them(row):
    crystal = read_crystal(row.text)
    assert (crystal.salt.name, crystal.waters) == (row.salt, row.waters)


def test_what_is_no_listed_salt_is_left_alone():
    assert read_crystal("metol") is None


def test_a_crystal_that_is_not_sold_is_refused():
    with pytest.raises(NoSuchHydrate, match="sodium carbonate is not listed with 5 water"):
        read_crystal("sodium carbonate pentahydrate")


DISSOLVES = [
    Row(name="borax, decahydrate", percent=4.9, source="about 5 g in 100 mL at 20 °C: chemical handbooks, from memory"),
    Row(name="sodium thiosulfate, pentahydrate", percent=110, source="calculated from 70 g anhydrous, from memory"),
    Row(name="potassium alum, dodecahydrate", percent=11, source="11 g in 100 mL: chemical handbooks, from memory"),
    Row(name="silver nitrate", percent=215, source="chemical handbooks, from memory"),
]


@pytest.mark.parametrize("row", DISSOLVES, ids=lambda row: row.name)
def test_how_much_dissolves_is_counted_with_the_water_in_the_crystal(row):
    assert most_dissolved_percent(name=row.name) == pytest.approx(row.percent, rel=0.02)


def test_of_what_is_not_on_file_nothing_is_said():
    assert most_dissolved_percent(name="glycin") is None
    assert dissolved_share(name="glycin", grams=1, volume_ml=1) is None


def test_amounts_that_cannot_be_are_refused():
    with pytest.raises(OutOfRange):
        dissolved_share(name="metol", grams=0, volume_ml=100)


def test_more_than_dissolves_and_more_than_fits_are_faults():
    too_much = Formula("own", (Ingredient("borax, decahydrate", 100),), "own")
    assert "only about 49" in next(faults_of(too_much))
    assert list(faults_of(Formula("own", (Ingredient("borax, decahydrate", 20),), "own"))) == []
    over_full = Formula("own", (Ingredient("acid", 900, Unit.MILLILITRE), Ingredient("sugar", 200)), "own")
    assert "more room than the whole volume" in next(faults_of(over_full))


def test_acid_on_thiosulfate_is_wrong_before_sulfite_and_right_after():
    """S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), pp. 171 and 268."""
    hypo, sulfite = Ingredient("hypo crystals", 240), Ingredient("sodium sulphite", 15)
    acid = Ingredient("acetic acid 28 %", 48, Unit.MILLILITRE)
    assert list(order_faults([hypo, sulfite, acid])) == []
    assert "throws down sulfur" in next(order_faults([hypo, acid, sulfite]))
    assert "Start from the thiosulfate" in next(order_faults([sulfite, hypo, acid]))


def test_metol_goes_in_before_the_sulfite():
    """A plate and paper maker's photographic handbook (c. 1930), p. 24."""
    metol, sulfite = Ingredient("Metol", 2), Ingredient("sodium sulfite, anhydrous", 100)
    assert list(order_faults([metol, sulfite])) == []
    assert "Metol goes in before" in next(order_faults([sulfite, metol]))
