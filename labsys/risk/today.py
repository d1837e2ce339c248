"""What of the assessments is due on the first page of a person."""

from dataclasses import dataclass, field
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from labsys.database import DbSession
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.risk import queries
from labsys.risk.models import Action
from labsys.risk.queries import AssessmentNow, ProcessNow, ProductNow

AHEAD = timedelta(days=14)  # from when an action is shown before its day: common practice, no source
MOST_ACTIONS = 20


@dataclass(frozen=True)
class DueHere:
    """Actions due, one's own or, for whoever approves, everybody's; and what wants writing or approving."""

    actions: list[Action]
    waiting: list[AssessmentNow] = field(default_factory=list)
    out_of_date: list[AssessmentNow] = field(default_factory=list)
    processes: list[ProcessNow] = field(default_factory=list)
    products: list[ProductNow] = field(default_factory=list)
    approved: list[AssessmentNow] = field(default_factory=list)


def due_here(session: DbSession, *, person: Person, today: date, zone: ZoneInfo) -> DueHere:
    """What is due for a person, in a fixed number of queries: one for those who write no assessments."""
    due_by = today + AHEAD
    if not may(person, Permission.KEEP_ASSESSMENTS):
        return DueHere(queries.actions_of(session, owner_id=person.id, due_by=due_by, limit=MOST_ACTIONS))
    overview = queries.overview(session, today=today, zone=zone, actions_by=due_by)
    sees_all = may(person, Permission.APPROVE_ASSESSMENT)
    return DueHere(
        actions=[action for action in overview.actions if sees_all or action.owner_id == person.id][:MOST_ACTIONS],
        waiting=[now for now in overview.assessments if now.is_waiting],
        out_of_date=[now for now in overview.assessments if now.is_out_of_date and now.in_hand is None],
        processes=overview.processes,
        products=overview.products,
        approved=[now for now in overview.assessments if now.approved is not None],
    )
