"""What the lab asks of who comes here, as whoever keeps the lab sets it."""

from sqlalchemy import select

from labsys.membership.ages import membership_rules
from labsys.membership.models import Admits, MembershipRules
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records.models import Lab


@act
def set_rules(act: Act, *, admits_under_18: Admits) -> MembershipRules:
    """Set what the lab asks of who comes here. Raises NotPermitted."""
    require(act.actor, Permission.KEEP_LAB)
    act.session.execute(select(Lab).with_for_update())
    row = membership_rules(act.session)
    row.id, row.admits_under_18 = 1, admits_under_18
    act.session.add(row)
    act.session.flush()
    act.tell("membership.rules_set", about=row, facts={"admits_under_18": admits_under_18})
    return row
