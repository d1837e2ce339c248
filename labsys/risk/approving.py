"""From a written version to one that holds: submit, approve, send back; and withdrawing what no longer applies."""

from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, may, require
from labsys.records import queries as record
from labsys.risk import rules
from labsys.risk.models import Assessment, State, Version
from labsys.risk.rules import AssessmentRefused
from labsys.risk.service import live_or_raise
from labsys.timetable.local_time import to_local


@act
def submit(act: Act, *, assessment_id: int) -> Version:
    """Send the version in hand for approval.

    Raises NotPermitted, NotFound or AssessmentRefused, which names all that is missing.
    """
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    assessment = live_or_raise(act.session, assessment_id)
    version = assessment.newest
    rules.check_open(version)
    today = to_local(act.now, zone=record.zone(act.session)).date()
    rules.check_complete(version, kind=assessment.kind, today=today)
    version.state, version.submitted_at = State.WAITING, act.now
    act.tell("assessment.submitted", about=version, facts={"version": version.number, "edition": version.edition})
    return version


@act
def approve(
    act: Act,
    *,
    assessment_id: int,
    edition: int | None = None,
    outside_name: str = "",
    outside_organisation: str = "",
    because: str = "",
) -> Version:
    """Approve the version that waits, or put down that somebody from outside has; it supersedes the one before.

    The assessor's own approval needs a reason. Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(act.actor, Permission.APPROVE_ASSESSMENT)
    assessment = live_or_raise(act.session, assessment_id)
    version = assessment.newest
    rules.check_waiting(version)
    rules.check_edition(version, edition=edition)
    rules.check_approval(
        assessor_id=version.assessor_id,
        actor_id=act.actor.id,
        outside_name=outside_name,
        outside_organisation=outside_organisation,
        because=because,
    )
    is_own = act.actor.id == version.assessor_id and not outside_name
    before = assessment.approved
    if before is not None:
        before.state = State.SUPERSEDED
    version.state, version.approved_at, version.approved_by_id = State.APPROVED, act.now, act.actor.id
    version.outside_approver, version.outside_organisation = outside_name, outside_organisation
    version.own_approval_because = because if is_own else ""
    facts = {
        "version": version.number,
        "edition": version.edition,
        "outside": [outside_name, outside_organisation],
        "own_because": version.own_approval_because,
        "supersedes": before.number if before else None,
    }
    act.tell("assessment.approved", about=version, facts=facts)
    return version


@act
def send_back(act: Act, *, assessment_id: int, because: str) -> Version:
    """Send a version that waits back to its assessor, who may also take it back. Raises NotPermitted or NotFound.

    Raises AssessmentRefused where it does not wait.
    """
    version = live_or_raise(act.session, assessment_id).newest
    is_own = act.actor.id == version.assessor_id
    require(act.actor, Permission.KEEP_ASSESSMENTS if is_own else Permission.APPROVE_ASSESSMENT)
    rules.check_waiting(version)
    version.state, version.sent_back_at, version.sent_back_by_id = State.SENT_BACK, act.now, act.actor.id
    version.sent_back_because = because
    act.tell("assessment.sent_back", about=version, facts={"version": version.number, "because": because})
    return version


@act
def withdraw(act: Act, *, assessment_id: int, because: str) -> Assessment:
    """Withdraw an assessment: its subject is not assessed any more. One that was ever approved needs an approver.

    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    assessment = live_or_raise(act.session, assessment_id)
    if assessment.approved is not None and not may(act.actor, Permission.APPROVE_ASSESSMENT):
        raise AssessmentRefused("It was approved: only somebody who may approve an assessment withdraws it.")
    assessment.withdrawn_at, assessment.withdrawn_by_id, assessment.withdrawn_because = act.now, act.actor.id, because
    act.tell("assessment.withdrawn", about=assessment, facts={"code": assessment.code, "because": because})
    return assessment
