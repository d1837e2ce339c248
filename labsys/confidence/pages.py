"""What the pages in confidence show: what is kept, which processes are open, what else stands in the lab."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.baths import queries as baths
from labsys.bookings import queries as bookings
from labsys.bookings.models import Booking
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.restrictions import queries, rules
from labsys.restrictions.queries import Kept
from labsys.restrictions.rules import Openness
from labsys.timetable.local_time import to_local

_MOST_BOOKINGS = 50


@dataclass(frozen=True)
class KeptRow:
    """One thing kept, in words, with what erases it."""

    what: str
    more: str
    row: str


@dataclass(frozen=True)
class ConfidencePage:
    """All that is kept of one person, and what follows from it on a day."""

    person: Person
    rows: list[KeptRow]
    checks: KeptRow | None
    is_waiting: bool
    processes: list[Openness]
    standing: list[str]
    bookings: list[Booking]

    @property
    def open(self) -> list[Openness]:
        return [each for each in self.processes if each.is_open]

    @property
    def closed(self) -> list[Openness]:
        return [each for each in self.processes if not each.is_open]


def page_of(session: DbSession, *, person: Person, now: datetime, zone: ZoneInfo) -> ConfidencePage:
    kept = queries.kept(session, person=person)
    families = kept.families(day=to_local(now, zone=zone).date())
    processes = queries.openness_of_all(session, families) if families else []
    closed = {each.process.id for each in processes if not each.is_open}
    to_come = bookings.to_come(session, person_id=person.id, now=now, limit=_MOST_BOOKINGS) if closed else []
    return ConfidencePage(
        person=person,
        rows=_rows(kept, now=now, zone=zone),
        checks=_checks(kept),
        is_waiting=any(talk.held_at is None for talk in kept.talks),
        processes=processes,
        standing=[
            f"{bath.name} ({reason})"
            for bath in (baths.baths_here(session) if families else [])
            for reason in rules.against(bath.product, families)
        ],
        bookings=[booking for booking in to_come if booking.process_id in closed],
    )


def _rows(kept: Kept, *, now: datetime, zone: ZoneInfo) -> list[KeptRow]:
    today = to_local(now, zone=zone).date()
    rows = []
    for row in kept.restrictions:
        what = f"Keeps away from {row.family}" if row.family else "Nobody else books a process"
        until = "" if row.ends_on is None else f"Until {row.ends_on:%-d %b %Y}."
        ended = "" if queries.holds_on(row, day=today) else "It has ended."
        entered = f"Entered by {row.entered_by.name}, {to_local(row.entered_at, zone=zone):%-d %b %Y}."
        rows.append(KeptRow(what, _joined(row.note, until, ended, entered), f"{row.__tablename__} {row.id}"))
    for talk in kept.talks:
        asked = f"Asked for on {to_local(talk.asked_at, zone=zone):%-d %b %Y}"
        if talk.held_at is None:
            what, more = "A talk with the safety adviser", f"{asked}; not held yet."
        elif talk.ends_on is None:
            what, more = "A talk with the safety adviser", f"{asked}; held, nothing agreed."
        else:
            ended = " It has ended." if talk.ends_on < today else ""
            what, more = f"Agreed: {talk.agreed}", f"Until {talk.ends_on:%-d %b %Y}.{ended}"
        rows.append(KeptRow(what, more, f"{talk.__tablename__} {talk.id}"))
    return rows


def _checks(kept: Kept) -> KeptRow | None:
    if (checks := kept.skin_checks) is None:
        return None
    last = f"Last skin check {checks.last_on:%-d %b %Y}." if checks.last_on else "Skin not checked yet."
    return KeptRow("Under health surveillance", last, f"{checks.__tablename__} {checks.id}")


def _joined(*sentences: str) -> str:
    return " ".join(sentence for sentence in sentences if sentence)
