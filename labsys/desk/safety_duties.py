"""Duties of the store and the register: products, bottles, assessments and their actions."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import Any

from flask import url_for

from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.desk.matters import Matter, Topic
from labsys.people.models import Person
from labsys.people.permissions import Permission
from labsys.risk.actions import may_finish
from labsys.risk.models import Action
from labsys.risk.queries import AssessmentNow, ProcessNow, ProductNow
from labsys.risk.today import DueHere
from labsys.timetable.local_time import day_words

MOST_NAMED = 3


def of_matter(one: Matter) -> Duty:
    """The duty that a matter of the store or the register is."""
    return _DUTY_OF[one.topic](one)


def _unconfirmed(one: Matter) -> Duty:
    href = url_for("store.product", product_id=one.row_id)
    return Duty(
        urgency=Urgency.LATER,
        what=one.name,
        code="",
        href=href,
        why="Its hazards wait to be confirmed against the SDS; mixed from only while an interim approval stands",
        act=OfferedAct("Confirm", href),
        needed=Permission.CONFIRM_PRODUCT,
        also=Permission.KEEP_STOCK,
    )


def _past_date(one: Matter) -> Duty:
    href = url_for("store.bottle", bottle_id=one.row_id)
    return Duty(
        urgency=Urgency.LATER,
        what=one.name,
        code=one.code,
        href=href,
        why=f"Past its date, {one.on:%-d %b %Y}",
        act=OfferedAct("See the bottle", href),
        needed=Permission.KEEP_STOCK,
    )


def _open_incident(one: Matter) -> Duty:
    href = url_for("incidents.show", incident_id=one.row_id)
    return Duty(
        urgency=Urgency.SOON,
        what=f"Incident: {one.name}",
        code="",
        href=href,
        why="Open: nobody has said yet what was changed",
        act=OfferedAct("See to it", href, alone="See to the incident"),
        needed=Permission.KEEP_INCIDENTS,
    )


def _declared(one: Matter) -> Duty:
    href = url_for("brought_in.decide", declaration_id=one.row_id)
    return Duty(
        urgency=Urgency.SOON,
        what=one.name,
        code="",
        href=url_for("brought_in.show", declaration_id=one.row_id),
        why=f"Somebody wants to bring it on {one.on:%-d %b %Y}; nobody has decided",
        act=OfferedAct("Decide", href, alone=f"Decide about {one.name}"),
        needed=Permission.DECIDE_CHEMICAL,
    )


def _overstayed(one: Matter) -> Duty:
    href = url_for("brought_in.show", declaration_id=one.row_id)
    return Duty(
        urgency=Urgency.SOON,
        what=one.name,
        code=one.code,
        href=href,
        why=f"A guest bottle past its last day, {one.on:%-d %b %Y}",
        act=OfferedAct("See to it", href, alone=f"See to {one.name}"),
        needed=Permission.DECIDE_CHEMICAL,
    )


_DUTY_OF: dict[Topic, Callable[[Matter], Duty]] = {
    Topic.UNCONFIRMED: _unconfirmed,
    Topic.PAST_DATE: _past_date,
    Topic.INCIDENT: _open_incident,
    Topic.DECLARED: _declared,
    Topic.OVERSTAYED: _overstayed,
}


def of_assessments(found: DueHere, *, person: Person, today: date) -> Iterator[Duty]:
    for action in found.actions:
        yield _action(action, person=person, today=today)
    for one in found.waiting:
        yield _waits_for_approval(one)
    for one in found.out_of_date:
        yield _out_of_date(one)
    if found.processes:
        yield _not_assessed("Processes nobody has assessed", found.processes, "process_id")
    if found.products:
        yield _not_assessed("Products not assessed as supplied", found.products, "product_id")


def _action(one: Action, *, person: Person, today: date) -> Duty:
    is_overdue = one.due_on < today
    own = "Yours" if one.owner_id == person.id else f"For {one.owner.name}"
    when = f"overdue since {day_words(one.due_on)}" if is_overdue else f"by {day_words(one.due_on)}"
    finish = OfferedAct("It is done", url_for("risk.finish_action", action_id=one.id), alone=f"Done: {one.text}")
    return Duty(
        urgency=Urgency.SOON if is_overdue else Urgency.LATER,
        what=one.text,
        code=one.assessment.code,
        href=url_for("risk.show", assessment_id=one.assessment_id),
        why=f"{own}, {when}. {one.assessment.title}",
        act=finish if may_finish(person, one) else None,
    )


def _waits_for_approval(now: AssessmentNow) -> Duty:
    return Duty(
        urgency=Urgency.SOON,
        what=now.assessment.title,
        code=now.assessment.code,
        href=url_for("risk.show", assessment_id=now.assessment.id, version=now.in_hand and now.in_hand.number),
        why="Its assessment waits for approval",
        act=OfferedAct("Read and approve", url_for("risk.approve", assessment_id=now.assessment.id)),
        needed=Permission.APPROVE_ASSESSMENT,
    )


def _out_of_date(now: AssessmentNow) -> Duty:
    href = url_for("risk.show", assessment_id=now.assessment.id)
    return Duty(
        urgency=Urgency.SOON,
        what=now.assessment.title,
        code=now.assessment.code,
        href=href,
        why=f"Assessment out of date: {now.reasons[0]}",
        act=OfferedAct("See why", href),
        needed=Permission.KEEP_ASSESSMENTS,
    )


def _not_assessed(what: str, found: Sequence[ProcessNow | ProductNow], argument: str) -> Duty:
    named = ", ".join(one.name for one in found[:MOST_NAMED])
    more = f" and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
    href = url_for("risk.index", show="unassessed")
    only: dict[str, Any] = {argument: found[0].id}
    return Duty(
        urgency=Urgency.LATER,
        what=what,
        code="",
        href=href,
        why=f"{named}{more}",
        act=OfferedAct("Assess", href if len(found) > 1 else url_for("risk.add", **only)),
        needed=Permission.KEEP_ASSESSMENTS,
    )
