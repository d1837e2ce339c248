"""Fixing time from a clearing test, and two fixing baths in turn."""

from dataclasses import dataclass

from labsys.chemistry.dilution import LARGEST_ML
from labsys.chemistry.errors import check_above, check_between

TIMES_THE_CLEARING = 2

# How often the second bath takes the place of the first; then both are mixed afresh. S. Anchell, The Darkroom Cookbook,
# 3rd ed. (2008), p. 107. Four or five loads of the first bath in all are common practice, no source.
MOST_TURNS = 3


def fixing_seconds(*, clearing_seconds: float) -> float:
    """Return the least time to fix a film that clears in some time, twice the clearing.

    Parameters:
        clearing_seconds: Time in which a piece of the same film clears in this bath, above 0, at most 3600. [s]
    Returns:
        Least fixing time. [s]
    Raises:
        OutOfRange: The time is out of range.
    Source:
        NAVEDTRA 14209, Photography (Basic): fix for twice the clearing time.

    >>> fixing_seconds(clearing_seconds=70)
    140
    """
    check_above("clearing_seconds", clearing_seconds, 0, 3600, "s")
    return TIMES_THE_CLEARING * clearing_seconds


@dataclass(frozen=True, slots=True)
class TwoBaths:
    """Where a pair of fixing baths stands. [-]

    `turns` counts how often the second bath has become the first. `left_in_first` is what the first bath still takes;
    with `renew_both` the pair has had its turns and both baths are mixed anew.
    """

    turns: int
    left_in_first: int
    renew_both: bool


def two_baths(*, sheets: int, first_bath_ml: float, sheets_per_litre: float) -> TwoBaths:
    """Say how a pair of fixing baths stands after a number of sheets 8x10 in, each fixed half its time in either.

    When the first is spent it is discarded, the second takes its place, and a fresh second is mixed. After three such
    turns both are discarded.

    Parameters:
        sheets: Sheets 8x10 in fixed in the pair so far, 0 to 100 000. [-]
        first_bath_ml: Volume of the first bath, above 0, at most 1 000 000. [mL]
        sheets_per_litre: Sheets a litre of the first bath takes, above 0, at most 500. [1/L]
    Returns:
        Turns taken, sheets the first bath still takes, and whether both are due. [-]
    Raises:
        OutOfRange: A value is out of range, or the first bath does not take a whole sheet.
    Source:
        Rotation and three turns: S. Anchell, The Darkroom Cookbook, 3rd ed., Focal Press 2008, p. 107; half the time in
        each bath: NAVEDTRA 14209, Photography (Basic), and L. P. Clerc, Photography: Theory and Practice, par. 406.

    >>> two_baths(sheets=60, first_bath_ml=1000, sheets_per_litre=50)
    TwoBaths(turns=1, left_in_first=40, renew_both=False)
    """
    check_between("sheets", sheets, 0, 100_000)
    check_above("first_bath_ml", first_bath_ml, 0, LARGEST_ML, "mL")
    check_above("sheets_per_litre", sheets_per_litre, 0, 500, "per litre")
    holds = int(first_bath_ml / 1000 * sheets_per_litre + 1e-9)  # a whole number must not lose its last sheet
    check_between("sheets the first bath takes", holds, 1, None)
    turns, used = divmod(sheets, holds)
    return TwoBaths(turns=turns, left_in_first=holds - used, renew_both=turns > MOST_TURNS)
