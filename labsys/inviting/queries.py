"""What inviting many reads."""

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import func, select

from labsys.database import DbSession
from labsys.people.models import EntryLink, Person


class Waiting(NamedTuple):
    """Somebody invited who has not come yet, and until when their link works; None where none does."""

    id: int
    name: str
    email: str
    until: datetime | None


_AT_ONCE = 500  # addresses asked for by one statement
_NOT_COME = (Person.password_hash.is_(None), Person.left_at.is_(None))


def accounts(session: DbSession, *, emails: Sequence[str]) -> dict[str, Person]:
    """Those of these addresses who have an account, also who has left."""
    here: dict[str, Person] = {}
    for begin in range(0, len(emails), _AT_ONCE):
        query = select(Person).where(Person.email.in_(emails[begin : begin + _AT_ONCE]))
        here |= {person.email: person for person in session.scalars(query)}
    return here


def not_come_yet(session: DbSession, *, person_ids: Collection[int]) -> list[Person]:
    """Those of these people who are invited and have chosen no password yet, in the order they were invited."""
    query = select(Person).where(Person.id.in_(person_ids), *_NOT_COME)
    return list(session.scalars(query.order_by(Person.id)))


def waiting(session: DbSession, *, also_with_link: bool, after_id: int, limit: int, now: datetime) -> list[Waiting]:
    """Who is invited and has not come yet, in the order they were invited, from the one after `after_id`."""
    until = (
        select(func.max(EntryLink.expires_at))
        .where(EntryLink.person_id == Person.id, EntryLink.used_at.is_(None), EntryLink.expires_at > now)
        .scalar_subquery()
    )
    which = () if also_with_link else (until.is_(None),)
    query = select(Person.id, Person.name, Person.email, until).where(Person.id > after_id, *_NOT_COME, *which)
    return [Waiting(*row) for row in session.execute(query.order_by(Person.id).limit(limit))]
