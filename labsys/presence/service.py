"""What people do about who is in the building: one touch in, one touch out, each with its time."""

import re
from datetime import datetime, timedelta
from enum import StrEnum

from labsys.bookings import service as bookings
from labsys.bookings.comings_and_goings import follow
from labsys.courses import attending
from labsys.database import LARGEST_ROW
from labsys.duty import alerts
from labsys.duty.models import Presence
from labsys.duty.rota import on_duty_at
from labsys.duty.rules import DutyRefused
from labsys.people import queries as people
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may, require
from labsys.presence import queries
from labsys.presence.queries import Head
from labsys.records import queries as records

OLDEST = timedelta(hours=24)  # what a phone tells later than that is entered by hand
USUAL_STAY = timedelta(hours=4)  # of who comes by while it is closed
_PERSON = re.compile(r"person-([1-9][0-9]{0,18})")


class Way(StrEnum):
    IN = "in"
    OUT = "out"


@act
def touch(act: Act, *, key: str, way: Way, at: datetime, is_by_hand: bool = False) -> Presence | None:
    """Note that somebody came or went, at an instant that may be past: phones without a network tell late.

    What is entered `is_by_hand` may be as old as it is.

    Each coming is a row of its own; a going ends what had begun by then, so that whoever came back since stays in.
    Oneself, or anybody with BOOK_FOR_OTHERS. Raises NotPermitted, NotFound or DutyRefused.
    """
    _require(act, key)
    check_time(at, now=act.now, is_by_hand=is_by_hand)
    if way is Way.IN:
        person = _person(act, key)
        gone_at = queries.left_since(act.session, person_id=person.id, at=at)
        return come(act, person=person, name="", at=at, gone_at=gone_at)
    head = queries.head_of(act.session, key)
    if head is not None:
        go(act, head, at=at)
    return None


@act
def add_guest(act: Act, *, name: str, at: datetime) -> Presence:
    """Note somebody without an account who came. Raises NotPermitted or DutyRefused."""
    require(act.actor, Permission.BOOK_FOR_OTHERS)
    check_time(at, now=act.now)
    if not name:
        raise DutyRefused("Write who came.", field="name")
    return come(act, person=None, name=name, at=at)


@act
def stay_longer(act: Act, *, key: str, until: datetime) -> Presence:
    """Say that somebody stays longer than was known. Raises NotPermitted or DutyRefused."""
    _require(act, key)
    head = queries.head_of(act.session, key)
    if head is None:
        raise DutyRefused("They are not known to be in the building.")
    if until <= act.now:
        raise DutyRefused("That is past. Choose a later time.", field="until")
    if head.presences:
        presence = head.presences[-1]
        presence.leaves_by = until
        act.tell("presence.stays", about=presence)
    else:
        person = _person(act, key) if head.person_id is not None else None
        presence = come(act, person=person, name="" if person else head.name, at=act.now, until=until)
    alerts.come_right(act, causes=[f"overdue {key} "])
    return presence


def come(
    act: Act,
    *,
    person: Person | None,
    name: str,
    at: datetime,
    until: datetime | None = None,
    gone_at: datetime | None = None,
) -> Presence:
    """Step: somebody is in the building, until the lab closes unless told otherwise; or was, until `gone_at`."""
    opening = on_duty_at(act.session, now=act.now, zone=records.zone(act.session))
    presence = Presence(
        person=person,
        name=name,
        came_at=at,
        leaves_by=until or (opening.span.end if opening else act.now + USUAL_STAY),
        left_at=gone_at,
        recorded_at=act.now,
        noted_by_id=act.actor.id,
    )
    act.session.add(presence)
    act.session.flush()
    act.tell("presence.came", about=presence, facts={"person": person.id if person else None, "at": at.isoformat()})
    follow(act)
    return presence


def go(act: Act, head: Head, *, at: datetime) -> None:
    """Step: somebody has left the building, and with that every booking and class they were here on by then."""
    for booking in head.bookings:
        if booking.arrived_at is not None and booking.arrived_at <= at:
            bookings.depart(act, booking, at=at)
    for attendance in head.attendances:
        if attendance.arrived_at <= at:
            attending.go(act, attendance, at=at)
    for row in head.supervisions:
        if row.arrived_at is not None and row.arrived_at <= at:
            row.left_at = at
            act.tell("booking.supervisor_left", about=row.booking, facts={"supervisor": row.supervisor_id})
    for presence in head.presences:
        if presence.came_at <= at:
            presence.left_at = at
            act.tell("presence.left", about=presence, facts={"at": at.isoformat()})
    act.session.flush()
    if queries.head_of(act.session, head.key) is None:
        alerts.come_right(act, causes=[f"overdue {head.key} "])
    follow(act)


def check_time(at: datetime, *, now: datetime, is_by_hand: bool = False) -> None:
    """Raise DutyRefused for a time that a phone cannot have meant."""
    if at > now:
        raise DutyRefused("That is in the future. Check the clock of this phone.")
    if at < now - OLDEST and not is_by_hand:
        raise DutyRefused("That was noted more than a day ago, and is not taken over by itself any more.")


def _require(act: Act, key: str) -> None:
    if key != queries.key_of(act.actor.id):
        require(act.actor, Permission.BOOK_FOR_OTHERS)
    elif not may(act.actor, Permission.SEE_LAB):
        raise NotPermitted(Permission.SEE_LAB)


def _person(act: Act, key: str) -> Person:
    read = _PERSON.fullmatch(key)
    if read is None or int(read[1]) > LARGEST_ROW:
        raise DutyRefused("They are not known here any more. Open the page again.")
    person = people.person_or_raise(act.session, int(read[1]))
    if not person.is_active:
        raise DutyRefused(f"{person.name} has left the lab.")
    return person
