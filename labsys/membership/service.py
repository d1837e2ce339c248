"""What the lab asks of who comes here, as whoever keeps the lab sets it."""

from sqlalchemy import select

from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records.models import Admits, Lab, Safeguarding


@act
def set_rules(act: Act, *, admits_under_18: Admits, safeguarding: Safeguarding = Safeguarding.EITHER) -> Lab:
    """Set what the lab asks of who comes here. Raises NotPermitted."""
    require(act.actor, Permission.KEEP_LAB)
    lab = act.session.execute(select(Lab).with_for_update()).scalar_one()
    lab.admits_under_18, lab.safeguarding = admits_under_18, safeguarding
    facts = {"admits_under_18": admits_under_18, "safeguarding": safeguarding}
    act.tell("lab.membership_set", about=lab, facts=facts)
    return lab
