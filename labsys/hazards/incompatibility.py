"""Which solutions must not meet, in a tray, a sink or a waste container, and what to do first when they did.

First comes the rule of waste: one container for each List of Waste code. This table is about reactions only.

Source: standard chemistry from memory; the table's pattern follows 40 CFR 264 appendix V and EPA-600/2-80-076
(Hatayama et al., 1980), as far as darkrooms need it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from itertools import product

from .classes import Family
from .first_aid import OUT, STAY_OUT
from .tables import read_table

_ACID_BELOW_PH = 4.0
_ALKALINE_ABOVE_PH = 9.0


class Group(StrEnum):
    """Kinds of solution that are kept apart."""

    ACID = "acid"
    FIXER = "fixer"
    ALKALINE_SULFITE = "alkaline sulfite"
    SULFIDE_SELENIUM = "sulfide or selenium"
    HYPOCHLORITE = "hypochlorite"
    AMMONIA = "ammonia"
    CYANIDE_COMPLEX = "cyanide complex"
    OXIDISER = "oxidiser"
    ORGANIC = "organic"
    SILVER_AMMONIA = "silver with ammonia"


EXAMPLES = {
    Group.ACID: "stop baths, acid bleaches, alum hardener: below about pH 4",
    Group.FIXER: "acid and neutral fixers",
    Group.ALKALINE_SULFITE: "developers, wash aids and other alkaline solutions",
    Group.SULFIDE_SELENIUM: "sepia toners of the sulfide kind, selenium toners",
    Group.HYPOCHLORITE: "household bleach",
    Group.AMMONIA: "ammonia solution, ammonium salts",
    Group.CYANIDE_COMPLEX: "ferricyanide bleach and reducer",
    Group.OXIDISER: "dichromate, permanganate, peroxide, silver nitrate",
    Group.ORGANIC: "alcohols, formaldehyde, glycerol, developing agents as powder",
    Group.SILVER_AMMONIA: "ammoniacal silver: use at once, never store",
}

_DO_FIRST = {
    "gas": f"Breathe none of it, extraction left running. {OUT} {STAY_OUT}",
    "heat": "Do not close the container. Step back, keep others away, let it calm down under extraction.",
    "fire": "Keep flames and paper away. Step back; if it smokes, everybody out and call the fire service.",
    "explosive": "Do not touch, move, scrape or let dry what has formed. Everybody out; call the competent person.",
    "apart": "Stop pouring. Cap nothing tightly, mark the container and ask the competent person.",
}
_STANDING_SILVER = (
    "Silver with ammonia, left to stand, forms a solid that explodes when touched: use at once, never store."
)


@dataclass(frozen=True)
class Conflict:
    """Why two groups must not meet, the gas that comes off if any, and what to do first when they did."""

    groups: tuple[Group, Group]
    gas: str | None
    hazard: str
    do_first: str
    source: str

    @property
    def caution(self) -> str:
        """What happens where they meet, and what to do first when they have."""
        return f"{self.hazard} If they have met: {self.do_first}"


@cache
def _table() -> dict[frozenset[Group], Conflict]:
    return {
        frozenset(pair): Conflict(pair, row["gas"] or None, row["hazard"], _DO_FIRST[row["do_first"]], row["source"])
        for row in read_table("incompatible")
        for pair in [(Group(row["group_a"]), Group(row["group_b"]))]
    }


def conflict(group_a: Group, group_b: Group) -> Conflict | None:
    """Return why two groups must not meet, in either order.

    Silver with ammonia conflicts with everything, itself included: it may not stand at all.

    Parameters:
        group_a: One group. [-]
        group_b: The other. [-]
    Returns:
        The conflict, or None when none is on file; that is no promise that mixing is safe. [-]

    >>> conflict(Group.HYPOCHLORITE, Group.ACID).gas
    'chlorine'
    """
    if Group.SILVER_AMMONIA in (group_a, group_b):
        source = "standard chemistry, from memory"
        return Conflict((group_a, group_b), None, _STANDING_SILVER, _DO_FIRST["explosive"], source)
    return _table().get(frozenset((group_a, group_b)))


def conflicts_between(present: Iterable[Group], incoming: Iterable[Group]) -> tuple[Conflict, ...]:
    """Return every conflict between what is in a container and what is to be poured in.

    Parameters:
        present: Groups of the contents. [-]
        incoming: Groups of the pour. [-]
    Returns:
        The conflicts, each once; those that give off gas come first. [-]
    """
    met = {conflict(group, other) for group, other in product(sorted(present), sorted(incoming))}
    return tuple(sorted(filter(None, met), key=lambda clash: (clash.gas is None, clash.groups)))


def groups_for(families: Iterable[Family], *, ph: float | None = None) -> frozenset[Group]:
    """Return the groups a solution belongs to, from its ingredients' families and its pH.

    An ordinary fixer tolerates its own acid, so acid beside thiosulfate or sulfite counts only below pH 4.

    Parameters:
        families: Families of all ingredients. [-]
        ph: Measured pH, or None. [-]
    Returns:
        The groups; none when nothing on file applies. [-]
    Source:
        pH bounds: common practice, no source.
    """
    held = set(families)
    sulfur = bool(held & {Family.THIOSULFATE, Family.SULFITE})
    groups: set[Group] = set()
    if ph < _ACID_BELOW_PH if ph is not None else Family.ACID in held and not sulfur:
        groups.add(Group.ACID)
    if Family.THIOSULFATE in held:
        groups.add(Group.FIXER)
    elif Family.SULFITE in held or Family.BASE in held or (ph is not None and ph > _ALKALINE_ABOVE_PH):
        groups.add(Group.ALKALINE_SULFITE)
    if held & {Family.SULFIDE, Family.SELENIUM}:
        groups.add(Group.SULFIDE_SELENIUM)
    if Family.AMMONIUM in held and Family.THIOSULFATE not in held:
        groups.add(Group.AMMONIA)
    if Family.PHENOL in held and not sulfur:
        groups.add(Group.ORGANIC)
    if {Family.SILVER, Family.AMMONIUM} <= held and Family.THIOSULFATE not in held:
        groups.add(Group.SILVER_AMMONIA)
    plain = {
        Family.HYPOCHLORITE: Group.HYPOCHLORITE,
        Family.CYANIDE_COMPLEX: Group.CYANIDE_COMPLEX,
        Family.OXIDISER: Group.OXIDISER,
        Family.SILVER: Group.OXIDISER,
        Family.ORGANIC: Group.ORGANIC,
        Family.ALDEHYDE: Group.ORGANIC,
    }
    return frozenset(groups | {group for family, group in plain.items() if family in held})
