"""Washing by load and warmth, the stop bath, air and mistakes, as a person reads them on the page."""

import pytest

from labsys.bench.air import FREES_GAS
from tests.bench.asking import ask

pytestmark = pytest.mark.sqlite_only


def test_a_print_wash_follows_the_load(member):
    """Calculated: 10 sheets of 0.0516 m² at 300 mL/m² carry 155 mL, 250 of them 3.87 L, so that fills of 2 L take
    ln(18 / 0.014) / ln(5.871 / 3.871) = 17.2 of them; 300 mL/m²: common practice, no source."""
    few = ask(member, "wash", material="fibre", size="8x10 in", count="10", volume="10 L")
    assert "keep 155 mL after each dump" in few
    many = ask(member, "wash", material="fibre", size="8x10 in", count="250", volume="2 L", flow="20")
    assert "18 fills at least" in many
    assert "No limit is published for paper" in few


def test_a_wash_says_what_it_assumes_and_how_often_water_changes(member):
    """NAVEDTRA 14209: a complete change every 3 min."""
    told = ask(member, "wash", volume="10 L", flow="2")
    assert "assumes equilibrium" in told
    assert "Never fewer than 3 changes" in told
    assert "has to change every 3 min" in told
    assert "has to change" not in ask(member, "wash", volume="2 L", flow="2")


def test_cold_water_makes_each_fill_stand_longer(member):
    """US Army TM 11-2323, par. 33: twice the time at 10 °C."""
    assert "of 500 mL, 10 min each" in ask(member, "wash", volume="500 mL", water="10")
    assert "it takes 2.00 times as long" in ask(member, "wash", volume="500 mL", water="10")


def test_rc_paper_is_not_left_in_water(member):
    assert "takes it up at the edges" in ask(member, "wash", material="rc", size="8x10 in", volume="4 L", minutes="5")


def test_a_stop_bath_at_its_end_is_told_with_its_doubt(member):
    """P. Glafkides: the bath must stay below pH 5.8."""
    told = ask(member, "stop", acid="acetic", now="5.6")
    assert "Near its end" in told
    assert "Mix a fresh one" in told
    assert "for a pH read to ± 0.3" in told
    assert "Mix a fresh one" not in ask(member, "stop", acid="acetic", now="4.5")


@pytest.mark.parametrize("what", FREES_GAS)
def test_every_mistake_names_its_gas(member, what):
    told = ask(member, "gas", what=what, amount="100", room="30")
    assert any(gas in told for gas in ("sulfur dioxide", "hydrogen sulfide", "chlorine", "ammonia"))


def test_chlorine_of_a_cup_of_bleach_is_deadly(member):
    """Calculated by hand: 100 mL × 50 g/L = 5 g in 30 m³ is 167 mg/m³, 57 ppm; danger from 10 ppm, from memory."""
    told = ask(member, "gas", what="bleach", amount="100", room="30")
    assert "57 ppm of chlorine" in told
    assert "Nobody goes back in, even to rescue" in told


@pytest.mark.parametrize(
    ("first", "second", "gas", "says"),
    [
        ("acid", "hypochlorite", "chlorine", "door shut"),
        ("acid", "sulfide or selenium", "hydrogen sulfide", "numbs the nose"),
        ("fixer", "alkaline sulfite", "ammonia", "ammonium fixer"),
        ("oxidiser", "organic", "", "call the fire service"),
        ("ammonia", "oxidiser", "", "Do not touch, move, scrape"),
        ("acid", "ammonia", "", "Do not close the container"),
    ],
)
def test_each_pair_has_its_own_caution(member, first, second, gas, says):
    """The reactions: standard chemistry, from memory."""
    told = ask(member, "meet", first=first, second=second)
    assert says in told
    assert (f"Gives off {gas}" in told) == bool(gas)


def test_a_pair_that_is_not_on_file_is_not_called_safe(member):
    assert "no promise that mixing is safe" in ask(member, "meet", first="acid", second="acid")


def test_the_air_over_trays_stands_beside_the_limit(member):
    """EH40/2005, from memory: acetic acid 10 ppm over 8 hours. Calculated by hand: 0.87 ppm in 30 m³ at 6 changes."""
    told = ask(member, "air", content="2", tray="12x16 in", room="30", flow="180")
    assert "10 ppm over 8 hours" in told
    assert "0.9 to 4.5 ppm" in told
    assert "never that it is safe" in told
    strong = ask(member, "air", content="30", tray="20x24 in", trays="4", room="20", flow="40")
    assert "may be over: ask the safety adviser" in strong
