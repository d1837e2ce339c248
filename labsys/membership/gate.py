"""The one answer about what the lab asks of who comes here: asked by every booking, and shown to the person."""

from datetime import date

from labsys.database import DbSession
from labsys.membership import rules
from labsys.membership.agreements import why_unsigned
from labsys.membership.contacts import why_no_contact
from labsys.membership.enrolment import why_no_member
from labsys.membership.keeping import rules_of
from labsys.people.acts import Act
from labsys.people.models import Person


def still_asked(session: DbSession, person: Person, *, on: date) -> list[str]:
    """What the lab still asks of somebody who would work here on a day, to them."""
    asks = rules_of(session)
    asked = (
        why_no_member(session, person, on=on) if asks.asks_term else "",
        why_unsigned(session, person) if asks.asks_agreement else "",
        why_no_contact(session, person) if asks.asks_contact else "",
    )
    return [why for why in asked if why]


def require_member(act: Act, *, person: Person, on: date) -> None:
    """Step: raise MembershipRefused where the lab still asks something of who is to work here on a day."""
    if asked := still_asked(act.session, person, on=on):
        who = "" if person.id == act.actor.id else f"To {person.name}: "
        raise rules.MembershipRefused(f"{who}{' '.join(asked)}", field="person")


def require_guests(session: DbSession, guests: int) -> None:
    """Step: raise MembershipRefused where more come along than the lab allows."""
    most = rules_of(session).most_guests
    if guests > most:
        raise rules.MembershipRefused(rules.too_many_guests(most), field="guests")
