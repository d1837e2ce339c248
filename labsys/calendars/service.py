"""What people do with calendar addresses: make one, which ends the one before, and end one."""

import secrets
from dataclasses import dataclass

from sqlalchemy import select, update

from labsys.calendars.models import CalendarAddress
from labsys.calendars.rules import Calendar
from labsys.courses import queries as courses
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, may, require
from labsys.people.rules import token_digest
from labsys.places import queries as places
from labsys.records.errors import NotFound
from labsys.records.queries import get_or_raise

TOKEN_OCTETS = 32


@dataclass(frozen=True)
class Made:
    """An address, and its secret part, which is kept nowhere."""

    address: CalendarAddress
    token: str


@act
def make_address(act: Act, *, calendar: Calendar) -> Made:
    """Make an address of a calendar; the one that the same person had of it ends. Raises NotPermitted or NotFound."""
    require(act.actor, calendar.needed)
    if calendar.room_id is not None:
        places.room_or_raise(act.session, calendar.room_id)
    if calendar.course_id is not None:
        courses.course_or_raise(act.session, calendar.course_id)
    act.session.execute(select(Person.id).where(Person.id == act.actor.id).with_for_update())  # one after the other
    act.session.execute(
        update(CalendarAddress)
        .where(
            CalendarAddress.person_id == act.actor.id,
            CalendarAddress.room_id.is_not_distinct_from(calendar.room_id),
            CalendarAddress.course_id.is_not_distinct_from(calendar.course_id),
            CalendarAddress.ended_at.is_(None),
        )
        .values(ended_at=act.now)
    )
    token = secrets.token_urlsafe(TOKEN_OCTETS)
    address = CalendarAddress(
        person_id=act.actor.id,
        room_id=calendar.room_id,
        course_id=calendar.course_id,
        token_digest=token_digest(token),
        session_version=act.actor.session_version,
        made_at=act.now,
    )
    act.session.add(address)
    act.session.flush()
    facts = {"room": calendar.room_id, "course": calendar.course_id}
    act.tell("calendar.address_made", about=address, facts=facts)
    return Made(address, token)


@act
def end_address(act: Act, *, address_id: int) -> CalendarAddress:
    """End an address at once: one's own, or anybody's for who keeps the people. Raises NotFound."""
    address = get_or_raise(act.session, CalendarAddress, address_id, "calendar address", lock=True)
    if address.person_id != act.actor.id and not may(act.actor, Permission.KEEP_PEOPLE):
        raise NotFound("calendar address", address_id)
    if address.ended_at is None:
        address.ended_at = act.now
        act.tell("calendar.address_ended", about=address, facts={"of": address.person_id})
    return address
