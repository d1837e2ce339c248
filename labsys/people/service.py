"""What people do with accounts: invite, choose a password, sign in, change roles and names, leave."""

import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import update

from labsys.database import DbSession
from labsys.people import leaving, passwords, queries, rules
from labsys.people.acts import Act, act
from labsys.people.models import EntryLink, LinkPurpose, Person, PersonRole, Role, SignInAttempt
from labsys.people.permissions import Permission, require
from labsys.records.transactions import transaction


@dataclass(frozen=True)
class Invitation:
    """A person, and the token that lets them in once until it expires; the token is not kept anywhere."""

    person: Person
    token: str
    expires_at: datetime


@act
def invite_person(act: Act, *, name: str, email: str, roles: Iterable[Role]) -> Invitation:
    """Make an account and the link that lets its person in. Raises NotPermitted or PersonRefused."""
    require(act.actor, Permission.KEEP_PEOPLE)
    invitation = invite(act, name=name, email=email, roles=set(roles))
    act.tell("person.invited", about=invitation.person, facts={"roles": sorted(invitation.person.roles)})
    return invitation


@act
def send_reset(act: Act, *, person_id: int) -> Invitation:
    """Make a link for somebody who cannot get in; earlier unused links stop working.

    Raises NotPermitted, NotFound or PersonRefused.
    """
    require(act.actor, Permission.KEEP_PEOPLE)
    person = queries.person_or_raise(act.session, person_id)
    if not person.is_active:
        raise rules.PersonRefused(f"{person.name} has left. Let them back in first.")
    purpose = LinkPurpose.RESET if person.password_hash else LinkPurpose.INVITATION
    act.session.execute(
        update(EntryLink).where(EntryLink.person_id == person.id, EntryLink.used_at.is_(None)).values(used_at=act.now)
    )
    invitation = _make_link(act.session, person=person, purpose=purpose, now=act.now)
    act.tell("person.link_made", about=person, facts={"purpose": purpose})
    return invitation


@act
def choose_password(act: Act, *, token: str, password: str, cost: passwords.Cost) -> Person:
    """Spend a link: set the password and end every open session. Raises LinkRefused or PersonRefused."""
    link = queries.link_or_raise(act.session, token, lock=True)
    person = link.person
    rules.check_link(expires_at=link.expires_at, used_at=link.used_at, left_at=person.left_at, now=act.now)
    rules.check_password(password, person_words=(person.name, person.email))
    person.password_hash = passwords.hash_password(password, cost=cost)
    person.session_version += 1
    link.used_at = act.now
    act.tell("person.chose_password", about=person)
    return person


def change_password(act: Act, *, current: str, password: str, address: str, cost: passwords.Cost) -> Person:
    """Put a new password in place of the current one and end every open session; the caller renews its own.

    Raises TooManyAttempts or PersonRefused.
    """
    prove_password(act, current=current, address=address, cost=cost)
    rules.check_password(password, person_words=(act.actor.name, act.actor.email))
    password_hash = passwords.hash_password(password, cost=cost)
    return _replace_password(act, password_hash=password_hash)


def prove_password(act: Act, *, current: str, address: str, cost: passwords.Cost) -> None:
    """Raise PersonRefused unless this is the actor's password, or TooManyAttempts.

    A wrong one counts as a failed attempt to sign in, so that a browser left open is no place to guess.
    """
    attempt_id = _count_attempt(act.session, email=act.actor.email, address=address, now=act.now)
    if not passwords.password_fits(current, act.actor.password_hash, cost=cost):
        raise rules.PersonRefused("That is not your password now. Type the one you sign in with.", field="current")
    _note_success(act.session, attempt_id=attempt_id)


@act
def _replace_password(act: Act, *, password_hash: str) -> Person:
    act.actor.password_hash = password_hash
    act.actor.session_version += 1
    act.tell("person.changed_password", about=act.actor)
    return act.actor


@act
def change_name(act: Act, *, person_id: int, name: str) -> Person:
    """Put a name right, one's own or another's; what was and what is now go on the record.

    Papers issued before keep the name they were issued with. Raises NotPermitted, NotFound or PersonRefused.
    """
    require(act.actor, Permission.SEE_LAB if person_id == act.actor.id else Permission.KEEP_PEOPLE)
    person = queries.person_or_raise(act.session, person_id)
    before, after = person.name, rules.check_name(name)
    if after != before:
        person.name = after
        act.tell("person.renamed", about=person, facts={"before": before, "after": after})
    return person


@act
def change_roles(act: Act, *, person_id: int, roles: Iterable[Role]) -> Person:
    """Give a person exactly these roles. Raises NotPermitted, NotFound or PersonRefused."""
    require(act.actor, Permission.KEEP_PEOPLE)
    person = queries.person_or_raise(act.session, person_id)
    wanted = set(roles)
    if not wanted:
        raise rules.PersonRefused("Choose at least one role.", field="roles")
    if wanted == person.roles:
        return person
    if Role.MANAGER not in wanted:
        _refuse_last_manager(act.session, person)
    before = sorted(person.roles)
    person.role_rows = [row for row in person.role_rows if row.role in wanted] + [
        PersonRole(role=role) for role in Role if role in wanted - person.roles
    ]
    act.tell("person.roles_changed", about=person, facts={"before": before, "after": sorted(wanted)})
    return person


@act
def close_account(act: Act, *, person_id: int) -> Person:
    """Note that a person has left: nobody signs in as them any more; what they did stays theirs.

    What they have booked and not begun is released.
    """
    require(act.actor, Permission.KEEP_PEOPLE)
    person = queries.person_or_raise(act.session, person_id)
    _refuse_last_manager(act.session, person)
    if person.left_at is None:
        act.tell("person.left", about=person)
        leaving.release_all(act, person)
        person.left_at = act.now
        person.session_version += 1
    return person


@act
def reopen_account(act: Act, *, person_id: int) -> Person:
    """Let a person who left back in."""
    require(act.actor, Permission.KEEP_PEOPLE)
    person = queries.person_or_raise(act.session, person_id)
    if person.left_at is not None:
        person.left_at = None
        act.tell("person.returned", about=person)
    return person


def sign_in(
    session: DbSession, *, email: str, password: str, address: str, cost: passwords.Cost, now: datetime
) -> Person:
    """Check an e-mail address and a password. Raises TooManyAttempts or SignInRefused.

    The attempt is counted before the password is looked at, so that a hundred at once are counted as a hundred.
    """
    plain = rules.plain_email(email)
    attempt_id = _count_attempt(session, email=plain, address=address, now=now)
    person = queries.person_by_email(session, plain)
    fits = passwords.password_fits(password, person.password_hash if person else None, cost=cost)
    if person is None or not fits or not person.is_active:
        raise rules.SignInRefused
    _note_success(session, attempt_id=attempt_id)
    return person


@transaction
def _count_attempt(session: DbSession, *, email: str, address: str, now: datetime) -> int:
    queries.person_by_email(session, email, lock=True)  # so that attempts on one account queue up on PostgreSQL
    since = now - rules.ATTEMPTS_COUNT_FOR
    rules.check_attempts(
        (queries.failures(session, since=since, email=email), rules.FAILURES_PER_EMAIL),
        (queries.failures(session, since=since, address=address), rules.FAILURES_PER_ADDRESS),
        now=now,
    )
    attempt = SignInAttempt(email=email[: Person.EMAIL_LENGTH], address=address, at=now, succeeded=False)
    session.add(attempt)
    session.flush()
    return attempt.id


@transaction
def _note_success(session: DbSession, *, attempt_id: int) -> None:
    session.execute(update(SignInAttempt).where(SignInAttempt.id == attempt_id).values(succeeded=True))


def invite(act: Act, *, name: str, email: str, roles: set[Role]) -> Invitation:
    """Step: make an account and the link that lets its person in. Raises PersonRefused."""
    if not roles:
        raise rules.PersonRefused("Choose at least one role.", field="roles")
    plain_name, plain_email = rules.check_name(name), rules.check_email(email)
    check_free(act.session, plain_email)
    person = Person(
        name=plain_name,
        email=plain_email,
        created_at=act.now,
        role_rows=[PersonRole(role=role) for role in sorted(roles)],
    )
    act.session.add(person)
    act.session.flush()
    return _make_link(act.session, person=person, purpose=LinkPurpose.INVITATION, now=act.now)


def check_free(session: DbSession, email: str) -> None:
    """Raise PersonRefused where somebody has this address already."""
    if queries.person_by_email(session, email) is not None:
        raise rules.PersonRefused(
            "Somebody here has that e-mail address already. Find them among the people to give them a new link.",
            field="email",
        )


def _make_link(session: DbSession, *, person: Person, purpose: LinkPurpose, now: datetime) -> Invitation:
    token = secrets.token_urlsafe(24)
    link = EntryLink(
        person_id=person.id,
        purpose=purpose,
        token_digest=rules.token_digest(token),
        created_at=now,
        expires_at=now + rules.LINK_LIFE[purpose],
    )
    session.add(link)
    session.flush()
    return Invitation(person, token, link.expires_at)


def _refuse_last_manager(session: DbSession, person: Person) -> None:
    if Role.MANAGER in person.roles and queries.count_managers(session) == 1:
        raise rules.PersonRefused("This is the lab's only manager. Make somebody else a manager first.")
