from types import SimpleNamespace as Row

import pytest

from labsys.chemistry.bath_rules import BathFacts, Holding
from labsys.chemistry.life import State, life_of
from labsys.chemistry.published_limits import (
    CAPACITIES,
    CONCENTRATE_KEEPS_UNOPENED_HOURS,
    DAY,
    PRINT_DEVELOPER_KEEPS,
    RAPID_FIXER_KEEPS,
    SILVER_LIMITS,
    STARTING_AREAS,
    STOP_BATH_KEEPS,
    WASH_AID_KEEPS,
    WETTING_AGENT_KEEPS,
)
from labsys.chemistry.sizes import UNIT_MM2, Material

SHEET = "common practice, no source"
KEEPING = [
    Row(rules=RAPID_FIXER_KEEPS, holding=Holding.FULL_BOTTLE, days=182, source=SHEET),
    Row(rules=RAPID_FIXER_KEEPS, holding=Holding.PART_FULL_BOTTLE, days=30, source=SHEET),
    Row(rules=RAPID_FIXER_KEEPS, holding=Holding.TANK, days=61, source=SHEET),
    Row(rules=RAPID_FIXER_KEEPS, holding=Holding.TRAY, days=7, source=SHEET),
    Row(rules=STOP_BATH_KEEPS, holding=Holding.TRAY, days=3, source="from memory"),
    Row(rules=STOP_BATH_KEEPS, holding=Holding.TANK, days=30, source="from memory"),
    Row(rules=PRINT_DEVELOPER_KEEPS, holding=Holding.TRAY, days=8 / 24, source="from memory: one session"),
    Row(rules=WASH_AID_KEEPS, holding=Holding.TRAY, days=1, source="from memory"),
    Row(rules=WETTING_AGENT_KEEPS, holding=Holding.PART_FULL_BOTTLE, days=7, source="from memory"),
]


@pytest.mark.parametrize("row", KEEPING, ids=lambda row: f"{row.holding} {row.days}")
def test_a_solution_keeps_as_long_as_published_and_no_longer(row):
    facts = {"materials": frozenset(Material), "total_ul": 1_000_000, "areas": STARTING_AREAS, "ages": row.rules}
    for hours, state in ((row.days * 24, State.EXHAUSTED), (row.days * 24 * 0.5, State.PLENTY)):
        assert life_of(facts=BathFacts(**facts, held_hours={row.holding: hours})).state is state


STARTS = [
    Row(material=Material.FILM, units=20, source="common practice, no source"),
    Row(material=Material.RC, units=40, source="common practice, no source"),
    Row(material=Material.FIBRE, units=20, source="common practice, no source"),
]


@pytest.mark.parametrize("row", STARTS, ids=lambda row: row.material)
def test_a_lab_starts_from_usual_capacities(row):
    rule = next(rule for rule in STARTING_AREAS if rule.material is row.material)
    assert rule.mm2_per_litre == row.units * UNIT_MM2


def test_every_published_limit_names_its_source():
    assert all(row.source and row.units_per_litre > 0 for row in CAPACITIES)


def test_an_unopened_liquid_concentrate_keeps_for_about_two_years():
    """Common practice, no source: about two years; USAF T.O. 33B-1-1: developer within two years of its making."""
    assert 23 <= CONCENTRATE_KEEPS_UNOPENED_HOURS / DAY / 30.4 <= 25


def test_every_limit_for_silver_names_its_source_the_strictest_first():
    limits = [limit.mg_per_litre for limit in SILVER_LIMITS]
    assert limits == sorted(limits)
    assert all(limit.source for limit in SILVER_LIMITS)
