"""A guardian's permission that somebody under 18 works here: entered from the signed paper, withdrawn, asked for."""

from collections.abc import Collection
from datetime import date

from sqlalchemy import select

from labsys.database import DbSession
from labsys.membership import rules
from labsys.membership.keeping import ward
from labsys.membership.models import GuardianPermission
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.rules import check_name
from labsys.records import queries as records
from labsys.records.errors import NotFound
from labsys.timetable.local_time import to_local


@act
def enter_permission(
    act: Act, *, person_id: int, guardian: str, given_on: date, ends_on: date, paper: str = ""
) -> Person:
    """Enter what a guardian signed. Nobody enters their own. Raises NotPermitted, NotFound or MembershipRefused."""
    person = ward(act, person_id)
    rules.check_permission(given_on, ends_on, today=to_local(act.now, zone=records.zone(act.session)).date())
    if check_name(guardian).casefold() == person.name.casefold():
        raise rules.MembershipRefused("That is their own name. Enter who signed for them.", field="guardian")
    act.session.add(
        GuardianPermission(
            person_id=person.id,
            guardian=check_name(guardian),
            given_on=given_on,
            ends_on=ends_on,
            paper=paper,
            recorded_at=act.now,
            recorded_by_id=act.actor.id,
        )
    )
    act.tell("person.permission_entered", about=person)
    return person


@act
def withdraw_permission(act: Act, *, person_id: int, permission_id: int) -> Person:
    """Note that a guardian took their permission back: it holds no more. Raises NotPermitted or NotFound."""
    person = ward(act, person_id)
    permission = act.session.get(GuardianPermission, permission_id)
    if permission is None or permission.person_id != person.id:
        raise NotFound("permission", permission_id)
    if permission.withdrawn_at is None:
        permission.withdrawn_at, permission.withdrawn_by_id = act.now, act.actor.id
        act.tell("person.permission_withdrawn", about=person)
    return person


def permissions_of(session: DbSession, person_id: int) -> list[GuardianPermission]:
    """Every permission there ever was for somebody, the newest first."""
    query = select(GuardianPermission).where(GuardianPermission.person_id == person_id)
    return list(session.execute(query.order_by(GuardianPermission.id.desc())).scalars())


def with_permission(session: DbSession, person_ids: Collection[int], *, on: date) -> set[int]:
    """Those of several people for whom a guardian's permission holds on a day."""
    query = select(GuardianPermission.person_id).where(
        GuardianPermission.person_id.in_(person_ids),
        GuardianPermission.given_on <= on,
        GuardianPermission.ends_on >= on,
        GuardianPermission.withdrawn_at.is_(None),
    )
    return set(session.execute(query).scalars())
