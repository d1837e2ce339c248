"""Where a person's mail goes: the address, with which they also sign in, is put right, and they are told at both."""

from labsys.mail import service as outbox
from labsys.mail.kinds import ADDRESS, Message
from labsys.people import passwords, queries, rules
from labsys.people import service as people
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, require


@act
def change_address(act: Act, *, person_id: int, email: str) -> Person:
    """Put somebody's address right. Raises NotPermitted, NotFound or PersonRefused."""
    require(act.actor, Permission.KEEP_PEOPLE)
    return _change(act, queries.person_or_raise(act.session, person_id), email=email)


def change_own_address(act: Act, *, email: str, current: str, address: str, cost: passwords.Cost) -> Person:
    """Put one's own address right, with the password that one signs in with; `address` is the client's.

    Raises TooManyAttempts or PersonRefused.
    """
    people.prove_password(act, current=current, address=address, cost=cost)
    return _change_own(act, email=email)


@act
def _change_own(act: Act, *, email: str) -> Person:
    return _change(act, act.actor, email=email)


def _change(act: Act, person: Person, *, email: str) -> Person:
    before, after = person.email, rules.check_email(email)
    if after == before:
        return person
    people.check_free(act.session, after)
    person.email = after
    if person.is_active:
        for address in (before, after):
            _write_to(act, person, address=address, before=before)
    act.tell("person.address_changed", about=person, facts={"before": before, "after": after})
    return person


def _write_to(act: Act, person: Person, *, address: str, before: str) -> None:
    changed = f"your e-mail address here from {before} to {person.email}"
    said = f"You changed {changed}." if person.id == act.actor.id else f"{act.actor.name} changed {changed}."
    body = (
        f"{said} You sign in with the new one from now on, and mail goes there.\n\n"
        "Is that not right? Tell the lab's manager at once.\n"
    )
    which = "old" if address == before else "new"
    key = f"address of {person.id} changed {act.now.isoformat()}: {which}"
    message = Message(ADDRESS, key, "Your e-mail address was changed", body, "/account")
    outbox.queue_all(act.session, [outbox.Letter(message, person, address)], by=act.actor, now=act.now)
