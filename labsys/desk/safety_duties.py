"""Duties of the store, the register and the background: products, bottles, assessments and their actions, jobs."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import Any

from flask import url_for

from labsys.baths.recall.queries import RECALL
from labsys.baths.rules import inductions_lacked
from labsys.brought_in.queries import DECLARATION
from labsys.desk.competences import lapses_soon, witness_asked
from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.desk.matters import Matter, Topic
from labsys.equipment.queries import FAULT
from labsys.incidents.queries import INCIDENT
from labsys.offline.entries import counted as counted_entries
from labsys.people.models import Person
from labsys.people.permissions import Permission
from labsys.planning.asks_less import AsksLess
from labsys.products.queries import PRODUCT
from labsys.quantities import counted
from labsys.risk.actions import may_finish
from labsys.risk.models import Action
from labsys.risk.pages import ASSESSMENT
from labsys.risk.queries import AssessmentNow, ProcessNow, ProductNow
from labsys.risk.today import DueHere
from labsys.store.queries import BOTTLE, UNLABELLED
from labsys.timetable.local_time import day_words
from labsys.waste.queries import DISCHARGE

MOST_NAMED = 3


def of_matter(matter: Matter) -> Duty:
    """The duty that a matter of the store or the register is."""
    return _DUTY_OF[matter.topic](matter)


def _job(matter: Matter) -> Duty:
    act = OfferedAct("See the jobs", url_for("jobs.index"))
    return Duty(Urgency.NOW, "The lab's own work", act.href, matter.name, act, needed=Permission.SEE_JOBS)


def _unconfirmed(matter: Matter) -> Duty:
    act = OfferedAct("Confirm", PRODUCT.address(matter.row_id))
    why = "Its hazards wait to be confirmed against the SDS; mixed from only while an interim approval stands"
    needed, also = Permission.CONFIRM_PRODUCT, Permission.KEEP_STOCK
    return Duty(Urgency.LATER, matter.name, act.href, why, act, needed=needed, also=also)


def _past_date(matter: Matter) -> Duty:
    href = url_for("waste.throw_away", bottle_id=matter.row_id)
    act = OfferedAct("Throw it away", href, alone=f"Throw away {matter.code}")
    why = f"Past its date, {matter.on:%-d %b %Y}"
    return Duty(
        Urgency.LATER, matter.name, BOTTLE.address(matter.row_id), why, act, matter.code, needed=Permission.KEEP_STOCK
    )


def _recalled(matter: Matter) -> Duty:
    act = OfferedAct("See what to do", RECALL.address(matter.row_id), alone="Your work: see what to do")
    return Duty(Urgency.YOURS, "Your work may be faulty", act.href, matter.name, act)


def _recall(matter: Matter) -> Duty:
    act = OfferedAct("See to it", RECALL.address(matter.row_id), alone="See to the recall")
    needed, also = Permission.KEEP_BATHS, Permission.TEST_BATH
    return Duty(Urgency.SOON, "Open recall", act.href, matter.name, act, needed=needed, also=also)


def _set_apart(matter: Matter) -> Duty:
    act = OfferedAct("Decide", BOTTLE.address(matter.row_id), alone=f"Decide about {matter.code}")
    why = "In quarantine: somebody else than who set it apart says whether it may be used"
    needed, also = Permission.RELEASE_WASTE, Permission.KEEP_STOCK
    return Duty(Urgency.LATER, matter.name, act.href, why, act, matter.code, needed=needed, also=also)


def _unlabelled(matter: Matter) -> Duty:
    act = OfferedAct("Say what it is", UNLABELLED.address(matter.row_id), alone=f"Say what {matter.code} is")
    why = f"Without a label, in quarantine: {matter.name}"
    return Duty(Urgency.SOON, "Bottle not known", act.href, why, act, matter.code, needed=Permission.RELEASE_WASTE)


def _short(matter: Matter) -> Duty:
    act = OfferedAct("Shopping list", url_for("forecast.shopping"), alone=f"{matter.name} runs short")
    told = f"By the forecast of {day_words(date.fromisoformat(matter.code))}"
    why = f"{told} too little is left for what will be mixed, from {matter.on:%-d %b %Y} at the earliest"
    return Duty(Urgency.SOON, matter.name, PRODUCT.address(matter.row_id), why, act, needed=Permission.KEEP_STOCK)


def _open_incident(matter: Matter) -> Duty:
    act = OfferedAct("See to it", INCIDENT.address(matter.row_id), alone="See to the incident")
    why = "Open: nobody has said yet what was changed"
    return Duty(Urgency.SOON, f"Incident: {matter.name}", act.href, why, act, needed=Permission.KEEP_INCIDENTS)


def _talks(matter: Matter) -> Duty:
    """Read for the safety adviser alone, so that whoever oversees the lab does not see it; nobody is named."""
    count = matter.row_id
    why = "Somebody asks for a talk" if count == 1 else f"{count} people ask for a talk"
    act = OfferedAct("See who", url_for("confidence.index"), alone="In confidence: see who")
    return Duty(Urgency.SOON, "In confidence", act.href, why, act)


def _discharge(matter: Matter) -> Duty:
    act = OfferedAct("Answer for it", DISCHARGE.address(matter.row_id), alone="Answer for a discharge without consent")
    why = "Went down the sink without a consent; nobody has answered for it"
    return Duty(Urgency.NOW, matter.name, act.href, why, act, needed=Permission.KEEP_SEWER)


def _uncleared(matter: Matter) -> Duty:
    person_id, name = matter.row_id, matter.code
    act = OfferedAct("Sign off", url_for("inductions.sign_off", person=person_id), alone=f"Sign off {name}")
    why = f"Logged work on {matter.on:%-d %b %Y} without {inductions_lacked(matter.name)}"
    page = url_for("inductions.person", person_id=person_id)
    return Duty(Urgency.NOW, name, page, why, act, needed=Permission.SIGN_OFF)


def _declared(matter: Matter) -> Duty:
    href = url_for("brought_in.decide", declaration_id=matter.row_id)
    act = OfferedAct("Decide", href, alone=f"Decide about {matter.name}")
    why = f"Somebody wants to bring it on {matter.on:%-d %b %Y}; nobody has decided"
    page = DECLARATION.address(matter.row_id)
    return Duty(Urgency.SOON, matter.name, page, why, act, needed=Permission.DECIDE_CHEMICAL)


def _overstayed(matter: Matter) -> Duty:
    act = OfferedAct("See to it", DECLARATION.address(matter.row_id), alone=f"See to {matter.name}")
    why = f"A guest bottle past its last day, {matter.on:%-d %b %Y}"
    return Duty(Urgency.SOON, matter.name, act.href, why, act, matter.code, needed=Permission.DECIDE_CHEMICAL)


def _fault(matter: Matter) -> Duty:
    act = OfferedAct("Clear it", FAULT.address(matter.row_id), alone=f"Clear the fault of {matter.name}")
    why = f"Reported: {matter.code}".strip()
    return Duty(Urgency.SOON, matter.name, act.href, why, act, needed=Permission.KEEP_EQUIPMENT)


def _ungranted(matter: Matter) -> Duty:
    act = OfferedAct("Name the first", url_for("competences.index"), alone=f"{matter.name}: name who is the first")
    why = f"Nobody here can grant: {matter.name}. Who lacks it may not do what asks for it"
    return Duty(Urgency.SOON, "Competences", act.href, why, act, needed=Permission.NAME_FIRST_COMPETENT)


def _kept(matter: Matter) -> Duty:
    act = OfferedAct("See what it is", url_for("offline.everybodys"), alone="See what was entered without a network")
    why = f"{counted_entries(matter.row_id)} could not be taken over, or nobody knows whose it is"
    needed, also = Permission.BOOK_FOR_OTHERS, Permission.KEEP_INCIDENTS
    return Duty(Urgency.SOON, "Entered without a network", act.href, why, act, needed=needed, also=also)


def _late_use(matter: Matter) -> Duty:
    act = OfferedAct("Accept or refuse", url_for("baths.late_uses"), alone="Accept or refuse late uses")
    why = f"{counted(matter.row_id, 'use')} told after the bath was dumped"
    return Duty(Urgency.SOON, "Late uses", act.href, why, act, needed=Permission.KEEP_BATHS)


def _labels(matter: Matter) -> Duty:
    why = "1 label waits to be printed" if matter.row_id == 1 else f"{matter.row_id} labels wait to be printed"
    act = OfferedAct("Print", url_for("documents.labels"), alone="Print the labels that wait")
    return Duty(Urgency.LATER, "Labels", act.href, why, act, needed=Permission.KEEP_BATHS)


def _wash(matter: Matter) -> Duty:
    page = url_for("proving.wash", line_id=matter.row_id)
    act = OfferedAct("Test it", url_for("proving.test_wash", line_id=matter.row_id), alone=f"Wash of {matter.name}")
    if matter.code:
        why = f"Not washed enough by the test of {matter.on:%-d %b %Y}: look at the wash, then test again"
        return Duty(Urgency.NOW, f"Wash of {matter.name}", page, why, act, needed=Permission.TEST_BATH)
    why = f"Test of the wash due: the last was on {matter.on:%-d %b %Y}"
    return Duty(Urgency.LATER, f"Wash of {matter.name}", page, why, act, needed=Permission.TEST_BATH)


def _safelight(matter: Matter) -> Duty:
    act = OfferedAct("Test it", url_for("proving.test_safelight"), alone=f"Safelight at {matter.name}")
    page = url_for("proving.safelights")
    if matter.code:
        why = f"Not safe by the test of {matter.on:%-d %b %Y}: change the lamp, its filter or the distance"
        return Duty(Urgency.SOON, f"Safelight at {matter.name}", page, why, act, needed=Permission.TEST_BATH)
    why = f"Test due: the last was on {matter.on:%-d %b %Y}"
    return Duty(Urgency.LATER, f"Safelight at {matter.name}", page, why, act, needed=Permission.TEST_BATH)


_DUTY_OF: dict[Topic, Callable[[Matter], Duty]] = {
    Topic.JOB: _job,
    Topic.TALK: _talks,
    Topic.UNCONFIRMED: _unconfirmed,
    Topic.RECALLED: _recalled,
    Topic.RECALL: _recall,
    Topic.UNLABELLED: _unlabelled,
    Topic.SET_APART: _set_apart,
    Topic.PAST_DATE: _past_date,
    Topic.SHORT: _short,
    Topic.DISCHARGE: _discharge,
    Topic.UNCLEARED: _uncleared,
    Topic.INCIDENT: _open_incident,
    Topic.DECLARED: _declared,
    Topic.OVERSTAYED: _overstayed,
    Topic.UNGRANTED: _ungranted,
    Topic.LABELS: _labels,
    Topic.WITNESS: witness_asked,
    Topic.LAPSING: lapses_soon,
    Topic.KEPT: _kept,
    Topic.LATE_USE: _late_use,
    Topic.FAULT: _fault,
    Topic.WASH: _wash,
    Topic.SAFELIGHT: _safelight,
}


def of_assessments(due: DueHere, *, person: Person, today: date) -> Iterator[Duty]:
    for action in due.actions:
        yield _action(action, person=person, today=today)
    for assessed in due.waiting:
        yield _waits_for_approval(assessed)
    for assessed in due.out_of_date:
        yield _out_of_date(assessed)
    if due.processes:
        yield _not_assessed("Processes nobody has assessed", due.processes, "process_id")
    if due.products:
        yield _not_assessed("Products not assessed as supplied", due.products, "product_id")


def _action(action: Action, *, person: Person, today: date) -> Duty:
    is_overdue = action.due_on < today
    whose, day = action.owner.name, day_words(action.due_on)
    if action.owner_id == person.id:
        when = f"Yours, overdue since {day}." if is_overdue else f"Yours, by {day}."
    else:
        when = f"For {whose}, overdue since {day}." if is_overdue else f"For {whose}, by {day}."
    finish = OfferedAct("It is done", url_for("risk.finish_action", action_id=action.id), alone=f"Done: {action.text}")
    return Duty(
        urgency=Urgency.SOON if is_overdue else Urgency.LATER,
        what=action.text,
        code=action.assessment.code,
        href=ASSESSMENT.address(action.assessment_id),
        why=f"{when} {action.assessment.title}",
        act=finish if may_finish(person, action) else None,
    )


def _waits_for_approval(now: AssessmentNow) -> Duty:
    assessment, version = now.assessment, now.in_hand and now.in_hand.number
    return Duty(
        urgency=Urgency.SOON,
        what=assessment.title,
        code=assessment.code,
        href=url_for("risk.show", assessment_id=assessment.id, version=version),
        why="Its assessment waits for approval",
        act=OfferedAct("Read and approve", url_for("risk.approve", assessment_id=assessment.id)),
        needed=Permission.APPROVE_ASSESSMENT,
    )


def _out_of_date(now: AssessmentNow) -> Duty:
    assessment, why = now.assessment, f"Assessment out of date: {now.reasons[0]}"
    act = OfferedAct("See why", ASSESSMENT.address(assessment.id))
    needed = Permission.KEEP_ASSESSMENTS
    return Duty(Urgency.SOON, assessment.title, act.href, why, act, assessment.code, needed=needed)


def asks_less(less: AsksLess) -> Duty:
    act = OfferedAct("Decide", ASSESSMENT.address(less.assessment_id), alone=f"Decide what {less.code} asks for")
    why = " ".join(less.questions)
    return Duty(Urgency.SOON, less.title, act.href, why, act, less.code, needed=Permission.APPROVE_ASSESSMENT)


def _not_assessed(what: str, lacking: Sequence[ProcessNow | ProductNow], argument: str) -> Duty:
    why = ", ".join(each.name for each in lacking[:MOST_NAMED])
    if len(lacking) > MOST_NAMED:
        why = f"{why} and {len(lacking) - MOST_NAMED} more"
    href = url_for("risk.index", show="unassessed")
    only: dict[str, Any] = {argument: lacking[0].id}
    act = OfferedAct("Assess", href if len(lacking) > 1 else url_for("risk.add", **only))
    return Duty(Urgency.LATER, what, href, why, act, needed=Permission.KEEP_ASSESSMENTS)
