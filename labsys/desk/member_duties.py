"""What membership leaves to be done: the lab says who comes here."""

from collections.abc import Iterator

from flask import url_for

from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.people.permissions import Permission
from labsys.records.models import Admits


def of_memberships(admits: Admits) -> Iterator[Duty]:
    if admits is Admits.NOT_STATED:
        act = OfferedAct("Say it", url_for("membership.rules"), alone="Say whether people under 18 come here")
        why = "Nobody has said whether people under 18 come here, so that nobody is asked for their age"
        yield Duty(Urgency.LATER, "Who comes here", act.href, why, act, needed=Permission.KEEP_LAB)
