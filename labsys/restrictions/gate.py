"""The personal gate: booking, changing a plan and beginning ask here whether a process is open to somebody.

It tells the person alone, on a screen of their own. Whoever books for somebody reads one sentence, whatever the
process: were one refused and another booked, two tries would name the substance.
"""

from datetime import date, datetime

from labsys.database import DbSession
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.processes.models import Process
from labsys.records import queries as records
from labsys.restrictions import queries, rules
from labsys.timetable.local_time import to_local


def require_open(act: Act, *, person: Person, process: Process | None, at: datetime) -> None:
    """Step: raise NotOpen unless the process may be booked for the person by whoever acts."""
    if process is None:
        return
    if person.id != act.actor.id:
        if queries.in_force(act.session, person_id=person.id, day=_day(act.session, act.now)):  # tells no last day
            raise rules.NotOpen(rules.NOT_BOOKED_HERE)
        return
    told = why_not_open(act.session, person=person, process=process, at=at)
    if told:
        raise rules.NotOpen(told if act.visit is None else rules.NOT_ON_A_SHARED_SCREEN)


def why_not_open(session: DbSession, *, person: Person, process: Process, at: datetime) -> str:
    """What the person is told where a process is not open to them, and an empty text where it is; for them alone."""
    held = queries.in_force(session, person_id=person.id, day=_day(session, at))
    families = frozenset(row.family for row in held if row.family)
    if not families or rules.openness(process, families).is_open:
        return ""
    return rules.not_open_to_you(process, queries.openness_of_all(session, families))


def _day(session: DbSession, at: datetime) -> date:
    return to_local(at, zone=records.zone(session)).date()
