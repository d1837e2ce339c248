"""What the lab asks of who comes here, as whoever keeps the lab sets it."""

from collections.abc import Mapping

from sqlalchemy import select

from labsys.membership.keeping import rules_of
from labsys.membership.models import MembershipRules
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records.models import Admits, Lab, Safeguarding

ASKED = ("asks_term", "asks_agreement", "asks_contact", "keeps_fees", "most_guests")
NOT_CHANGED: Mapping[str, bool | int] = {}


@act
def set_rules(
    act: Act,
    *,
    admits_under_18: Admits,
    safeguarding: Safeguarding = Safeguarding.EITHER,
    asks: Mapping[str, bool | int] = NOT_CHANGED,
) -> Lab:
    """Set what the lab asks of who comes here; of `asks` what is left out stays as it is. Raises NotPermitted."""
    require(act.actor, Permission.KEEP_LAB)
    lab = act.session.execute(select(Lab).with_for_update()).scalar_one()
    lab.admits_under_18, lab.safeguarding = admits_under_18, safeguarding
    stands = rules_of(act.session)
    kept = {name: asks.get(name, getattr(stands, name)) for name in ASKED}
    act.session.merge(MembershipRules(id=1, **kept))
    facts = {"admits_under_18": admits_under_18, "safeguarding": safeguarding, **kept}
    act.tell("lab.membership_set", about=lab, facts=facts)
    return lab
