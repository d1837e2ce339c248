"""What the acts of membership share: whose matter it is, and what the lab asks."""

from labsys.database import DbSession
from labsys.membership.models import MembershipRules
from labsys.people import queries as people
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, require

NOTHING_ASKED = MembershipRules(
    asks_term=False, asks_agreement=False, asks_contact=False, keeps_fees=False, most_guests=0
)


def rules_of(session: DbSession) -> MembershipRules:
    """What the lab asks of who comes here, besides their age."""
    return session.get(MembershipRules, 1) or NOTHING_ASKED


def ward(act: Act, person_id: int) -> Person:
    """Somebody else, of whom something is entered by who keeps the memberships. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.KEEP_MEMBERSHIP)
    if person_id == act.actor.id:
        raise NotPermitted(Permission.KEEP_MEMBERSHIP)
    return people.person_or_raise(act.session, person_id)


def own_matter(act: Act) -> Person:
    """Step: whoever acts, about themselves, on a device of their own. Raises NotPermitted at a shared tablet."""
    if act.visit is not None:
        raise NotPermitted(Permission.KEEP_MEMBERSHIP)
    return act.actor
