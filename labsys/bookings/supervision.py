"""Somebody under 18 works with a named adult who answers for them: one step that every act asks, on the day's facts.

The law asks for it, so that no setting takes it away: a guardian's permission, a process assessed as open to them, a
supervisor who is booked and cleared, and somebody else, or a window, that sees the two.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, exists, select

from labsys.bookings.models import Booking, Hold, Supervision
from labsys.bookings.rules import Plan
from labsys.database import DbSession
from labsys.inductions import gate
from labsys.inductions.rules import Subject
from labsys.membership import ages, guardians
from labsys.membership.rules import Age
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.places.models import Room, Stated, Station, StationUnit
from labsys.processes.models import Process
from labsys.records import queries as records
from labsys.records.errors import Refused
from labsys.records.models import Admits, Lab, Safeguarding
from labsys.restrictions.rules import NOT_ON_A_SHARED_SCREEN
from labsys.risk import under_18
from labsys.timetable.local_time import to_local
from labsys.timetable.spans import Span


class NotSupervised(Refused):
    """What is asked for somebody under 18 is not there; the message says what, to them and to who books for them."""


@dataclass(frozen=True)
class Work:
    """What somebody under 18 means to do, and who is named to answer for them."""

    person: Person
    stations: Sequence[Station]
    process: Process | None
    span: Span
    supervisor: Person | None
    second_adult: Person | None
    supervisor_comes: bool
    booking: Booking | None = None
    second_comes: bool = False  # as one of those who hold the class

    @property
    def rooms(self) -> list[Room]:
        return list({station.room_id: station.room for station in self.stations}.values())


def work_of(booking: Booking, stations: Sequence[Station]) -> Work:
    """A booking as it stands."""
    named = booking.supervision or Supervision(comes=False)
    return Work(
        person=booking.person,
        stations=stations,
        process=booking.process,
        span=Span(booking.starts_at, booking.ends_at),
        supervisor=named.supervisor,
        second_adult=named.second_adult,
        supervisor_comes=named.comes,
        booking=booking,
    )


def require_supervised(act: Act, work: Work, *, is_class: bool, begins: bool, waits: bool = False) -> None:
    """Step: raise NotSupervised where the person is under 18 then and what that asks for is not there.

    At a shared tablet nothing is said of anybody's age.
    """
    session, day = act.session, _day(act.session, work.span.start)
    if not ages.is_under_18(session, work.person.id, on=day):
        return
    if is_class:
        why = ["Somebody under 18 holds no class. Choose an instructor who is known to be 18 or over."]
    elif waits:
        why = ["Who is under 18 names a supervisor for a time, so that they do not wait for any. Choose a time."]
    else:
        why = list(why_not(session, work, now=act.now, begins=begins, own=_is_own(act, work.person)))
    if why:
        raise NotSupervised(" ".join(why) if act.visit is None else NOT_ON_A_SHARED_SCREEN)


def why_not(session: DbSession, work: Work, *, now: datetime, begins: bool, own: bool = False) -> Iterator[str]:
    """What stands against the work of somebody who counts as under 18, in sentences; `own` are words for them."""
    lab, day = session.get_one(Lab, 1), _day(session, work.span.start)
    who = "You have" if own else f"{work.person.name} has"
    if ages.ages_of(session, [work.person.id], on=day)[work.person.id] is Age.NOT_STATED:
        where = "Say it on your account, under Your age." if own else "They say it on their account."
        yield f"{who} not said whether {'you' if own else 'they'} are 18 or over. {where}"
        return
    if lab.admits_under_18 is Admits.NO:
        yield "This lab admits nobody under 18."
        return
    if not guardians.with_permission(session, [work.person.id], on=day):
        yield "No guardian's permission is on file for that day: hand the signed paper to who keeps the memberships."
    yield from _why_not_this_work(session, work, today=_day(session, now), day=day, begins=begins)
    yield from why_no_supervisor(session, work, now=now, begins=begins)
    yield from _why_not_safeguarded(session, work, rule=lab.safeguarding)


def why_not_in_class(
    session: DbSession,
    person: Person,
    booking: Booking,
    *,
    stations: Sequence[Station],
    processes: Sequence[Process],
    instructors: Sequence[Person],
    now: datetime,
) -> list[str]:
    """What stands against somebody under 18 at a class: whoever holds it supervises, another of them is the second."""
    others = [other for other in instructors if other.id != booking.person_id]
    told: dict[str, None] = {}
    works_with: list[Process | None] = [*processes] or [None]
    for process in works_with:
        work = Work(
            person=person,
            stations=stations,
            process=process,
            span=Span(booking.starts_at, booking.ends_at),
            supervisor=booking.person,
            second_adult=others[0] if others else None,
            supervisor_comes=True,
            second_comes=True,
        )
        told.update(dict.fromkeys(why_not(session, work, now=now, begins=False)))
    return list(told)


def name_supervisor(act: Act, booking: Booking, plan: Plan, *, is_moved: bool) -> None:
    """Step: write who answers for the person; who names themselves comes, and who was named comes if nothing moved."""
    row = booking.supervision
    if row is None:
        if plan.supervisor_id is None and plan.second_adult_id is None:
            return
        row = booking.supervision = Supervision()
    row.comes = comes(act, plan, booking, is_moved=is_moved)
    if plan.supervisor_id != row.supervisor_id:
        row.arrived_at = row.left_at = None
    row.supervisor_id, row.second_adult_id = plan.supervisor_id, plan.second_adult_id


def comes(act: Act, plan: Plan, booking: Booking | None, *, is_moved: bool) -> bool:
    """Whether the supervisor that is named said to come: they name themselves, or did so for this very time."""
    if plan.supervisor_id is None:
        return False
    if act.by is not None and act.by.id == plan.supervisor_id:
        return True
    row = booking.supervision if booking else None
    return row is not None and row.supervisor_id == plan.supervisor_id and row.comes and not is_moved


def may_supervise(person: Person) -> bool:
    """Whether somebody's role lets them answer for others: whoever books for others and notes their arrival."""
    return may(person, Permission.BOOK_FOR_OTHERS)


def is_here(session: DbSession, work: Work) -> bool:
    """Whether the supervisor has arrived and not left: for this booking, or for their own in the same room.

    That a class has begun does not say that its instructor stands there.
    """
    if work.supervisor is None:
        return False
    row = work.booking.supervision if work.booking else None
    if row is not None and row.arrived_at is not None:
        return row.left_at is None
    return _has_booking(session, work, work.supervisor, Booking.arrived_at.is_not(None), Booking.class_name == "")


def _why_not_this_work(session: DbSession, work: Work, *, today: date, day: date, begins: bool) -> Iterator[str]:
    if work.process is None:
        yield "Choose the process: what is not decided is not open to people under 18."
        return
    assessed = under_18.open_to_under_18(session, work.process.id, today=today, zone=records.zone(session))
    name = work.process.name
    if not assessed.is_open:
        yield f"{name} is not open to people under 18: {assessed.why_not}."
        return
    if assessed.with_whom and work.supervisor and not under_18.names_supervisor(assessed.with_whom, work.supervisor):
        yield f"{name} is open to people under 18 only with {assessed.with_whom}. Name somebody who is that."
    if begins and assessed.version and ages.is_of_school_age(session, work.person.id, on=day):
        told = under_18.are_findings_given(session, person_id=work.person.id, version_id=assessed.version.id)
        if not told:
            yield f"Who answers for them has not been given what the assessment of {name} found."


def why_no_supervisor(session: DbSession, work: Work, *, now: datetime, begins: bool = False) -> Iterator[str]:
    """What stands against who is named to answer for somebody."""
    person = work.supervisor
    if person is None:
        yield "Name a supervisor."
        return
    day, name = _day(session, work.span.start), person.name
    if person.id == work.person.id:
        yield "Nobody supervises themselves. Name somebody else."
    elif not person.is_active:
        yield f"{name} has left the lab. Name another supervisor."
    elif not may_supervise(person):
        yield f"{name} may not supervise. Name an instructor, a technician or a manager."
    elif not ages.is_known_adult(session, person.id, on=day):
        yield f"{name} is not known to be 18 or over. Name another supervisor, or have them say it."
    elif not _is_cleared(session, work, person, now=now):
        yield f"{name} is not cleared for this work. Name another supervisor."
    elif not (work.supervisor_comes or _is_booked(session, work, person)):
        yield f"{name} is not booked there for all of the time. Ask them to book, or to say that they come."
    elif begins and not is_here(session, work):
        yield f"{name} is not here. Nothing begins before a supervisor has arrived."


def _why_not_safeguarded(session: DbSession, work: Work, *, rule: Safeguarding) -> Iterator[str]:
    hidden = [room.name for room in work.rooms if room.looked_into is not Stated.YES]
    unseen = f"{' and '.join(hidden)} cannot be looked into, or nobody has said so." if hidden else ""
    missing = _why_no_second_adult(session, work)
    if rule is Safeguarding.LOOKED_INTO and unseen:
        yield f"{unseen} Choose another place."
    elif rule is Safeguarding.TWO_ADULTS and missing:
        yield missing
    elif rule is Safeguarding.EITHER and unseen and missing:
        yield f"{unseen} {missing}"


def _why_no_second_adult(session: DbSession, work: Work) -> str:
    person = work.second_adult
    if person is None:
        return "Name a second adult who is booked there too."
    if person.id in (work.person.id, work.supervisor.id if work.supervisor else None):
        return "The second adult is somebody else again. Name another."
    if not person.is_active or not ages.is_known_adult(session, person.id, on=_day(session, work.span.start)):
        return f"{person.name} is not known to be 18 or over, or has left. Name another second adult."
    if not (work.second_comes or _is_booked(session, work, person)):
        return f"{person.name} is not booked there for all of the time. Name another second adult."
    return ""


def _is_cleared(session: DbSession, work: Work, person: Person, *, now: datetime) -> bool:
    every_work: Sequence[Subject] = () if work.process else list(gate.work_by_process(session).values())
    subjects = gate.subjects_of(stations=work.stations, process=work.process, every_work=every_work)
    return not gate.missing_for(session, person=person, subjects=subjects, at=max(work.span.end, now), now=now)


def _is_booked(session: DbSession, work: Work, person: Person) -> bool:
    """Whether somebody has a booking of their own, or a class, in a room of this work for all of its time."""
    return _has_booking(session, work, person, Booking.starts_at <= work.span.start, Booking.ends_at >= work.span.end)


def _has_booking(session: DbSession, work: Work, person: Person, *which: ColumnElement[bool]) -> bool:
    in_a_room = (
        select(Hold.id)
        .join(StationUnit, Hold.unit_id == StationUnit.id)
        .join(Station, StationUnit.station_id == Station.id)
        .where(Hold.booking_id == Booking.id, Station.room_id.in_([room.id for room in work.rooms]))
    )
    query = select(Booking.id).where(
        Booking.person_id == person.id,
        Booking.cancelled_at.is_(None),
        Booking.missed_at.is_(None),
        Booking.left_at.is_(None),
        Booking.starts_at < work.span.end,
        Booking.ends_at > work.span.start,
        exists(in_a_room),
        *which,
    )
    return session.execute(query.limit(1)).first() is not None


def _is_own(act: Act, person: Person) -> bool:
    return act.by is not None and act.by.id == person.id


def _day(session: DbSession, at: datetime) -> date:
    return to_local(at, zone=records.zone(session)).date()
