"""What has to be done about an assessment: by whom, by when, and that it was done."""

from datetime import date
from enum import StrEnum

from labsys.people import queries as people
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, may, require
from labsys.risk import queries
from labsys.risk.models import Action
from labsys.risk.rules import AssessmentRefused
from labsys.risk.service import check_live


class ActionState(StrEnum):
    """How an action stands; derived from its days."""

    DONE = "done"
    OVERDUE = "overdue"
    OPEN = "open"


def state_of(action: Action, *, today: date) -> ActionState:
    """Say how an action stands. The day itself still counts as in time.

    >>> str(state_of(Action(due_on=date(2026, 3, 2)), today=date(2026, 3, 2)))
    'open'
    """
    if action.done_at is not None:
        return ActionState.DONE
    return ActionState.OVERDUE if action.due_on < today else ActionState.OPEN


@act
def add_action(act: Act, *, assessment_id: int, text: str, owner_id: int, due_on: date) -> Action:
    """Add an action with its owner and day. Raises NotPermitted, NotFound or AssessmentRefused."""
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    assessment = queries.assessment_or_raise(act.session, assessment_id)
    check_live(assessment)
    owner = people.person_or_raise(act.session, owner_id)
    if not owner.is_active:
        raise AssessmentRefused(f"{owner.name} has left the lab. Choose somebody who is here.", field="owner")
    action = Action(
        assessment_id=assessment.id,
        text=text,
        owner_id=owner.id,
        due_on=due_on,
        added_at=act.now,
        added_by_id=act.actor.id,
    )
    act.session.add(action)
    act.session.flush()
    facts = {"assessment": assessment.code, "text": text, "owner": owner.id, "due_on": due_on.isoformat()}
    act.tell("action.added", about=action, facts=facts)
    return action


@act
def finish_action(act: Act, *, action_id: int, note: str) -> Action:
    """Say that an action is done, and how: by its owner or by whoever keeps the assessments.

    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    action = queries.action_or_raise(act.session, action_id, lock=True)
    require_finish(act.actor, action)
    if action.done_at is not None:
        raise AssessmentRefused("It was finished already.")
    action.done_at, action.done_by_id, action.done_note = act.now, act.actor.id, note
    act.tell("action.finished", about=action, facts={"note": note})
    return action


def require_finish(person: Person, action: Action) -> None:
    """Raise NotPermitted unless the person may say that the action is done."""
    require(person, _to_finish(person, action))


def may_finish(person: Person, action: Action) -> bool:
    return may(person, _to_finish(person, action))


def _to_finish(person: Person, action: Action) -> Permission:
    return Permission.SEE_LAB if person.id == action.owner_id else Permission.KEEP_ASSESSMENTS
