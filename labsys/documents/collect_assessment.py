"""What the document of an assessment says: the version that holds, in words, and why it is out of date if it is."""

from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.database import DbSession
from labsys.documents.assessment import AssessmentData
from labsys.documents.collect import issue_of
from labsys.documents.rules import DocumentRefused
from labsys.people.models import Person
from labsys.records import queries as records
from labsys.records.queries import Head
from labsys.risk import queries
from labsys.risk.reading import reading
from labsys.timetable.local_time import to_local


def collect_assessment(
    session: DbSession, *, assessment_id: int, issued_by: Person, head: Head, public_url: str, now: datetime
) -> AssessmentData:
    """Read the version that holds. Raises NotFound, or DocumentRefused where none does."""
    lab = records.the_lab(session)
    zone = ZoneInfo(lab.timezone)
    assessment = queries.assessment_or_raise(session, assessment_id)
    approved = assessment.approved
    if assessment.withdrawn_at is not None or approved is None:
        raise DocumentRefused("Only an approved assessment goes on paper: one that does not hold could be followed.")
    standing = queries.standing_of(session, assessment, today=to_local(now, zone=zone).date(), zone=zone)
    return AssessmentData(
        issue=issue_of(
            lab,
            issued_by=issued_by,
            now=now,
            head=head,
            scan_address=f"{public_url}/c/{assessment.code}",
            scan_code=assessment.code,
        ),
        reading=reading(assessment, approved, zone=zone),
        reasons=standing.reasons,
    )
