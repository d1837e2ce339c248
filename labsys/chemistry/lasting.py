"""How long baths lasted, where of some it is only known that they lasted at least so long.

Shares that lasted by the product-limit estimate of E. L. Kaplan and P. Meier: at each amount at which one ended, the
share so far is multiplied by the part of those still under watch that went on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from labsys.chemistry.errors import check_between

GOES_ON = Fraction(9, 10)  # the share of baths that a capacity ought to hold for: common practice, no source


@dataclass(frozen=True, slots=True)
class Lasted:
    """What one bath took until it ended, or at least took where it never was seen to end. [any unit]"""

    amount: float
    is_at_least: bool = False

    def __post_init__(self) -> None:
        check_between("amount", self.amount, 0, None)


def share_lasting(lasted: Sequence[Lasted]) -> tuple[tuple[float, Fraction], ...]:
    """Return the share that lasts beyond each amount at which one ended.

    Parameters:
        lasted: What each took, or at least took. [any unit]
    Returns:
        Each amount at which one ended, rising, with the share that lasts beyond it. [as given, -]
    Raises:
        OutOfRange: An amount below zero.
    Source:
        E. L. Kaplan and P. Meier, Nonparametric estimation from incomplete observations (1958), from memory; the
        worked table of Bewick et al., Critical Care 2004 8:389.

    >>> [(amount, float(share)) for amount, share in share_lasting([Lasted(4), Lasted(5, is_at_least=True), Lasted(6)])]
    [(4, 0.6666666666666666), (6, 0.0)]
    """
    share, points = Fraction(1), []
    for amount in sorted({each.amount for each in lasted if not each.is_at_least}):
        watched = sum(each.amount >= amount for each in lasted)
        ended = sum(each.amount == amount and not each.is_at_least for each in lasted)
        share *= Fraction(watched - ended, watched)
        points.append((amount, share))
    return tuple(points)


def most_go_on_to(lasted: Sequence[Lasted]) -> float | None:
    """Return the amount to which nine in ten go on, None where fewer were not seen to end.

    Parameters:
        lasted: What each took, or at least took. [any unit]
    Returns:
        The first amount beyond which less than nine in ten last. [as given]
    Source:
        As `share_lasting`; nine in ten: common practice, no source.

    >>> most_go_on_to([Lasted(4), Lasted(5, is_at_least=True)])
    4
    """
    return next((amount for amount, share in share_lasting(lasted) if share < GOES_ON), None)
