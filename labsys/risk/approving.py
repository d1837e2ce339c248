"""From a written version to one that holds: submit, approve, send back; and withdrawing what no longer applies."""

from datetime import datetime

from labsys.database import DbSession
from labsys.people.models import Person
from labsys.people.permissions import Permission, may, require
from labsys.records import queries as record
from labsys.records import service as records
from labsys.records.acts import act
from labsys.risk import queries, rules
from labsys.risk.models import Assessment, State, Version
from labsys.risk.rules import AssessmentRefused
from labsys.risk.service import check_live
from labsys.timetable.local_time import to_local


@act
def submit(
    session: DbSession, *, actor: Person, assessment_id: int, now: datetime, submission_key: str | None = None
) -> Version:
    """Send the version in hand for approval.

    Raises NotPermitted, NotFound or AssessmentRefused, which names all that is missing.
    """
    require(actor, Permission.KEEP_ASSESSMENTS)
    assessment, version = _newest(session, assessment_id)
    rules.check_open(version)
    today = to_local(now, zone=record.zone(session)).date()
    rules.check_complete(version, kind=assessment.kind, today=today)
    version.state, version.submitted_at = State.WAITING, now
    facts = {"version": version.number, "edition": version.edition}
    records.append(session, act="assessment.submitted", about=version, at=now, actor=actor, facts=facts)
    return version


@act
def approve(
    session: DbSession,
    *,
    actor: Person,
    assessment_id: int,
    edition: int | None = None,
    outside_name: str = "",
    outside_organisation: str = "",
    because: str = "",
    now: datetime,
    submission_key: str | None = None,
) -> Version:
    """Approve the version that waits, or put down that somebody from outside has; it supersedes the one before.

    The assessor's own approval needs a reason. Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(actor, Permission.APPROVE_ASSESSMENT)
    assessment, version = _newest(session, assessment_id)
    rules.check_waiting(version)
    rules.check_edition(version, edition=edition)
    rules.check_approval(
        assessor_id=version.assessor_id,
        actor_id=actor.id,
        outside_name=outside_name,
        outside_organisation=outside_organisation,
        because=because,
    )
    is_own = actor.id == version.assessor_id and not outside_name
    before = assessment.approved
    if before is not None:
        before.state = State.SUPERSEDED
    version.state, version.approved_at, version.approved_by_id = State.APPROVED, now, actor.id
    version.outside_approver, version.outside_organisation = outside_name, outside_organisation
    version.own_approval_because = because if is_own else ""
    facts = {
        "version": version.number,
        "edition": version.edition,
        "outside": [outside_name, outside_organisation],
        "own_because": version.own_approval_because,
        "supersedes": before.number if before else None,
    }
    records.append(session, act="assessment.approved", about=version, at=now, actor=actor, facts=facts)
    return version


@act
def send_back(
    session: DbSession,
    *,
    actor: Person,
    assessment_id: int,
    because: str,
    now: datetime,
    submission_key: str | None = None,
) -> Version:
    """Send a version that waits back to its assessor, who may also take it back. Raises NotPermitted or NotFound.

    Raises AssessmentRefused where it does not wait.
    """
    _, version = _newest(session, assessment_id)
    require(actor, Permission.KEEP_ASSESSMENTS if actor.id == version.assessor_id else Permission.APPROVE_ASSESSMENT)
    rules.check_waiting(version)
    version.state, version.sent_back_at, version.sent_back_by_id = State.SENT_BACK, now, actor.id
    version.sent_back_because = because
    facts = {"version": version.number, "because": because}
    records.append(session, act="assessment.sent_back", about=version, at=now, actor=actor, facts=facts)
    return version


@act
def withdraw(
    session: DbSession,
    *,
    actor: Person,
    assessment_id: int,
    because: str,
    now: datetime,
    submission_key: str | None = None,
) -> Assessment:
    """Withdraw an assessment: its subject is not assessed any more. One that was ever approved needs an approver.

    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(actor, Permission.KEEP_ASSESSMENTS)
    assessment, _ = _newest(session, assessment_id)
    if assessment.approved is not None and not may(actor, Permission.APPROVE_ASSESSMENT):
        raise AssessmentRefused("It was approved: only somebody who may approve an assessment withdraws it.")
    assessment.withdrawn_at, assessment.withdrawn_by_id, assessment.withdrawn_because = now, actor.id, because
    facts = {"code": assessment.code, "because": because}
    records.append(session, act="assessment.withdrawn", about=assessment, at=now, actor=actor, facts=facts)
    return assessment


def _newest(session: DbSession, assessment_id: int) -> tuple[Assessment, Version]:
    assessment = queries.assessment_or_raise(session, assessment_id, lock=True)
    check_live(assessment)
    return assessment, assessment.newest
