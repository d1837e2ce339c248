from itertools import combinations

import pytest

from labsys.documents.keep_away import MOST_LINES, keep_away
from labsys.hazards.incompatibility import Group
from labsys.waste.meeting import keep_apart

FAMILIAR = [
    {Group.FIXER},
    {Group.ALKALINE_SULFITE},
    {Group.ACID},
    {Group.SULFIDE_SELENIUM},
    {Group.HYPOCHLORITE},
    {Group.CYANIDE_COMPLEX},
    *({one, other} for one, other in combinations([one for one in Group if one is not Group.SILVER_AMMONIA], 2)),
]


@pytest.mark.parametrize(
    ("group", "lines"),
    [  # standard chemistry, from memory
        (
            Group.ALKALINE_SULFITE,
            (
                "Acid: frees sulfur dioxide (poisonous gas)",
                "Fixer · ammonia or its salts: frees ammonia (poisonous gas)",
                "Bleach · oxidiser",
            ),
        ),
        (
            Group.FIXER,
            (
                "Acid: frees sulfur dioxide (poisonous gas)",
                "Developer: frees ammonia (poisonous gas)",
                "Bleach · toner: other poisonous gases",
                "Oxidiser · ferricyanide",
            ),
        ),
    ],
)
def test_partners_that_free_one_gas_share_a_line_and_the_rest_are_only_named(group, lines):
    assert keep_away([group]) == lines


@pytest.mark.parametrize("groups", FAMILIAR, ids=lambda groups: " and ".join(sorted(groups)))
def test_every_partner_on_file_is_named_once_in_four_lines_at_most(groups):
    lines = keep_away(groups)
    assert len(lines) <= MOST_LINES
    named = [each for line in lines for each in line.partition(": ")[0].split(" · ")]
    assert len(named) == len(set(named)) == len(keep_apart(groups))


@pytest.mark.parametrize("groups", FAMILIAR, ids=lambda groups: " and ".join(sorted(groups)))
def test_a_line_speaks_of_gas_just_where_one_is_freed(groups):
    freeing = sum(bool(one.gas) for one in keep_apart(groups))
    named = [line.partition(": ")[0].split(" · ") for line in keep_away(groups) if "poisonous gas" in line]
    assert sum(map(len, named)) == freeing


def test_silver_with_ammonia_says_that_it_may_not_stand():
    (line,) = keep_away([Group.SILVER_AMMONIA, Group.OXIDISER])
    assert "explodes when touched: use at once, never store" in line


def test_a_solution_that_reacts_with_nothing_on_file_has_no_line():
    assert keep_away([]) == ()
