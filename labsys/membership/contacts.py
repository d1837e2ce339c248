"""Whom to call when something happened to somebody: stated by themselves, seen by staff while they are in."""

from collections.abc import Collection

from sqlalchemy import delete, select

from labsys.database import DbSession
from labsys.membership import rules
from labsys.membership.keeping import own_matter, rules_of, ward
from labsys.membership.models import EmergencyContact
from labsys.people.acts import Act, act
from labsys.people.leaving import AtLeaving
from labsys.people.models import Person


@act
def state_contact(act: Act, *, person_id: int, name: str, telephone: str) -> Person:
    """State whom to call for oneself, or with KEEP_MEMBERSHIP for somebody else. The record keeps only that it was.

    Raises NotPermitted, NotFound or MembershipRefused.
    """
    person = own_matter(act) if person_id == act.actor.id else ward(act, person_id)
    rules.check_contact(name, telephone, own_name=person.name)
    kept = select(EmergencyContact).where(EmergencyContact.person_id == person.id)
    contact = act.session.execute(kept).scalar_one_or_none() or EmergencyContact(person_id=person.id)
    contact.name, contact.telephone, contact.stated_at = name, telephone, act.now
    act.session.add(contact)
    act.tell("person.emergency_contact_stated", about=person)
    return person


def contact_of(session: DbSession, person_id: int) -> EmergencyContact | None:
    return contacts_of(session, [person_id]).get(person_id)


def contacts_of(session: DbSession, person_ids: Collection[int]) -> dict[int, EmergencyContact]:
    """Whom to call for each of these people who said so; nobody where the lab does not ask."""
    if not rules_of(session).asks_contact:
        return {}
    query = select(EmergencyContact).where(EmergencyContact.person_id.in_(person_ids))
    return {contact.person_id: contact for contact in session.execute(query).scalars()}


def why_no_contact(session: DbSession, person: Person) -> str:
    """What somebody has still to say, to them; empty where they said it."""
    return "" if contact_of(session, person.id) else rules.NO_CONTACT


def _release(act: Act, person: Person) -> None:
    act.session.execute(delete(EmergencyContact).where(EmergencyContact.person_id == person.id))


CONTACT_FORGOTTEN = AtLeaving(lambda *_: ["Whom to call in an emergency is forgotten."], _release)
