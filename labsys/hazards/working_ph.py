"""The pH of a working solution: as stated for it, or how far water can bring it from one that is stated.

Water brings a pH nearer to 7 and never past it. A strong acid or base moves most: by the logarithm of how many times it
is diluted; a weak or buffered one moves less. So a stated pH bounds that of every weaker dilution on both sides.

Source:
    Standard chemistry (pH as the negative logarithm of a concentration), from memory. The limits of 2 and 11.5: CLP
    Annex I 3.2.3.1.2, read in reachonline.eu. From 3 to 11 nothing is asked: our own margin of one, for what a pH strip
    and a sheet's round figure leave open.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from .mixtures.corrosion import ACID_PH, ALKALINE_PH
from .spans import Span

_NEUTRAL = 7.0
_MILD = Span(3.0, 11.0)
MEASURE_IT = f"Measure it: at {ACID_PH:g} or less, or {ALKALINE_PH:g} or more, it is corrosive."
AS_IF_IT_WERE = "Until then work as if it were: what to wear is chosen on that assumption."


@dataclass(frozen=True)
class WorkingPh:
    """What is known of the pH of a solution. `span` is None where it decides nothing; `open_point` says what to do."""

    span: Span | None
    told: str
    open_point: str = ""


def working_ph(stated: Mapping[int, Span], *, water_parts_milli: int) -> WorkingPh | None:
    """Return what the stated pH tells of a dilution with water.

    Parameters:
        stated: The pH by dilution, N of 1 + N in thousandths; 0 is the undiluted product. [-]
        water_parts_milli: The dilution asked about. [-]
    Returns:
        The pH at this dilution, or what is left open; None where none is stated for it or for a stronger one. [-]

    >>> working_ph({0: Span(13.9, 13.9)}, water_parts_milli=9_000).span
    Span(low=12.9, high=13.9)
    >>> working_ph({0: Span(10.2, 10.2)}, water_parts_milli=9_000).open_point
    ''
    """
    stronger = max((milli for milli in stated if milli <= water_parts_milli), default=None)
    if stronger is None:
        return None
    known = stated[stronger]
    if stronger == water_parts_milli:
        return WorkingPh(known, f"{known}, as stated")
    named = "The product's pH" if stronger == 0 else "The pH of a stronger dilution"
    if _MILD.low <= known.low and known.high <= _MILD.high:
        return WorkingPh(None, f"{named} is {known}; water brings it nearer to 7, so it is not extreme")
    moves = math.log10((1_000 + water_parts_milli) / (1_000 + stronger))
    if known.low < _NEUTRAL and _nearer(known.low, moves) <= ACID_PH:
        at_most = Span(known.low, _nearer(known.low, moves))
    elif known.high > _NEUTRAL and _nearer(known.high, moves) >= ALKALINE_PH:
        at_most = Span(_nearer(known.high, moves), known.high)
    else:
        point = f"The pH as used is not stated. {named} is {known}. {MEASURE_IT} {AS_IF_IT_WERE}"
        return WorkingPh(None, f"{named} is {known}; that of this dilution is not known", point)
    return WorkingPh(at_most, f"{named} is {known}; with that much water it is still {at_most}")


def _nearer(ph: float, moves: float) -> float:
    """Where the strongest acid or base of this pH would come to."""
    nearer = min(ph + moves, _NEUTRAL) if ph < _NEUTRAL else max(ph - moves, _NEUTRAL)
    return round(nearer, 3)
