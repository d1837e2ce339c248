"""Whether the work of a process is open to people under 18: what its approved assessment says, and what was told of it.

The one answer for every act that depends on it. Not assessed, not approved and out of date are all closed.
"""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import select

from labsys.database import DbSession
from labsys.people import queries as people
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.records.queries import get_or_raise
from labsys.risk.models import FindingsGiven, State, Under18, Version
from labsys.risk.queries import overview, process_assessed
from labsys.risk.rules import AssessmentRefused

_ANY_SUPERVISOR = ("supervisor", "adult", "staff")


@dataclass(frozen=True)
class OpenTo:
    """Whether a process is open to people under 18, and why not; `with_whom` only with them where it is said."""

    is_open: bool
    why_not: str = ""
    with_whom: str = ""
    version: Version | None = None


def open_to_under_18(session: DbSession, process_id: int, *, today: date, zone: ZoneInfo) -> OpenTo:
    """What the assessment of a process says of people under 18, as it stands."""
    assessed = process_assessed(session, process_id, today=today, zone=zone)
    version = assessed.approved if assessed else None
    if assessed is None or version is None:
        return OpenTo(False, "it has no approved assessment")
    if assessed.is_out_of_date:
        return OpenTo(False, "its assessment is out of date", version=version)
    match version.under_18:
        case Under18.YES:
            return OpenTo(True, version=version)
        case Under18.WITH:
            return OpenTo(True, with_whom=version.under_18_with, version=version)
        case Under18.NO:
            return OpenTo(False, "its assessment says no", version=version)
    return OpenTo(False, "its assessment does not say", version=version)


@dataclass(frozen=True)
class ToGive:
    """A process open to people under 18, and to whom what was found was given for somebody; empty where to nobody."""

    name: str
    version: Version
    given_to: str
    given_at: datetime | None


def findings_for(session: DbSession, *, person_id: int, today: date, zone: ZoneInfo) -> list[ToGive]:
    """What was found of every process open to people under 18, and what of it was given for somebody."""
    given = {
        row.version_id: row
        for row in session.execute(select(FindingsGiven).where(FindingsGiven.person_id == person_id)).scalars()
    }
    rows = []
    for now in overview(session, today=today, zone=zone).assessments:
        version, process_id = now.approved, now.assessment.process_id
        is_open = version is not None and not now.is_out_of_date and version.under_18 in (Under18.YES, Under18.WITH)
        if process_id is None or version is None or not is_open:
            continue
        told = given.get(version.id)
        rows.append(
            ToGive(now.assessment.title, version, told.given_to if told else "", told.given_at if told else None)
        )
    return rows


@act
def give_findings(act: Act, *, person_id: int, version_id: int, given_to: str) -> FindingsGiven:
    """Note that what an approved version found was given to who answers for somebody of school age.

    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(act.actor, Permission.KEEP_MEMBERSHIP)
    person = people.person_or_raise(act.session, person_id)
    version = get_or_raise(act.session, Version, version_id, "version")
    if version.state is not State.APPROVED:
        raise AssessmentRefused("That version does not hold. Give them the one that does.")
    if not given_to:
        raise AssessmentRefused("Enter whom it was given to.", field="given_to")
    row = FindingsGiven(
        person_id=person.id, version_id=version.id, given_to=given_to, given_at=act.now, given_by_id=act.actor.id
    )
    act.session.add(row)
    act.tell("assessment.findings_given", about=version)
    return row


def are_findings_given(session: DbSession, *, person_id: int, version_id: int) -> bool:
    query = select(FindingsGiven.id).where(FindingsGiven.person_id == person_id, FindingsGiven.version_id == version_id)
    return session.execute(query.limit(1)).first() is not None


def names_supervisor(with_whom: str, supervisor: Person) -> bool:
    """Whether an assessment's words mean this person: by name, by a role they hold, or any who supervises.

    Words that name nobody the lab knows mean nobody.
    """
    said = with_whom.casefold()
    names = (supervisor.name.casefold(), *supervisor.roles, *_ANY_SUPERVISOR)
    return any(name in said for name in names)
