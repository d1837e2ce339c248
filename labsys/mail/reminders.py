"""Reminders: letters that fall due by a day on the calendar, each written once, however often it is looked."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from sqlalchemy import select

from labsys.database import DbSession
from labsys.jobs.kinds import Kind, Made, Task
from labsys.mail import queries
from labsys.mail import service as mail
from labsys.mail.models import OutgoingMail
from labsys.mail.service import Letter
from labsys.records.transactions import transaction

LettersDue = Callable[..., Sequence[Letter]]  # of a session, as of `now`


def reminding(name: str, title: str, letters_due: LettersDue) -> Kind:
    """The background job that writes what is due; without a mail server it would only grow old in the outbox."""

    def remind(task: Task) -> Made:
        if not task.config.mail_server:
            return Made("No mail server is set, so nobody is written to.")
        return Made(f"Wrote {queue_reminders(task.session, letters_due, now=task.now())} reminders.")

    return Kind(name=name, title=title, run=remind, every=timedelta(minutes=10))


def queue_reminders(session: DbSession, letters_due: LettersDue, *, now: datetime) -> int:
    """Write what is due and not written yet. Returns how many; without one to write, nothing is locked."""
    return _queue(session, letters_due, now=now) if _unwritten(session, letters_due(session, now=now)) else 0


@transaction
def _queue(session: DbSession, letters_due: LettersDue, *, now: datetime) -> int:
    return mail.queue_all(session, _unwritten(session, letters_due(session, now=now)), by=None, now=now)


def _unwritten(session: DbSession, due: Sequence[Letter]) -> list[Letter]:
    """Those of these letters that are wanted, and were not written before."""
    unwanted = queries.unwanted_by(session, person_ids={letter.to.id for letter in due})
    keys = {letter.message.reason_key for letter in due}
    written = set(session.execute(select(OutgoingMail.reason_key).where(OutgoingMail.reason_key.in_(keys))).scalars())
    return [
        letter
        for letter in due
        if letter.message.reason_key not in written and letter.message.kind.name not in unwanted[letter.to.id]
    ]
