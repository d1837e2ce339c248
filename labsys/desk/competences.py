"""What Today says of competences: a witness who is asked, and what lapses."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from flask import url_for

from labsys.competences import gate, queries
from labsys.competences.models import Competence, CompetenceGrant
from labsys.database import DbSession
from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.desk.matters import Matter
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.quantities import counted
from labsys.timetable.local_time import day_words, to_local


@dataclass(frozen=True)
class CompetencesToday:
    """As one person may see them: how many wait for their word as a witness, what lapses soon, and
    whether they change a spent bath over.

    Of whoever oversees the lab it is read with all else that is due, everybody's, as `labsys.desk.matters` has it.
    """

    to_witness: int = 0
    may_change_over: bool = False
    lapsing: Sequence[CompetenceGrant] = ()


def competences_today(session: DbSession, *, person: Person, now: datetime, zone: ZoneInfo) -> CompetencesToday:
    """Read in one query."""
    today = to_local(now, zone=zone).date()
    rows = queries.grants(session, leavers=False)
    stand = queries.standings(rows, on=today, known_at=now, zone=zone)
    waiting = [
        grant
        for grant in rows
        if grant.witness_id == person.id and not (grant.witnessed_at or grant.revoked_at) and grant.until >= today
    ]
    lapse = [
        grant
        for grant in queries.lapsing(stand, today=today)
        if grant.person_id == person.id or stand.get((person.id, grant.competence), gate.NEVER).may_grant
    ]
    changes_over = stand.get((person.id, Competence.CHANGING_OVER), gate.NEVER).is_current
    return CompetencesToday(len(waiting), changes_over and may(person, Permission.LOG_USE), lapse)


def witness_asked(matter: Matter) -> Duty:
    return _to_witness(matter.row_id)


def lapses_soon(matter: Matter) -> Duty:
    """Somebody's competence, to whoever oversees the lab and may not be able to grant it."""
    href = url_for("competences.person", person_id=matter.row_id)
    act = OfferedAct("See who grants it", href, alone=f"{matter.name}, {matter.code}: see who grants it")
    why = f"Lapses after {matter.on:%-d %b %Y}: {matter.code}"
    return Duty(Urgency.LATER, matter.name, href, why, act)


def _to_witness(number: int) -> Duty:
    index = url_for("competences.index")
    why = f"You are named as witness of {counted(number, 'grant')}; it counts once you say that you saw it"
    return Duty(Urgency.YOURS, "Competences", index, why, OfferedAct("See which", index, alone="Say what you saw"))


def of_competences(now: CompetencesToday, *, person: Person) -> Iterator[Duty]:
    index = url_for("competences.index")
    if now.to_witness:
        yield _to_witness(now.to_witness)
    for grant in now.lapsing:
        is_own = grant.person_id == person.id
        href = index if is_own else url_for("competences.person", person_id=grant.person_id)
        words = "See who grants it" if is_own else "Grant it again"
        act = OfferedAct(words, href, alone=f"{grant.person.name}, {grant.competence}: {words.lower()}")
        why = f"Lapses after {day_words(grant.until)}: {grant.competence}"
        yield Duty(Urgency.LATER, "Your competences" if is_own else grant.person.name, href, why, act)
