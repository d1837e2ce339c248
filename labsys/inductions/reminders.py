"""Mail about inductions that are about to lapse."""

from datetime import datetime

from sqlalchemy import select

from labsys.database import DbSession
from labsys.inductions import gate, queries, rules
from labsys.inductions.models import Induction
from labsys.mail.kinds import LAPSE, Message
from labsys.mail.reminders import reminding
from labsys.mail.service import Letter
from labsys.records import queries as records


def letters_due(session: DbSession, *, now: datetime) -> list[Letter]:
    """A letter to everybody whose induction lapses within 14 days, unless they hold it longer by another sign-off."""
    pairs = queries.lapsing(session, after=now, until=now + rules.REMIND_BEFORE)
    if not pairs:
        return []
    person_ids, induction_ids = {person_id for person_id, _ in pairs}, {induction_id for _, induction_id in pairs}
    standings = rules.standings(
        person_ids,
        induction_ids=induction_ids,
        editions=gate.editions(session, induction_ids=induction_ids),
        sign_offs=gate.sign_offs(session, person_ids=person_ids, induction_ids=induction_ids),
        at=now,
    )
    people = {person.id: person for person in queries.people_by_id(session, person_ids)}
    inductions = {induction.id: induction for induction in session.execute(select(Induction)).scalars()}
    zone = records.zone(session)
    letters = []
    for person_id, induction_id in sorted(pairs):
        lapses_at = rules.lapse_to_remind_of(standings[person_id, induction_id], now=now)
        if lapses_at is None:
            continue
        induction, day = inductions[induction_id], rules.day_in_words(lapses_at, at=now, zone=zone)
        body = (
            f"Your induction {induction.name} lapses on {day}. After that you are not cleared for what needs it "
            f"until you repeat it.\n\nHow to get it: {induction.how_to_get}\n"
        )
        key = f"induction lapses: {person_id} {induction_id} {lapses_at:%Y-%m-%d}"
        message = Message(LAPSE, key, f"{induction.name} lapses on {day}", body, f"/inductions/{induction.id}")
        letters.append(Letter(message, people[person_id]))
    return letters


REMIND_OF_LAPSES = reminding("induction reminders", "Remind of inductions that lapse", letters_due)
