"""What must not stand beside what on a shelf, by the published table of solutions that must not meet. Advice only."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from labsys.hazards.incompatibility import conflicts_between
from labsys.products.groups import groups_of_product
from labsys.products.models import Product


@dataclass(frozen=True)
class Clash:
    """Two products that should not stand together, what happens when they meet, and where that is said."""

    one: Product
    other: Product
    hazard: str
    gas: str | None
    source: str
    do_first: str

    @property
    def words(self) -> str:
        """The clash in one line, as advice."""
        gas = f" It frees {self.gas}." if self.gas and self.gas not in self.hazard else ""
        return (
            f"{self.one.name} and {self.other.name} should not meet: {self.hazard}{gas} If they have: {self.do_first}"
        )


INSTEAD = "Stand one of the two somewhere else, or each in a tray of its own that holds all that can leak from it."


def clashes_among(products: Sequence[Product]) -> tuple[Clash, ...]:
    """Return every pair of products that should not stand together, each pair once, those that free a gas first."""
    each_once = list({product.id: product for product in products}.values())
    clashes = [clash for one, other in combinations(each_once, 2) if (clash := _clash(one, other)) is not None]
    return tuple(sorted(clashes, key=lambda clash: clash.gas is None))


def clashes_with(product: Product, others: Sequence[Product]) -> tuple[Clash, ...]:
    """Return what should not stand beside a product among those that stand there."""
    return tuple(clash for clash in clashes_among([product, *others]) if product.id in (clash.one.id, clash.other.id))


def _clash(one: Product, other: Product) -> Clash | None:
    conflicts = conflicts_between(groups_of_product(one), groups_of_product(other))
    if not conflicts:
        return None
    worst = conflicts[0]
    return Clash(one, other, worst.hazard, worst.gas, worst.source, worst.do_first)
