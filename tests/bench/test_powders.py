"""Mixing from powders, through the page: order, room, crystals and what dissolves."""

import pytest

from labsys.bench.powders import FORMULAE
from labsys.chemistry.formulae import Unit
from tests.bench.asking import amounts, ask

pytestmark = pytest.mark.sqlite_only

OWN_FIXER = "hypo crystals 240 g\nsodium sulfite anhydrous 15 g\nacetic acid 28 %: 48 mL"


def test_a_fixer_starts_from_the_thiosulfate_in_warm_water(member):
    """S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), p. 268: the thiosulfate first, in water of 32 °C or more."""
    told = ask(member, "powders", formula="plain-hypo", volume="2 L")
    assert told.index("1. sodium thiosulfate, pentahydrate") < told.index("2. potassium metabisulfite")
    assert "1500 mL water to begin with at 32 °C" in told
    assert "400 g" in told
    assert "52 g" in told
    assert "p. 268" in told


@pytest.mark.parametrize("key", FORMULAE)
def test_what_the_page_asks_for_fits_into_the_volume(member, key):
    """Added up: water to begin with and liquids are less than what is made."""
    first_ml = float(amounts(member, "powders", formula=key, volume="1 L")[0].split()[0])
    liquids = sum(line.amount for line in FORMULAE[key].ingredients if line.unit is Unit.MILLILITRE)
    assert 0 < first_ml + liquids < 1000


def test_of_much_liquid_less_water_is_begun_with(member):
    """Calculated: 1000 - 800 - 0.6 * 60 = 164 mL are left for water."""
    told = ask(
        member, "powders", lines="ammonium thiosulfate 60 %: 800 mL\nsodium sulfite anhydrous 60 g", volume="1 L"
    )
    assert "164 mL water to begin with" in told


def test_the_wrong_order_of_a_fixer_is_warned_of(member):
    lines = "\n".join(reversed(OWN_FIXER.splitlines()))
    told = ask(member, "powders", lines=lines, volume="1 L")
    assert "Start from the thiosulfate" in told
    assert "throws down sulfur and gives off sulfur dioxide" in told
    assert "Start from" not in ask(member, "powders", lines=OWN_FIXER, volume="1 L")


@pytest.mark.parametrize(
    ("asked", "jar", "weighed"),
    [
        ("sodium carbonate, anhydrous 67.5 g", "sodium carbonate, monohydrate", "78.97 g"),
        ("sodium carbonate, anhydrous 67.5 g", "Sodium carbonate crystals", "182.2 g"),
        ("sodium sulphite anhydrous 100 g", "sodium sulfite, heptahydrate", "200.1 g"),
        ("borax, decahydrate 20 g", "borax, pentahydrate", "15.28 g"),
        ("hypo crystals 320 g", "sodium thiosulfate, anhydrous", "203.9 g"),
    ],
)
def test_the_crystal_in_the_jar_is_weighed(member, asked, jar, weighed):
    """Calculated from IUPAC atomic weights; S. Anchell 2008, p. 268, gives 0.64 for thiosulfate, p. 329 0.76 for borax;
    Langford's Basic Photography, appendix D, gives 1.2, 2.7 and 2 for the first three."""
    told = ask(member, "powders", lines=asked, have=jar, volume="1 L")
    assert f"= {weighed}" in told
    assert "Ratio of molar masses" in told


def test_a_formula_that_does_not_say_which_crystal_is_asked_back(member):
    told = ask(member, "powders", lines="sodium carbonate 60 g", volume="1 L")
    assert "sodium carbonate: anhydrous or monohydrate or decahydrate?" in told
    assert "2.7 times apart" in told


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"lines": "borax decahydrate 100 g"}, "only about 49"),
        ({"lines": "sodium carbonate pentahydrate 10 g"}, "It is sold as anhydrous or monohydrate or decahydrate."),
        ({"lines": "acid 950 mL\nmetol 100 g"}, "more room than the whole volume"),
        ({"lines": "metol 2 g", "have": "metol"}, "not a salt that is sold with different water"),
        ({"lines": "metol 2 g", "have": "borax"}, "say which, anhydrous or pentahydrate or decahydrate"),
        ({"lines": "metol 2 g", "have": "borax monohydrate"}, "not listed with 1 water"),
    ],
)
def test_what_cannot_be_made_is_refused(member, typed, says):
    assert says in ask(member, "powders", volume="1 L", status=422, **typed)


def test_what_nearly_does_not_dissolve_is_warned_of(member):
    """Borax: about 49 g of the decahydrate in a litre at 20 °C, from memory of chemical handbooks."""
    told = ask(member, "powders", lines="borax decahydrate 40 g", volume="1 L")
    assert "of what dissolves at 20 °C" in told


def test_the_silver_nitrate_test_takes_distilled_water(member):
    told = ask(member, "powders", formula="thiosulfate-test", volume="500 mL")
    assert "375 mL distilled water to begin with" in told
    assert "made up with cold distilled water" in told
    assert "its chloride takes the silver" in told
    assert "3.75 g" in told, "calculated from 7.5 g a litre"


def test_a_jar_that_the_formula_does_not_ask_for_is_named(member):
    told = ask(member, "powders", formula="citric-stop", have="borax decahydrate", volume="1 L")
    assert "nothing was exchanged: borax" in told


def test_silver_of_ones_own_formula_takes_distilled_water_too(member):
    told = ask(member, "powders", lines="silver nitrate 20 g", volume="100 mL")
    assert "distilled water to begin with" in told
    assert "as it comes from the tap" not in told
