"""What a waste must not meet: which solutions react with it, by what it is."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from labsys.hazards.incompatibility import EXAMPLES, Group, conflicts_between
from labsys.products.groups import groups_of_kind, groups_of_product
from labsys.products.models import Product
from labsys.waste.models import WasteKind

_GROUPS_OF_CODE = {
    "09 01 01*": {Group.ALKALINE_SULFITE},
    "09 01 02*": {Group.ALKALINE_SULFITE},
    "09 01 03*": {Group.ORGANIC},
    "09 01 04*": {Group.FIXER},
    "09 01 05*": {Group.FIXER, Group.CYANIDE_COMPLEX, Group.OXIDISER},
    "09 01 13*": {Group.FIXER},
    "14 06 03*": {Group.ORGANIC},
    "16 09 02*": {Group.OXIDISER},
    "16 09 03*": {Group.OXIDISER},
}
# Water that rinsed, or with a drop of wetting agent, changes nothing it meets: common practice, no source.
_HARMLESS = frozenset({WasteKind.RINSE, WasteKind.WETTING_AGENT})
# Silver with ammonia may not stand at all, so a list of what to keep from a standing liquid need not repeat it.
_OTHERS = frozenset(Group) - {Group.SILVER_AMMONIA}


@dataclass(frozen=True)
class Apart:
    """One kind of solution to keep away: its name, examples, the gas that comes off if any, and what happens."""

    name: str
    examples: str
    gas: str | None
    hazard: str

    @property
    def in_short(self) -> str:
        """A line for a label."""
        return f"{self.name.capitalize()}: frees {self.gas}" if self.gas else self.hazard


@dataclass(frozen=True)
class Solution:
    """What was poured, or is to be: how it is called, of which kind, of which product where that is known.

    Without a kind it is not known what it is.
    """

    name: str
    kind: WasteKind | None
    product_id: int | None
    groups: frozenset[Group]

    @property
    def is_harmless(self) -> bool:
        return self.kind in _HARMLESS and not self.groups


NOT_KNOWN = Solution("something that is not known", None, None, frozenset())


def solution_of(kind: WasteKind | None, product: Product | None) -> Solution:
    """Say what a pour is, by its product where one is named, else by everything its kind may be."""
    if kind is None:
        return NOT_KNOWN
    if product is not None:
        return Solution(product.name, kind, product.id, groups_of_product(product) or _groups_of(kind))
    return Solution(kind.words, kind, None, _groups_of(kind))


def _groups_of(kind: WasteKind) -> frozenset[Group]:
    return groups_of_kind(kind.solution) if kind.solution else frozenset()


@dataclass(frozen=True)
class Meeting:
    """Two solutions that must not meet: what the one is, what happens, and each gas that may come off.

    Without a hazard nothing is on file about the two. Gases stand with commas between.
    """

    with_what: str
    hazard: str = ""
    gas: str = ""


def meeting(incoming: Solution, present: Sequence[Solution], *, code: str) -> Meeting | None:
    """Return what speaks against pouring one solution to others, gas first, or None.

    Of a container that is empty or holds rinse water its code alone says what will be in it. Solutions of different
    kinds that no row of the table pairs are not known to bear each other.
    """
    others = [other for other in present if other.product_id is None or other.product_id != incoming.product_id]
    met = [(conflict, other.name) for other in others for conflict in conflicts_between(other.groups, incoming.groups)]
    by_code = _GROUPS_OF_CODE.get(code, set()) if all(other.is_harmless for other in present) else set()
    if len(by_code) == 1:
        met = [(conflict, f"waste of {code}") for conflict in conflicts_between(by_code, incoming.groups)]
    is_by_kind = incoming.product_id is None and bool(incoming.groups)
    if by_code and is_by_kind and not met and by_code.isdisjoint(incoming.groups):
        return Meeting(f"waste of {code}")
    if met:
        first, name = min(met, key=lambda pair: pair[0].gas is None)
        gases = dict.fromkeys(conflict.gas for conflict, _ in met if conflict.gas)
        return Meeting(name, first.hazard, ", ".join(gases))
    strangers = [other for other in others if other.kind is not incoming.kind and not other.is_harmless]
    return Meeting(strangers[0].name) if strangers and not incoming.is_harmless else None


def groups_in(present: Iterable[Solution], *, code: str) -> frozenset[Group]:
    """Return the groups of what is in a container, or of what goes in where nothing is yet."""
    groups = frozenset(group for solution in present for group in solution.groups)
    return groups or frozenset(_GROUPS_OF_CODE.get(code, ()))


def keep_apart(groups: Iterable[Group]) -> tuple[Apart, ...]:
    """Return what must not meet a solution of these groups; what frees a gas comes first.

    >>> [other.name for other in keep_apart([Group.FIXER]) if other.gas][:2]
    ['acid', 'alkaline sulfite']
    """
    own = frozenset(groups)
    apart: dict[Group, Apart] = {}
    for conflict in conflicts_between(own, _OTHERS):
        for other in set(conflict.groups) - own:
            apart.setdefault(other, Apart(str(other), EXAMPLES[other], conflict.gas, conflict.hazard))
    return tuple(apart.values())
