"""What membership leaves to be done: the lab says who comes here, and somebody says their age."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from flask import url_for

from labsys.database import DbSession
from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.membership import ages
from labsys.membership.models import Admits
from labsys.membership.rules import Age
from labsys.people.models import Person
from labsys.people.permissions import Permission


@dataclass(frozen=True)
class Memberships:
    """How the lab stands with who comes here; a shared tablet is told nothing of anybody's age."""

    admits: Admits
    says_no_age: bool


def memberships(session: DbSession, *, person: Person, today: date) -> Memberships:
    admits = ages.membership_rules(session).admits_under_18
    is_asked = admits is not Admits.NOT_STATED and person.confined_to is None
    says_no_age = is_asked and ages.ages_of(session, [person.id], on=today)[person.id] is Age.NOT_STATED
    return Memberships(admits, says_no_age)


def of_memberships(here: Memberships) -> Iterator[Duty]:
    if here.says_no_age:
        act = OfferedAct("Say it", url_for("membership.own_age"), alone="Say your age")
        why = "Say whether you are 18 or over: until then you may not book by yourself"
        yield Duty(Urgency.YOURS, "Your age", act.href, why, act)
    if here.admits is Admits.NOT_STATED:
        act = OfferedAct("Say it", url_for("membership.rules"), alone="Say whether people under 18 come here")
        why = "Nobody has said whether people under 18 come here, so that nobody is asked for their age"
        yield Duty(Urgency.LATER, "Who comes here", act.href, why, act, needed=Permission.KEEP_LAB)
