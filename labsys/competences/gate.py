"""The gate of competences: acts that ask for one, and the pages that lead to them, ask here."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from labsys.competences import queries, rules
from labsys.competences.models import Competence
from labsys.competences.queries import Standings
from labsys.competences.rules import Asked, HeldCompetence, LackedCompetence, LacksCompetence
from labsys.database import DbSession
from labsys.people import queries as people
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.people.permissions import Permission
from labsys.records import queries as records
from labsys.timetable.local_time import to_local

NEVER = HeldCompetence(rules.CompetenceState.NEVER)


def require(act: Act, asked: Collection[Asked], *, happened_at: datetime | None = None) -> None:
    """Step: raise LacksCompetence unless whoever acts holds all that is asked: now, and when it happened."""
    lacked = lacked_by(act.session, person=act.actor, asked=asked, now=act.now, happened_at=happened_at)
    if lacked:
        raise LacksCompetence(lacked)


def lacked_by(
    session: DbSession, *, person: Person, asked: Collection[Asked], now: datetime, happened_at: datetime | None = None
) -> tuple[LackedCompetence, ...]:
    """What somebody lacks of what an act asks for, with who holds it today and who can grant it."""
    if not asked:
        return ()
    zone = records.zone(session)
    rows = queries.grants(session, competences={each.competence for each in asked}, leavers=False)
    own = [grant for grant in rows if grant.person_id == person.id]
    today = to_local(now, zone=zone).date()
    days = {today, to_local(happened_at, zone=zone).date()} if happened_at is not None else {today}
    on_each = [queries.standings(own, on=day, known_at=now, zone=zone) for day in sorted(days)]
    of_all = queries.standings(rows, on=today, known_at=now, zone=zone)
    names = {grant.person_id: grant.person.name for grant in rows}
    managers = [manager.name for manager in people.people_who_may(session, Permission.NAME_FIRST_COMPETENT)]
    lacked = []
    for each in asked:
        standings = [standing.get((person.id, each.competence), NEVER) for standing in on_each]
        worst = next((standing for standing in standings if not standing.is_current), None)
        if worst is not None:
            lacked.append(
                LackedCompetence(
                    asked=each,
                    state=rules.in_words(worst, zone=zone),
                    holders=_names(of_all, each.competence, names),
                    granters=_names(of_all, each.competence, names, granting=True),
                    first_named_by=tuple(managers),
                )
            )
    return tuple(lacked)


def _names(
    standings: Standings, competence: Competence, names: Mapping[int, str], *, granting: bool = False
) -> tuple[str, ...]:
    """Who holds a competence, or can grant it, by name."""
    found = [
        names[person_id]
        for (person_id, of), standing in standings.items()
        if of is competence and (standing.may_grant if granting else standing.is_current)
    ]
    return tuple(sorted(found))


def granters(standings: Standings, competence: Competence, *, but: int | None = None) -> Sequence[int]:
    """Who can grant a competence, one person left out."""
    return [
        person_id
        for (person_id, of), standing in standings.items()
        if of is competence and standing.may_grant and person_id != but
    ]
