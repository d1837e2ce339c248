"""Issuing an assessment: one act, as those of `service`."""

from collections.abc import Mapping
from typing import Any

from labsys.documents import assessment
from labsys.documents.collect_assessment import collect_assessment
from labsys.documents.keeping import keep_document
from labsys.documents.rules import DocumentKind
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records import queries as records
from labsys.records.models import IssuedDocument


@act
def issue_assessment(act: Act, *, assessment_id: int, public_url: str) -> IssuedDocument:
    """Issue the version of an assessment that holds. Raises NotPermitted, NotFound or DocumentRefused."""
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    head = records.head(act.session)
    data = collect_assessment(
        act.session, assessment_id=assessment_id, issued_by=act.actor, head=head, public_url=public_url, now=act.now
    )
    return keep_document(
        act,
        kind=DocumentKind.ASSESSMENT,
        title=data.title,
        parameters=assessment_parameters(assessment_id, version=data.reading.number),
        content=assessment.draw(data),
        head=head,
    )


def assessment_parameters(assessment_id: int, *, version: int) -> Mapping[str, Any]:
    """What the document of an assessment is made of, besides the moment."""
    return {"assessment": assessment_id, "version": version}
