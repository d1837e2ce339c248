"""Writing and approving assessments in a small lab, without pages."""

from datetime import date
from typing import Any

from labsys.processes.models import Process
from labsys.risk import approving, service
from labsys.risk.models import AssessedSubstance, Assessment, Level, Residual, Route, Under18, Version, Who
from labsys.risk.rules import Content, Judgement
from tests.support.lab import SmallLab

REVIEW = date(2027, 3, 1)


def content(**changes: Any) -> Content:
    """All that has to be written before approval."""
    told: dict[str, Any] = {
        "task": "Film in a daylight tank.",
        "who": frozenset({Who.MEMBERS}),
        "how_many": 4,
        "routes": frozenset({Route.SKIN}),
        "frequency": "weekly",
        "duration": "20 min",
        "existing_controls": "Ventilation.",
        "glove_material": "nitrile",
        "has_surveillance": True,
        "first_aid": "Rinse. 20 minutes.",
        "residual": Residual.LOW,
        "residual_reason": "Hands stay out of it.",
        "under_18": Under18.YES,
        "review_on": REVIEW,
        "controls": ((Level.PRACTICE, "Lids on tanks."),),
    }
    return Content(**{**told, **changes})


def begin(lab: SmallLab, process: Process, *, role: str = "technician") -> Assessment:
    return service.assess_process(lab.act(role), process_id=process.id)


def begin_products(lab: SmallLab, *kinds: str, role: str = "technician", title: str = "") -> Assessment:
    return service.assess_products(
        lab.act(role), product_ids=[lab.ids[f"product {kind}"] for kind in kinds], title=title
    )


def write(lab: SmallLab, assessment: Assessment, *, role: str = "technician", **changes: Any) -> Version:
    return service.change_version(lab.act(role), assessment_id=assessment.id, content=content(**changes))


def judgement(row: AssessedSubstance, **changes: Any) -> Judgement:
    told: dict[str, Any] = {"substance_id": row.id, "amount": row.amount, "spread": row.spread}
    return Judgement(**{**told, **changes})


def submit(lab: SmallLab, assessment: Assessment, *, role: str = "technician") -> Version:
    return approving.submit(lab.act(role), assessment_id=assessment.id)


def approve(lab: SmallLab, assessment: Assessment, *, role: str = "safety adviser", **changes: Any) -> Version:
    return approving.approve(lab.act(role), assessment_id=assessment.id, **changes)


def approved(lab: SmallLab, process: Process, **changes: Any) -> Assessment:
    """An approved assessment of a process."""
    assessment = begin(lab, process)
    write(lab, assessment, **changes)
    submit(lab, assessment)
    approve(lab, assessment)
    return assessment
