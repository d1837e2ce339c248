"""The rules about amounts that a lab says it comes under."""

from collections.abc import Collection

from sqlalchemy import select

from labsys.baths.models import FollowedRule
from labsys.database import DbSession
from labsys.hazards.amounts import rules_to_choose
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records.errors import Refused
from labsys.records.models import Lab


class NoSuchRule(Refused):
    """The rule is not on file, or the lab's nation has its own."""


def followed(session: DbSession) -> list[str]:
    """The keys of the rules the lab said it comes under."""
    return list(session.execute(select(FollowedRule.rule).order_by(FollowedRule.rule)).scalars())


@act
def follow_rules(act: Act, *, rules: Collection[str]) -> Lab:
    """Say which rules the lab comes under, and no others. Raises NotPermitted or NoSuchRule."""
    require(act.actor, Permission.KEEP_LAB)
    lab = act.session.get_one(Lab, 1, with_for_update=True)
    if set(rules) - {rule.key for rule in rules_to_choose(lab.nation)}:
        raise NoSuchRule(f"A lab in {lab.nation} cannot choose that. Load the page again.", field="rules")
    rows = {row.rule: row for row in act.session.execute(select(FollowedRule)).scalars()}
    for gone in rows.keys() - set(rules):
        act.session.delete(rows[gone])
    for new in sorted(set(rules) - rows.keys()):
        act.session.add(FollowedRule(rule=new, said_at=act.now, said_by_id=act.actor.id))
    act.tell("lab.rules_followed", about=lab, facts={"rules": sorted(rules)})
    return lab
