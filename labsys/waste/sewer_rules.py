"""Decisions about the foul sewer: may this go down the drain, and what a consent may limit."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from labsys.lab.rules import Drain
from labsys.quantities import MILLI, show_volume
from labsys.waste.models import SewerConsent, SewerLimit, WasteKind
from labsys.waste.rules import WasteRefused


class NotToSewer(WasteRefused):
    """This may not go down the drain. Nothing is recorded; what went down already can be, as what it is."""

    def __init__(self, why: str):
        super().__init__(f"Stop. {why} Nothing is recorded yet.", field="container_id")
        self.why = why


@dataclass(frozen=True)
class Reading:
    """What somebody says against one limit of a consent: a measured value, or that a condition in words is kept to."""

    value_milli: int | None = None
    is_kept: bool | None = None


Readings = Mapping[int, Reading]  # by the limit; a limit that is left out was not measured


_PH = re.compile(r"\bph\b", re.IGNORECASE)
PH_ENDS = 0, 14


def is_ph(quantity: str) -> bool:
    """Say whether what is limited is a pH.

    >>> is_ph("pH"), is_ph("pH value"), is_ph("phosphate")
    (True, True, False)
    """
    return _PH.search(quantity) is not None


def is_within_its_scale(quantity: str, *figures_milli: int | None) -> bool:
    """Say whether figures can be meant for what is limited: a pH goes from 0 to 14."""
    low, high = (end * MILLI for end in PH_ENDS)
    return not is_ph(quantity) or all(figure is None or low <= figure <= high for figure in figures_milli)


def why_not_within(limits: Iterable[SewerLimit], readings: Readings, *, reference: str) -> str:
    """Say which limit of a consent is not kept to, or not known to be; empty where all are."""
    for limit in limits:
        reading = readings.get(limit.id, Reading())
        if limit.is_in_words:
            if not reading.is_kept:
                return f"Consent {reference} asks: {limit.quantity.rstrip('.')}. Nobody said that it is kept to."
        elif reading.value_milli is None:
            return f"Consent {reference} limits {limit.in_words}: it was not measured."
        elif not limit.holds(reading.value_milli):
            measured = limit.with_unit(reading.value_milli)
            return f"Consent {reference} limits {limit.in_words}: {measured} was measured."
    return ""


def why_not_to_sewer(
    *,
    drains_to: str,
    code: str,
    kind: WasteKind | None,
    volume_ul: int,
    consent: SewerConsent | None,
    today_ul: int,
    readings: Readings | None,
) -> str:
    """Say why a waste may not be discharged, asterisk or not; empty where a consent in force names it.

    Without `readings` nobody was asked yet, and what the consent limits besides the volume is left open.

    Trade effluent enters a public sewer with the sewerage undertaker's consent alone: Water Industry Act 1991, sections
    118 to 141 (from memory). `today_ul` is what went under the consent that day already.
    """
    if not drains_to:
        return "It is not known where the sinks of this lab drain to, so nothing goes down them. The manager finds out."
    if drains_to != Drain.FOUL_SEWER:
        return f"The sinks of this lab drain to {drains_to}: no photographic solution ever goes there."
    if consent is None:
        named = f"{kind.words} ({code})" if kind else code
        return f"No sewer consent in force names {named}. It goes into a container."
    most = consent.most_ul_a_day
    if most is not None and today_ul + volume_ul > most:
        left = show_volume(max(most - today_ul, 0))
        return f"Consent {consent.reference} allows {show_volume(most)} a day: {left} are left today."
    return "" if readings is None else why_not_within(consent.limits, readings, reference=consent.reference)
