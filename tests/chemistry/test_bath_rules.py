import pytest

from labsys.chemistry.bath_rules import (
    AgeLimit,
    AreaCapacity,
    BathFacts,
    ClearingTest,
    DoubledRule,
    Holding,
    NotForPaper,
    PhTest,
    PieceCapacity,
)
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.sizes import UNIT_MM2, Load, Material

HOUSE = "house rule"
FILM_20 = AreaCapacity(Material.FILM, 20 * UNIT_MM2, HOUSE)
WEEK_IN_TRAY = AgeLimit(Holding.TRAY, 168, HOUSE)


def facts(**changes):
    known = {"materials": frozenset({Material.FILM}), "total_ul": 1_500_000, "areas": (FILM_20,)}
    return BathFacts(**{**known, **changes})


def test_capacities_grow_with_the_solution_put_in():
    """Calculated: 1.5 L at 20 units and at 12 pieces to the litre."""
    bath = facts(pieces=PieceCapacity(12, HOUSE))
    assert bath.capacity_mm2(Material.FILM) == 30 * UNIT_MM2
    assert bath.capacity_mm2(Material.RC) is None
    assert bath.capacity_pieces == 18
    assert facts().capacity_pieces is None


def test_a_load_added_later_counts_as_work_since_every_test():
    bath = facts(checks=(PhTest(5.0), ClearingTest(45, 50))).with_load(Load(film_mm2=7, pieces=1))
    assert bath.used == Load(film_mm2=7, pieces=1)
    assert [check.since for check in bath.checks] == [bath.used, bath.used]


def test_a_clearing_test_needs_film_in_the_bath():
    with pytest.raises(NotForPaper):
        facts(materials=frozenset({Material.RC, Material.FIBRE}), checks=(ClearingTest(45, 50),))
    assert facts(materials=frozenset(Material), checks=(ClearingTest(45, 50),)).checks


@pytest.mark.parametrize(
    "changes", [{"total_ul": 0}, {"held_hours": {Holding.TRAY: -1}}, {"held_hours": {Holding.TRAY: float("nan")}}]
)
def test_facts_that_cannot_be_are_refused(changes):
    with pytest.raises(OutOfRange):
        facts(**changes)


@pytest.mark.parametrize(
    "make",
    [
        lambda: AreaCapacity(Material.FILM, 0, HOUSE),
        lambda: PieceCapacity(0, HOUSE),
        lambda: AgeLimit(Holding.TRAY, 0, HOUSE),
        lambda: ClearingTest(0, 10),
        lambda: PhTest(15),
    ],
)
def test_rules_and_tests_that_cannot_be_are_refused(make):
    with pytest.raises(OutOfRange):
        make()


def test_two_rules_for_one_thing_are_refused():
    with pytest.raises(DoubledRule, match="two rules are set for film"):
        facts(areas=(FILM_20, FILM_20))
    with pytest.raises(DoubledRule):
        facts(ages=(WEEK_IN_TRAY, WEEK_IN_TRAY))
