"""What is to be bought: for what is missing, the sizes that suppliers sell, none that would lapse before it is used."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import product as combinations_of

MOST_OF_A_SIZE = 20
MOST_SIZES = 4


@dataclass(frozen=True)
class Basket:
    """How many to buy of which size, and how much of it is used before it is past its life once opened."""

    packs: tuple[tuple[int, int], ...]  # size, how many
    usable: int

    @property
    def amount(self) -> int:
        return sum(size * count for size, count in self.packs)

    @property
    def count(self) -> int:
        return sum(count for _, count in self.packs)


def usable_of(size: int, *, a_day: float, opened_for: timedelta | None) -> int:
    """How much of a bottle of a size is used before its life once opened is over.

    Source:
        Worked by hand: what is taken a day, times the days; all of it where no life once opened is stated.

    >>> usable_of(5_000, a_day=20, opened_for=timedelta(days=100)), usable_of(1_000, a_day=20, opened_for=None)
    (2000, 1000)
    """
    if opened_for is None:
        return size
    return min(size, int(a_day * (opened_for / timedelta(days=1))))


def basket_for(
    missing: int, sizes: Sequence[int], *, a_day: float = 0.0, opened_for: timedelta | None = None
) -> Basket | None:
    """Return what covers an amount with the least bought, then with the fewest bottles; None without a size.

    What lapses before it is used is no cover: of a large bottle only what is used in its life once opened counts.

    >>> basket_for(2_400, [1_000, 5_000]).packs, basket_for(0, [1_000]).packs
    (((1000, 3),), ())
    >>> basket_for(4_100, [1_000, 5_000]).packs  # five small ones would be as much; one is fewer to carry and open
    ((5000, 1),)
    """
    if missing <= 0:
        return Basket((), 0)
    counted = [(size, usable_of(size, a_day=a_day, opened_for=opened_for)) for size in sorted(set(sizes))[:MOST_SIZES]]
    counted = [(size, usable) for size, usable in counted if usable > 0]
    if not counted:
        return None
    ranges = [range(min(MOST_OF_A_SIZE, -(-missing // usable)) + 1) for _, usable in counted]
    fits = [counts for counts in combinations_of(*ranges) if _usable(counted, counts) >= missing]
    if not fits:  # more than anybody carries: the largest, as many as it takes
        size, usable = counted[-1]
        return Basket(((size, -(-missing // usable)),), -(-missing // usable) * usable)
    best = min(fits, key=lambda counts: (_bought(counted, counts), sum(counts)))
    packs = tuple((size, count) for (size, _), count in zip(counted, best, strict=True) if count)
    return Basket(packs, _usable(counted, best))


def _usable(counted: Iterable[tuple[int, int]], counts: Iterable[int]) -> int:
    return sum(usable * count for (_, usable), count in zip(counted, counts, strict=True))


def _bought(counted: Iterable[tuple[int, int]], counts: Iterable[int]) -> int:
    return sum(size * count for (size, _), count in zip(counted, counts, strict=True))
