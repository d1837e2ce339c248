"""What pages about people read."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, func, select, true

from labsys.database import DbSession
from labsys.people.models import EntryLink, Person, PersonRole, Role, SignInAttempt
from labsys.people.permissions import Permission, may, roles_that_may
from labsys.people.row_kinds import NOTHING, Page, RowKind, Search
from labsys.people.rules import LinkUnknown, check_link, token_digest
from labsys.records.errors import NotFound


@dataclass(frozen=True)
class Failures:
    """Instants of recent failed attempts, newest first."""

    of_email: list[datetime]
    of_address: list[datetime]


def person_or_raise(session: DbSession, person_id: int) -> Person:
    person = session.get(Person, person_id)
    if person is None:
        raise NotFound("person", person_id)
    return person


def person_by_email(session: DbSession, email: str, *, lock: bool = False) -> Person | None:
    chosen = select(Person).where(Person.email == email)
    return session.execute(chosen.with_for_update() if lock else chosen).scalar_one_or_none()


def everybody(session: DbSession, *, after_id: int = 0, limit: int) -> list[Person]:
    """People in the order they came, from the one after `after_id`; those who left are among them."""
    chosen = select(Person).where(Person.id > after_id).order_by(Person.id).limit(limit)
    return list(session.execute(chosen).scalars())


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
    chosen = select(Person).where(Person.left_at.is_(None), Person.role_rows.any(wanted))
    found = session.execute(chosen.order_by(Person.name, Person.id)).scalars()
    return [person for person in found if may(person, permission)]


def link_or_raise(session: DbSession, token: str, *, lock: bool = False) -> EntryLink:
    chosen = select(EntryLink).where(EntryLink.token_digest == token_digest(token))
    if lock:
        chosen = chosen.with_for_update()
    link = session.execute(chosen).scalar_one_or_none()
    if link is None:
        raise LinkUnknown("This is not a link of this lab. Check that you copied all of it.")
    return link


def open_link_or_raise(session: DbSession, token: str, *, now: datetime) -> EntryLink:
    """The link of this token, as long as it still works; else LinkUnknown or LinkRefused."""
    link = link_or_raise(session, token)
    check_link(expires_at=link.expires_at, used_at=link.used_at, left_at=link.person.left_at, now=now)
    return link


def recent_failures(session: DbSession, *, email: str, address: str, since: datetime) -> Failures:
    failed = (
        select(SignInAttempt.at)
        .where(SignInAttempt.succeeded.is_(False), SignInAttempt.at > since)
        .order_by(SignInAttempt.at.desc())
        .limit(100)
    )
    return Failures(
        of_email=list(session.execute(failed.where(SignInAttempt.email == email)).scalars()),
        of_address=list(session.execute(failed.where(SignInAttempt.address == address)).scalars()),
    )


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
