"""Which solutions must not meet. Reactions are standard chemistry, from memory."""

from itertools import product

import pytest

from labsys.hazards.classes import Family
from labsys.hazards.incompatibility import EXAMPLES, Group, conflict, conflicts_between, groups_for
from labsys.hazards.mixtures import classify
from labsys.hazards.substances import substance

GASES = [
    (Group.ACID, Group.ALKALINE_SULFITE, "sulfur dioxide", "SO3^2- + 2 H+ -> SO2 + H2O"),
    (Group.ACID, Group.FIXER, "sulfur dioxide", "S2O3^2- + 2 H+ -> SO2 + S + H2O"),
    (Group.ACID, Group.SULFIDE_SELENIUM, "hydrogen sulfide", "S^2- + 2 H+ -> H2S"),
    (Group.ACID, Group.HYPOCHLORITE, "chlorine", "OCl- + Cl- + 2 H+ -> Cl2 + H2O"),
    (Group.AMMONIA, Group.HYPOCHLORITE, "chloramines", "NH3 + OCl- -> NH2Cl + OH-"),
    (Group.FIXER, Group.ALKALINE_SULFITE, "ammonia", "NH4+ + OH- -> NH3 + H2O"),
    (Group.CYANIDE_COMPLEX, Group.ACID, "hydrogen cyanide", "[Fe(CN)6]^n- + H+ -> HCN"),
    (Group.ACID, Group.OXIDISER, "chlorine", "2 KMnO4 + 16 HCl -> 5 Cl2"),
]


@pytest.mark.parametrize(("a", "b", "gas", "reaction"), GASES)
def test_a_pair_that_frees_a_gas_names_it(a, b, gas, reaction):
    found = conflict(a, b)
    assert gas in found.gas, reaction
    assert "Out, door shut." in found.do_first


@pytest.mark.parametrize(
    ("a", "b", "word"),
    [
        (Group.OXIDISER, Group.ORGANIC, "fire"),
        (Group.OXIDISER, Group.FIXER, "heat"),
        (Group.OXIDISER, Group.OXIDISER, "oxygen"),
        (Group.OXIDISER, Group.AMMONIA, "explodes"),
        (Group.ACID, Group.AMMONIA, "heat"),
        (Group.HYPOCHLORITE, Group.ORGANIC, "heat"),
    ],
)
def test_a_pair_without_gas_says_what_it_does(a, b, word):
    found = conflict(a, b)
    assert found.gas is None
    assert word in found.hazard


@pytest.mark.parametrize("group", [g for g in Group if g not in (Group.OXIDISER, Group.SILVER_AMMONIA)])
def test_a_group_may_join_its_own_kind(group):
    assert conflict(group, group) is None


@pytest.mark.parametrize("group", list(Group))
def test_silver_with_ammonia_stands_with_nothing(group):
    found = conflict(group, Group.SILVER_AMMONIA)
    assert "explodes" in found.hazard
    assert "Do not touch" in found.do_first


@pytest.mark.parametrize(("a", "b"), list(product(Group, Group)))
def test_the_order_of_a_pair_does_not_matter(a, b):
    one, other = conflict(a, b), conflict(b, a)
    assert (one is None) is (other is None)
    assert one is None or (one.gas, one.hazard, one.do_first) == (other.gas, other.hazard, other.do_first)


def test_every_group_has_examples_a_person_knows():
    assert set(EXAMPLES) == set(Group)


SOLUTIONS = [  # (what, families, pH, groups)
    ("stop bath", {Family.ACID}, None, {Group.ACID}),
    ("stop bath, measured", {Family.ACID}, 2.6, {Group.ACID}),
    ("spent stop bath at pH 6", {Family.ACID}, 6.0, set()),
    ("rapid fixer with its acid", {Family.ACID, Family.THIOSULFATE, Family.SULFITE, Family.AMMONIUM}, 5, {Group.FIXER}),
    ("the same, pH not measured", {Family.ACID, Family.THIOSULFATE, Family.AMMONIUM}, None, {Group.FIXER}),
    ("developer", {Family.PHENOL, Family.SULFITE, Family.BASE}, 10, {Group.ALKALINE_SULFITE}),
    ("sulfide toner", {Family.SULFIDE}, None, {Group.SULFIDE_SELENIUM}),
    ("household bleach", {Family.HYPOCHLORITE}, None, {Group.HYPOCHLORITE}),
    ("ferricyanide bleach", {Family.CYANIDE_COMPLEX, Family.SALT}, None, {Group.CYANIDE_COMPLEX}),
    ("permanganate bleach with acid", {Family.OXIDISER, Family.ACID}, None, {Group.OXIDISER, Group.ACID}),
    ("silver nitrate with ammonia", {Family.SILVER, Family.AMMONIUM}, None,
     {Group.SILVER_AMMONIA, Group.OXIDISER, Group.AMMONIA}),
    ("ammonia solution", {Family.AMMONIUM, Family.BASE}, None, {Group.AMMONIA, Group.ALKALINE_SULFITE}),
    ("pyrogallol as powder", {Family.PHENOL}, None, {Group.ORGANIC}),
    ("alcohol", {Family.ORGANIC}, None, {Group.ORGANIC}),
    ("water", set(), 7, set()),
]  # fmt: skip


@pytest.mark.parametrize(("what", "families", "ph", "groups"), SOLUTIONS)
def test_a_solution_falls_into_its_groups(what, families, ph, groups):
    """Common practice, no source."""
    assert groups_for(families, ph=ph) == groups


def test_a_pour_meets_every_conflict_once_and_gases_come_first():
    found = conflicts_between([Group.HYPOCHLORITE, Group.OXIDISER], [Group.FIXER, Group.FIXER])
    assert [c.gas for c in found] == ["chlorine or chloramines", None]


def test_a_stop_bath_poured_into_fixer_waste_is_caught():
    stop = groups_for(substance("64-19-7").families)
    fixer = groups_for(substance("7783-18-8").families | substance("7757-83-7").families, ph=5)
    (found,) = conflicts_between(fixer, stop)
    assert found.gas == "sulfur dioxide"


@pytest.mark.parametrize("cas", ["7757-83-7", "7681-57-4", "10102-17-7", "7783-18-8", "1313-82-2", "7681-52-9"])
def test_what_the_classification_says_of_acid_the_table_says_too(cas):
    entry = substance(cas)
    assert classify([entry.as_ingredient(high_percent=5)]).screening or cas == "7681-52-9"
    assert any(c.gas for c in conflicts_between(groups_for(entry.families), [Group.ACID]))
