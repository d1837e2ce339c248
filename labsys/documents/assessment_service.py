"""Issuing an assessment: one act, as those of `service`."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from labsys.database import DbSession
from labsys.documents import assessment
from labsys.documents.collect_assessment import collect_assessment
from labsys.documents.rules import DocumentKind
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.records import queries as records
from labsys.records import service as record
from labsys.records.acts import act
from labsys.records.models import IssuedDocument


@act
def issue_assessment(
    session: DbSession,
    *,
    actor: Person,
    assessment_id: int,
    public_url: str,
    now: datetime,
    submission_key: str | None = None,
) -> IssuedDocument:
    """Issue the version of an assessment that holds. Raises NotPermitted, NotFound or DocumentRefused."""
    require(actor, Permission.KEEP_ASSESSMENTS)
    head = records.head(session)
    data = collect_assessment(
        session, assessment_id=assessment_id, issued_by=actor, head=head, public_url=public_url, now=now
    )
    return record.keep_document(
        session,
        kind=DocumentKind.ASSESSMENT,
        title=data.title,
        parameters=assessment_parameters(assessment_id, version=data.reading.number),
        content=assessment.draw(data),
        head=(head.number, head.hash),
        actor=actor,
        at=now,
    )


def assessment_parameters(assessment_id: int, *, version: int) -> Mapping[str, Any]:
    """What the document of an assessment is made of, besides the moment."""
    return {"assessment": assessment_id, "version": version}
