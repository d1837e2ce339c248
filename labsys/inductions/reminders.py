"""Mail about inductions that are about to lapse."""

from datetime import datetime, timedelta

from sqlalchemy import select

from labsys.database import DbSession
from labsys.inductions import gate, queries, rules
from labsys.inductions.models import Induction
from labsys.jobs.kinds import Kind, Made, Task
from labsys.mail import queries as mail_queries
from labsys.mail import service as mail
from labsys.mail.kinds import LAPSE, Message
from labsys.mail.models import OutgoingMail
from labsys.records import queries as records
from labsys.records.transactions import transaction


def queue_lapse_reminders(session: DbSession, *, now: datetime) -> int:
    """Write to everybody whose induction lapses within 14 days; once for each, however often this is called.

    Returns how many messages were put into the outbox. Without a new one to write, nothing is locked.
    """
    return _queue(session, now=now) if _due(session, now=now) else 0


def remind(task: Task) -> Made:
    """Queue the reminders that are due; without a mail server they would only grow old in the outbox."""
    if not task.config.mail_server:
        return Made("No mail server is set, so nobody is written to.")
    return Made(f"Wrote {queue_lapse_reminders(task.session, now=task.now())} reminders.")


REMIND_OF_LAPSES = Kind(
    name="induction reminders", title="Remind of inductions that lapse", run=remind, every=timedelta(minutes=10)
)


@transaction
def _queue(session: DbSession, *, now: datetime) -> int:
    due = _due(session, now=now)
    person_ids = {person_id for person_id, _, _ in due.values()}
    people = {person.id: person for person in queries.people_by_id(session, person_ids)}
    inductions = {induction.id: induction for induction in session.execute(select(Induction)).scalars()}
    zone = records.zone(session)
    letters = []
    for key, (person_id, induction_id, lapses_at) in due.items():
        induction, day = inductions[induction_id], rules.day_in_words(lapses_at, at=now, zone=zone)
        body = (
            f"Your induction {induction.name} lapses on {day}. After that you are not cleared for what needs it "
            f"until you repeat it.\n\nHow to get it: {induction.how_to_get}\n"
        )
        message = Message(LAPSE, key, f"{induction.name} lapses on {day}", body, f"/inductions/{induction.id}")
        letters.append(mail.Letter(message, people[person_id]))
    mail.queue_all(session, letters, by=None, now=now)
    return len(due)


def _due(session: DbSession, *, now: datetime) -> dict[str, tuple[int, int, datetime]]:
    """Person, induction and instant of each lapse to write about, by the key under which it is written about once."""
    pairs = queries.lapsing(session, after=now, until=now + rules.REMIND_BEFORE)
    person_ids, induction_ids = {person_id for person_id, _ in pairs}, {induction_id for _, induction_id in pairs}
    standings = rules.standings(
        person_ids,
        induction_ids=induction_ids,
        editions=gate.editions(session, induction_ids=induction_ids),
        sign_offs=gate.sign_offs(session, person_ids=person_ids, induction_ids=induction_ids),
        at=now,
    )
    due = {
        f"induction lapses: {person_id} {induction_id} {lapses_at:%Y-%m-%d}": (person_id, induction_id, lapses_at)
        for person_id, induction_id in sorted(pairs)
        if (lapses_at := rules.lapse_to_remind_of(standings[person_id, induction_id], now=now)) is not None
    }
    unwanted = mail_queries.unwanted_by(session, person_ids=person_ids)
    due = {key: lapse for key, lapse in due.items() if LAPSE.name not in unwanted[lapse[0]]}
    written = select(OutgoingMail.reason_key).where(OutgoingMail.reason_key.in_(due))
    for key in session.execute(written).scalars():
        del due[key]
    return due
