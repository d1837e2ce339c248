"""Which kinds of solution a product belongs to, as the table of what must not meet tells them apart."""

from labsys.chemistry.care import SolutionKind
from labsys.hazards.incompatibility import Group, groups_for
from labsys.products.hazards import as_ingredient
from labsys.products.models import Product

# By the examples that `labsys.hazards.incompatibility` gives for each group; standard chemistry, from memory.
_GROUP_OF_KIND = {
    SolutionKind.DEVELOPER: Group.ALKALINE_SULFITE,
    SolutionKind.STOP: Group.ACID,
    SolutionKind.FIXER: Group.FIXER,
    SolutionKind.WASH_AID: Group.ALKALINE_SULFITE,
    SolutionKind.BLEACH_FIX: Group.FIXER,
}

# What a solution may be of which the kind alone is known: everything that a product of the kind holds in the trade.
_MAY_BE = {
    SolutionKind.TONER: {Group.SULFIDE_SELENIUM, Group.CYANIDE_COMPLEX, Group.OXIDISER},
    SolutionKind.BLEACH: {Group.ACID, Group.CYANIDE_COMPLEX, Group.OXIDISER},
    SolutionKind.STABILISER: {Group.ORGANIC},
    SolutionKind.COATING: {Group.CYANIDE_COMPLEX, Group.OXIDISER},
}


def groups_of_kind(kind: SolutionKind) -> frozenset[Group]:
    """Return every group that a solution may belong to of which only the kind is known."""
    usual = _GROUP_OF_KIND.get(kind)
    return frozenset({usual} if usual else _MAY_BE.get(kind, set()))


def groups_of_product(product: Product) -> frozenset[Group]:
    """Return the groups a product's solutions belong to, by what it does in the process and by its ingredients."""
    families = [family for row in product.ingredients for family in as_ingredient(row.stated).families]
    kind = _GROUP_OF_KIND.get(product.kind)
    return groups_for(families) | ({kind} if kind else set())
