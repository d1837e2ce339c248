"""What pages about people read."""

from datetime import datetime
from typing import NamedTuple

from sqlalchemy import ColumnElement, func, select, true

from labsys.database import DbSession
from labsys.people.models import EntryLink, Person, PersonRole, Role, SignInAttempt
from labsys.people.permissions import Permission, may, roles_that_may
from labsys.people.row_kinds import NOTHING, Page, RowKind, Search
from labsys.people.rules import LinkUnknown, check_link, token_digest
from labsys.records.queries import get_or_raise


class NamedPerson(NamedTuple):
    """Somebody to choose from a list."""

    id: int
    name: str


def person_or_raise(session: DbSession, person_id: int) -> Person:
    return get_or_raise(session, Person, person_id, "person")


def person_by_email(session: DbSession, email: str, *, lock: bool = False) -> Person | None:
    query = select(Person).where(Person.email == email)
    return session.execute(query.with_for_update() if lock else query).scalar_one_or_none()


def everybody(session: DbSession, *, after_id: int = 0, limit: int) -> list[Person]:
    """People in the order they came, from the one after `after_id`; those who left are among them."""
    query = select(Person).where(Person.id > after_id).order_by(Person.id).limit(limit)
    return list(session.execute(query).scalars())


def people_here(session: DbSession, *which: ColumnElement[bool]) -> list[NamedPerson]:
    """Those who have not left, by name; of them those that are asked for."""
    query = select(Person.id, Person.name).where(Person.left_at.is_(None), *which)
    return [NamedPerson(*row) for row in session.execute(query.order_by(Person.name, Person.id))]


def count_managers(session: DbSession) -> int:
    managers = (
        select(func.count())
        .select_from(Person)
        .join(PersonRole)
        .where(PersonRole.role == Role.MANAGER, Person.left_at.is_(None))
    )
    return session.execute(managers).scalar_one()


def people_who_may(session: DbSession, permission: Permission) -> list[Person]:
    """Those of the lab who may do something, by name: by a role that grants it, or as managers who stand in."""
    wanted = PersonRole.role.in_(roles_that_may(permission) | {Role.MANAGER})
    query = select(Person).where(Person.left_at.is_(None), Person.role_rows.any(wanted))
    people = session.execute(query.order_by(Person.name, Person.id)).scalars()
    return [person for person in people if may(person, permission)]


def link_or_raise(session: DbSession, token: str, *, lock: bool = False) -> EntryLink:
    query = select(EntryLink).where(EntryLink.token_digest == token_digest(token))
    if lock:
        query = query.with_for_update()
    link = session.execute(query).scalar_one_or_none()
    if link is None:
        raise LinkUnknown("This is not a link of this lab. Check that you copied all of it.")
    return link


def open_link_or_raise(session: DbSession, token: str, *, now: datetime) -> EntryLink:
    """The link of this token, as long as it still works; else LinkUnknown or LinkRefused."""
    link = link_or_raise(session, token)
    check_link(expires_at=link.expires_at, used_at=link.used_at, left_at=link.person.left_at, now=now)
    return link


def failures(session: DbSession, *, since: datetime, **of: str) -> list[datetime]:
    """When attempts of one e-mail address, or from one client, failed: newest first."""
    failed = select(SignInAttempt.at).filter_by(succeeded=False, **of).where(SignInAttempt.at > since)
    return list(session.execute(failed.order_by(SignInAttempt.at.desc()).limit(100)).scalars())


def _seen_by(person: Person) -> ColumnElement[bool]:
    """Those who left are for who keeps the people."""
    return true() if may(person, Permission.KEEP_PEOPLE) else Person.left_at.is_(None)


PERSON = RowKind(
    table=Person,
    called="person",
    many="people",
    pages=(
        Page("people.show", "person_id", Permission.KEEP_PEOPLE),
        Page("inductions.person", "person_id", Permission.SIGN_OFF),
        Page("inductions.person", "person_id", Permission.KEEP_INDUCTIONS),
    ),
    search=Search(
        select(Person.id, Person.name, NOTHING, NOTHING, Person.left_at.is_not(None)),
        by=(Person.name,),
        gone="left",
        open_to=_seen_by,
    ),
)
