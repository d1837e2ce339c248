"""Mail about competences that are about to lapse."""

from datetime import date, datetime, timedelta

from sqlalchemy import select

from labsys.competences import queries, rules
from labsys.competences.models import Competence, CompetenceGrant
from labsys.database import DbSession
from labsys.jobs.kinds import Kind, Made, Task
from labsys.mail import queries as mail_queries
from labsys.mail import service as mail
from labsys.mail.kinds import LAPSE, Message
from labsys.mail.models import OutgoingMail
from labsys.records import queries as records
from labsys.records.transactions import transaction
from labsys.timetable.local_time import day_words, to_local


def lapsing(session: DbSession, *, today: date, now: datetime) -> list[CompetenceGrant]:
    """The grants that hold a competence which soon lapses, of people who are here, the first to lapse first."""
    soon = select(CompetenceGrant.person_id).where(
        CompetenceGrant.until >= today, CompetenceGrant.until < today + rules.REMIND_BEFORE
    )
    rows = queries.grants(session, person_ids=set(session.execute(soon).scalars()), leavers=False)
    return queries.lapsing(queries.standings(rows, on=today, known_at=now, zone=records.zone(session)), today=today)


def queue_lapse_reminders(session: DbSession, *, now: datetime) -> int:
    """Write to everybody whose competence lapses within 14 days; once for each, however often this is called."""
    return _queue(session, now=now) if _due(session, now=now) else 0


def remind(task: Task) -> Made:
    """Queue the reminders that are due; without a mail server they would only grow old in the outbox."""
    if not task.config.mail_server:
        return Made("No mail server is set, so nobody is written to.")
    return Made(f"Wrote {queue_lapse_reminders(task.session, now=task.now())} reminders.")


REMIND_OF_COMPETENCES = Kind(
    name="competence reminders", title="Remind of competences that lapse", run=remind, every=timedelta(minutes=10)
)


@transaction
def _queue(session: DbSession, *, now: datetime) -> int:
    letters = []
    for key, grant in _due(session, now=now).items():
        day = day_words(grant.until)
        body = (
            f"A competence of yours lapses after {day}: {grant.competence}. It is needed "
            f"{rules.WHAT_FOR[grant.competence]}.\n\nShow it again to somebody who can grant it, before a witness.\n"
        )
        subject = f"Lapses after {day}: {grant.competence}"
        letters.append(mail.Letter(Message(LAPSE, key, subject, body, "/competences"), grant.person))
    return mail.queue_all(session, letters, by=None, now=now)


def _due(session: DbSession, *, now: datetime) -> dict[str, CompetenceGrant]:
    """Each lapse to write about, by the key under which it is written about once."""
    today = to_local(now, zone=records.zone(session)).date()
    found = lapsing(session, today=today, now=now)
    due = {_key(grant.person_id, grant.competence, grant.until): grant for grant in found}
    unwanted = mail_queries.unwanted_by(session, person_ids={grant.person_id for grant in due.values()})
    written = set(session.execute(select(OutgoingMail.reason_key).where(OutgoingMail.reason_key.in_(due))).scalars())
    return {
        key: grant for key, grant in due.items() if key not in written and LAPSE.name not in unwanted[grant.person_id]
    }


def _key(person_id: int, competence: Competence, until: date) -> str:
    return f"competence lapses: {person_id} {competence} {until.isoformat()}"
