"""When an approved assessment is out of date: derived from plain values, never stored."""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from labsys.processes.models import ProcessStep
from labsys.timetable.local_time import day_words, to_local


@dataclass(frozen=True)
class SubstanceFacts:
    """A product as it was assessed, and as it stands now. None: there is none."""

    name: str
    assessed_version: int
    version: int
    assessed_sds: date | None
    sds: date | None
    incident_at: datetime | None = None


@dataclass(frozen=True)
class Facts:
    """A version and what has happened since it was approved or, while it is being written, since it was written."""

    since: datetime
    review_on: date | None
    substances: tuple[SubstanceFacts, ...] = ()
    assessed_fingerprint: str = ""
    fingerprint: str = ""
    incident_at: datetime | None = None


def why_out_of_date(facts: Facts, *, today: date, zone: ZoneInfo) -> tuple[str, ...]:
    """Return why an assessment is out of date, a clause a reason; none where it still holds.

    Parameters:
        facts: The version, and what has happened since. [-]
        today: The day in the lab. [-]
        zone: The lab's, for the days of incidents. [-]
    Returns:
        The reasons, each once: incidents first, a review that was due last. [-]
    """
    return tuple(dict.fromkeys(_reasons(facts, today=today, zone=zone)))


def fingerprint(steps: Iterable[ProcessStep]) -> str:
    """Return a digest of what of a process bears on its assessment; equal steps give an equal one.

    Parameters:
        steps: Its steps, in working order; those in water do not count. [-]
    Returns:
        SHA-256 in hexadecimal. [-]
    """
    listed = [
        (step.product_id, step.water_parts_milli, step.seconds, step.temperature_milli_c)
        for step in steps
        if step.product_id is not None
    ]
    return hashlib.sha256(repr(listed).encode()).hexdigest()


def _reasons(facts: Facts, *, today: date, zone: ZoneInfo) -> Iterator[str]:
    if on := _since(facts.incident_at, facts, zone):
        yield f"an incident in this process was reported on {on}, after this version"
    for substance in facts.substances:
        if on := _since(substance.incident_at, facts, zone):
            yield f"an incident with {substance.name} was reported on {on}, after this version"
        if substance.sds is not None and (substance.assessed_sds is None or substance.sds > substance.assessed_sds):
            assessed = f" ({day_words(substance.assessed_sds)})" if substance.assessed_sds else ""
            yield f"the SDS of {substance.name} is newer ({day_words(substance.sds)}) than the one assessed{assessed}"
        if substance.version != substance.assessed_version:
            yield f"the entries of {substance.name} were changed since it was assessed"
    if facts.assessed_fingerprint != facts.fingerprint:
        yield "the steps of the process were changed since: products, dilutions, times or temperatures"
    if facts.review_on is not None and facts.review_on < today:
        yield f"its review was due on {day_words(facts.review_on)}"


def _since(incident_at: datetime | None, facts: Facts, zone: ZoneInfo) -> str:
    """The day of an incident after the version, else nothing."""
    if incident_at is None or incident_at <= facts.since:
        return ""
    return day_words(to_local(incident_at, zone=zone).date())
