"""Fog by a safelight: the limit for film, and what the steps of a test with coins say. Pure."""

from collections.abc import Mapping

from labsys.chemistry.errors import CalculationError

MOST_GAIN = 100  # density × 1000 in two minutes: South Dakota, ARSD 44:03:01:10.04
GAIN_SOURCE = "Administrative Rules of South Dakota 44:03:01:10.04: exposed film gains at most 0.10 in two minutes"
COINS_SOURCE = (
    "a maker's guide to safelights (2006), and a photographer's test with coins: the longest step that shows no change "
    "is safe"
)
DUE_AFTER_DAYS = 365  # common practice, no source: filters fade


class StepsDisagree(CalculationError):
    """A longer step is clean though a shorter one changed."""

    def __str__(self) -> str:
        return "a longer step is clean though a shorter one changed: look again, or repeat the test"


def safe_seconds(changed: Mapping[int, bool]) -> tuple[int, int | None]:
    """Return the longest step without a change, 0 where there is none, and the shortest that changed, if any did.

    Parameters:
        changed: For each step, its time and whether it changed. [s, -]
    Returns:
        The two times. [s]
    Raises:
        StepsDisagree: A longer step is clean though a shorter one changed.
    Source:
        A maker's guide to safelights (2006).

    >>> safe_seconds({60: False, 180: True, 420: True})
    (60, 180)
    """
    clean = max((time for time, is_changed in changed.items() if not is_changed), default=0)
    first_changed = min((time for time, is_changed in changed.items() if is_changed), default=None)
    if first_changed is not None and first_changed < clean:
        raise StepsDisagree
    return clean, first_changed
