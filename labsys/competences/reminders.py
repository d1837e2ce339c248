"""Mail about competences that are about to lapse."""

from datetime import date, datetime

from sqlalchemy import select

from labsys.competences import queries, rules
from labsys.competences.models import CompetenceGrant
from labsys.database import DbSession
from labsys.mail.kinds import LAPSE, Message
from labsys.mail.reminders import reminding
from labsys.mail.service import Letter
from labsys.records import queries as records
from labsys.timetable.local_time import day_words, to_local


def lapsing(session: DbSession, *, today: date, now: datetime) -> list[CompetenceGrant]:
    """The grants that hold a competence which soon lapses, of people who are here, the first to lapse first."""
    soon = select(CompetenceGrant.person_id).where(
        CompetenceGrant.until >= today, CompetenceGrant.until < today + rules.REMIND_BEFORE
    )
    rows = queries.grants(session, person_ids=set(session.execute(soon).scalars()), leavers=False)
    return queries.lapsing(queries.standings(rows, on=today, known_at=now, zone=records.zone(session)), today=today)


def letters_due(session: DbSession, *, now: datetime) -> list[Letter]:
    """A letter to everybody whose competence lapses within 14 days."""
    letters = []
    for grant in lapsing(session, today=to_local(now, zone=records.zone(session)).date(), now=now):
        day = day_words(grant.until)
        body = (
            f"A competence of yours lapses after {day}: {grant.competence}. It is needed "
            f"{rules.WHAT_FOR[grant.competence]}.\n\nShow it again to somebody who can grant it, before a witness.\n"
        )
        key = f"competence lapses: {grant.person_id} {grant.competence} {grant.until.isoformat()}"
        subject = f"Lapses after {day}: {grant.competence}"
        letters.append(Letter(Message(LAPSE, key, subject, body, "/competences"), grant.person))
    return letters


REMIND_OF_COMPETENCES = reminding("competence reminders", "Remind of competences that lapse", letters_due)
