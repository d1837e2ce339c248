"""What is read of entries made without a network, and whether one was acted on already."""

from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import joinedload, undefer

from labsys.database import LARGEST_ROW, DbSession
from labsys.devices.queries import valid_card
from labsys.offline.models import KeptEntry, State
from labsys.people.models import Person
from labsys.records.models import Submission
from labsys.records.queries import get_or_raise

MOST_SHOWN = 200
NEEDS_STAFF = (State.NOBODYS, State.REFUSED)


def kept_by_key(session: DbSession, key: str) -> KeptEntry | None:
    return session.execute(select(KeptEntry).where(KeptEntry.key == key)).scalar_one_or_none()


def was_acted_on(session: DbSession, key: str) -> bool:
    """Whether an act has taken over what carried this key."""
    return session.execute(select(Submission.key).where(Submission.key == key)).first() is not None


def entry_or_raise(session: DbSession, entry_id: int, *, lock: bool = False) -> KeptEntry:
    """An entry with what was typed."""
    return get_or_raise(session, KeptEntry, entry_id, "entry", lock=lock, options=[undefer(KeptEntry.typed)])


def to_confirm(session: DbSession, *, person_id: int) -> list[KeptEntry]:
    """Entries made at a tablet in somebody's name that they have not confirmed, in the order they happened."""
    theirs = select(KeptEntry).where(KeptEntry.state == State.NOT_CONFIRMED, KeptEntry.person_id == person_id)
    query = theirs.options(joinedload(KeptEntry.device)).order_by(KeptEntry.happened_at, KeptEntry.id)
    return list(session.execute(query.limit(MOST_SHOWN)).scalars())


def refused_of(session: DbSession, *, person_id: int) -> list[KeptEntry]:
    """One's own entries that could not be taken over, newest first."""
    theirs = select(KeptEntry).where(KeptEntry.state == State.REFUSED, KeptEntry.person_id == person_id)
    return list(session.execute(theirs.order_by(KeptEntry.id.desc()).limit(MOST_SHOWN)).scalars())


def unsettled(session: DbSession) -> list[KeptEntry]:
    """Everything that is not settled, what needs staff first, then as it happened."""
    whole = joinedload(KeptEntry.person), joinedload(KeptEntry.device)
    query = select(KeptEntry).where(KeptEntry.state != State.SETTLED).options(*whole)
    order = KeptEntry.state.not_in(NEEDS_STAFF), KeptEntry.happened_at, KeptEntry.id
    return list(session.execute(query.order_by(*order).limit(MOST_SHOWN)).scalars())


def person_named(session: DbSession, text: str) -> list[Person]:
    """Those here whose name or e-mail address this is, whatever the size of its letters."""
    wanted = " ".join(text.split()).casefold()
    if not wanted:
        return []
    by_email = select(Person).where(func.lower(Person.email) == wanted, Person.left_at.is_(None))
    found = list(session.execute(by_email).scalars())
    if found:
        return found
    names = select(Person.id, Person.name).where(Person.left_at.is_(None))  # the database's lower() knows ASCII alone
    ids = [row.id for row in session.execute(names) if " ".join(row.name.split()).casefold() == wanted]
    return [session.get_one(Person, person_id) for person_id in ids]


def claimed_by(session: DbSession, *, who: str, text: str, now: datetime) -> Person | None:
    """Who made an entry at a tablet, as they say: whose visit it was, by their card's code, or by a name only one has.

    None for nobody who is here.
    """
    if who.isdigit() and int(who) <= LARGEST_ROW:
        person = session.get(Person, int(who))
        return person if person is not None and person.is_active else None
    card = valid_card(session, code=text.strip().upper(), now=now)
    if card is not None:
        return card.person
    people = person_named(session, text)
    return people[0] if len(people) == 1 else None
