"""Lots: which bottles are of one, though it may be written in another script or way, and of which nobody noted it."""

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from labsys.store.models import Bottle

# Letters of Greek and Cyrillic that look like a Latin one on a label: by eye, no source.
_ALIKE = str.maketrans("ΑΒΕΖΗΙΚΜΝΟΡΤΥΧАВЕКМНОРСТУХІЅЈ", "ABEZHIKMNOPTYXABEKMHOPCTYXISJ")
NOT_NOTED = ""


def lot_key(lot: str) -> str:
    """A lot as it is compared: without spaces, in capitals, and a letter is what it looks like.

    >>> lot_key("ab 7714"), lot_key("АВ7714") == lot_key("ab 7714"), lot_key("7714-β") == lot_key("7714-B")
    ('AB7714', True, True)
    """
    whole = "".join(unicodedata.normalize("NFKC", lot).upper().split())
    return whole.translate(_ALIKE)


@dataclass(frozen=True)
class BottlesOfLot:
    """The bottles of a product by what is known of their lot. Those without one are never said to be unaffected."""

    of_it: tuple[Bottle, ...]
    not_known: tuple[Bottle, ...]
    written: tuple[str, ...]

    @property
    def all(self) -> tuple[Bottle, ...]:
        return (*self.of_it, *self.not_known)


def sorted_by_lot(bottles: Iterable[Bottle], lot: str) -> BottlesOfLot:
    """Sort the bottles of a product: those of a lot, and those of which nobody noted the lot."""
    every: Sequence[Bottle] = list(bottles)
    key = lot_key(lot)
    not_known = tuple(bottle for bottle in every if not lot_key(bottle.lot))
    of_it = tuple(bottle for bottle in every if key and lot_key(bottle.lot) == key)
    written = tuple(dict.fromkeys(bottle.lot for bottle in of_it if bottle.lot != lot))
    return BottlesOfLot(of_it, not_known, written)
