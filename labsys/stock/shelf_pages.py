"""What the pages about shelves show, worked out from what the queries read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labsys.stock.clashes import Clash, clashes_among, clashes_with
from labsys.stock.models import Bottle, Product
from labsys.stock.shelf_models import Shelf


@dataclass(frozen=True)
class ShelfView:
    shelf: Shelf
    bottles: tuple[Bottle, ...]
    clashes: tuple[Clash, ...]


def shelf_view(shelf: Shelf, bottles: Sequence[Bottle]) -> ShelfView:
    return ShelfView(shelf, tuple(bottles), clashes_among([one.product for one in bottles]))


def advice(product: Product, standing: Mapping[int, Sequence[Bottle]]) -> dict[str, str]:
    """What a product should not stand with, by the shelf where that stands; no entry where nothing is known."""
    found = {
        shelf_id: clashes_with(product, [one.product for one in bottles]) for shelf_id, bottles in standing.items()
    }
    return {str(shelf_id): " ".join(one.words for one in clashes) for shelf_id, clashes in found.items() if clashes}
