"""What a waste must not meet: first the rule of one code a container, then which solutions react with it."""

from collections.abc import Iterable
from dataclasses import dataclass

from labsys.hazards.incompatibility import EXAMPLES, Group, conflicts_between
from labsys.products.groups import groups_of_product
from labsys.products.models import Product

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


def groups_of_stream(*, code: str, products: Iterable[Product]) -> frozenset[Group]:
    """Return the groups a stream's waste belongs to, by its code and by the products whose waste it takes."""
    by_product = (groups_of_product(product) for product in products if product.waste_code == code)
    return frozenset(_GROUPS_OF_CODE.get(code, ())).union(*by_product)


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
