"""Whoever is alone is asked again and again whether they are all right; work that nobody does alone stops."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlalchemy.exc import IntegrityError

from labsys.bookings.comings_and_goings import Freed
from labsys.database import DbSession
from labsys.duty import alerts, gate, queries, rules, words
from labsys.duty.models import AloneRule, CallIn
from labsys.duty.queries import In
from labsys.jobs import service as jobs
from labsys.jobs.kinds import Kind, Made, Task
from labsys.mail import service as mail
from labsys.people.acts import Act, act
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.records import queries as records
from labsys.timetable.local_time import clock_words
from labsys.timetable.spans import Span

LEFT_ALONE = "left alone"


def follow(act: Act, freed: Sequence[Freed]) -> None:
    """Step, after somebody came, went or cancelled: begin or end call-ins, and see later whom it leaves alone."""
    act.session.flush()
    look_who_is_alone(act)
    told = [
        {
            "booking": each.booking.id,
            "version": each.booking.version,
            "person": each.booking.person_id,
            "from": each.span.start.isoformat(),
            "to": each.span.end.isoformat(),
        }
        for each in freed
    ]
    if told and queries.is_anybody_beside(act.session, [each.span for each in freed], after=act.now):
        jobs.queue(act.session, kind=LEFT_ALONE, due_at=act.now, now=act.now, parameters={"freed": told})


def look_who_is_alone(act: Act) -> None:
    """Step: end the call-in of who is alone no more, and begin that of who is alone now. Changes nothing twice."""
    alone = queries.the_one_alone(queries.who_is_in(act.session))
    is_asked = False
    for call_in in queries.open_call_ins(act.session, lock=True):
        if alone is not None and call_in.person_id == alone.person_id:
            is_asked = True
        else:
            end(act, call_in)
    if alone is not None and not is_asked:
        _begin(act, alone)


def end(act: Act, call_in: CallIn) -> None:
    """Step: somebody else is there, or they have gone."""
    call_in.ended_at = act.now
    alerts.come_right(act, causes=[f"call-in {call_in.id} "])
    act.tell("call_in.ended", about=call_in)


@act
def look(act: Act) -> None:
    """The same as an act of its own, each minute."""
    look_who_is_alone(act)


@act
def answer(act: Act, *, call_in_id: int) -> CallIn:
    """Say that one is all right: one touch. Raises NotPermitted, NotFound or DutyRefused."""
    call_in = _own(act, call_in_id)
    call_in.answered_at, call_in.asked_at = act.now, None
    call_in.due_at = act.now + queries.settings(act.session).ask_every
    alerts.come_right(act, causes=[f"call-in {call_in.id} "])
    act.tell("call_in.answered", about=call_in)
    return call_in


@act
def say_who_expects(act: Act, *, call_in_id: int, outside: str) -> CallIn:
    """Say who outside expects one's call. Raises NotPermitted, NotFound or DutyRefused."""
    call_in = _own(act, call_in_id)
    call_in.outside = outside
    act.tell("call_in.outside_said", about=call_in)
    return call_in


@act
def ask(act: Act, *, call_in_id: int) -> CallIn | None:
    """Write to whoever is alone that it is time to answer; once for each time."""
    call_in = queries.call_in_or_raise(act.session, call_in_id, lock=True)
    if call_in.ended_at or call_in.asked_at or call_in.due_at > act.now:
        return None
    call_in.asked_at = act.now
    message = words.are_you_all_right(call_in, settings=queries.settings(act.session))
    mail.queue(act.session, message, to=call_in.person, by=None, now=act.now)
    act.tell("call_in.asked", about=call_in)
    return call_in


@act
def miss(act: Act, *, call_in_id: int) -> None:
    """Raise the alert about somebody who did not answer in time; once for each time they were asked."""
    call_in = queries.call_in_or_raise(act.session, call_in_id, lock=True)
    settings = queries.settings(act.session)
    if call_in.ended_at or call_in.due_at + settings.answer_within > act.now:
        return
    since = clock_words(call_in.due_at, zone=records.zone(act.session))
    expects = f" Expected outside by: {call_in.outside}." if call_in.outside else ""
    alerts.raise_alert(
        act,
        cause=f"call-in {call_in.id} {call_in.due_at:%Y-%m-%dT%H:%M:%S}",
        about=call_in.person,
        who=call_in.person.name,
        said=f"Alone in the building, and no answer since {since}.{expects}",
    )


def due_to_be_asked(session: DbSession, *, now: datetime) -> list[CallIn]:
    return [each for each in queries.open_call_ins(session) if each.due_at <= now and each.asked_at is None]


def due_to_be_missed(session: DbSession, *, now: datetime, within: timedelta) -> list[CallIn]:
    return [each for each in queries.open_call_ins(session) if each.due_at + within <= now]


def _begin(act: Act, alone: In) -> None:
    """Step: ask from now on, write to whoever holds the keys; nothing where the lab asks nobody for such work."""
    settings = queries.settings(act.session)
    stopped = gate.why_stopped(act.session, alone, now=act.now)
    if (settings.alone is AloneRule.ADULTS and not stopped) or alone.person_id is None:
        return
    call_in = CallIn(
        person_id=alone.person_id, began_at=act.now, due_at=act.now + settings.ask_every, stopped=stopped, outside=""
    )
    try:
        with act.session.begin_nested():
            act.session.add(call_in)
    except IntegrityError:
        return  # another process has begun it this moment: one is open for each person
    act.session.refresh(call_in, ["person"])
    message = words.is_alone(call_in, settings=settings, zone=records.zone(act.session))
    for person in alerts.holders_of_keys(act.session, now=act.now, but_for=alone.person_id):
        mail.queue(act.session, message, to=person, by=None, now=act.now)
    act.tell("call_in.began", about=call_in, facts={"person": alone.person_id, "stopped": bool(stopped)})


def _own(act: Act, call_in_id: int) -> CallIn:
    call_in = queries.call_in_or_raise(act.session, call_in_id, lock=True)
    if call_in.person_id != act.actor.id:
        raise NotPermitted(Permission.SEE_LAB if may(act.actor, Permission.SEE_LAB) else Permission.BOOK_STATION)
    if call_in.ended_at is not None:
        raise rules.DutyRefused("Nobody is asked any more: somebody else is here, or you have gone.")
    return call_in


@act
def tell_those_left_alone(act: Act, *, span: Span, person_id: int, cause: str) -> None:
    """Write to who is booked for a time in which somebody will not be there after all, and is short of company now.

    Once for each such cause.
    """
    zone = records.zone(act.session)
    for booking in queries.bookings_beside(act.session, span, but_for=person_id, after=act.now):
        company = gate.company_of(act.session, booking, now=act.now)
        if company.refused or company.condition:
            message = words.left_alone(booking, company, cause=cause, zone=zone)
            mail.queue(act.session, message, to=booking.person, by=None, now=act.now)


def run_left_alone(task: Task) -> Made:
    """The background job that `follow` asks for."""
    for told in task.parameters["freed"]:
        tell_those_left_alone(
            Act(task.session, by=None, now=task.now()),
            span=Span(datetime.fromisoformat(told["from"]), datetime.fromisoformat(told["to"])),
            person_id=told["person"],
            cause=f"{told['booking']} {told['version']}",
        )
    return Made("Looked who is booked beside them.")


LEFT_ALONE_KIND = Kind(name=LEFT_ALONE, title="Tell those whom a cancelled booking leaves alone", run=run_left_alone)
