"""Approved assessments that ask people to wear less than is worked out: the question that waits for the adviser."""

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.database import DbSession
from labsys.hazards.protective import Task
from labsys.planning.facts import advice_on
from labsys.planning.queries import dangers_of
from labsys.processes.models import Process, ProcessStep
from labsys.products.hazards import hazards_of
from labsys.products.models import Product
from labsys.risk.protection import assessed_process
from labsys.risk.queries import AssessmentNow


@dataclass(frozen=True)
class AsksLess:
    """An assessment, and for each part of the body for which it asks less, both sides in words."""

    assessment_id: int
    code: str
    title: str
    questions: tuple[str, ...]


def assessments_that_ask_less(session: DbSession, approved: Collection[AssessmentNow]) -> list[AsksLess]:
    """Those of the approved assessments of processes whose rules are overruled by what is worked out, in one query."""
    of_process = {now.assessment.process_id: now for now in approved if now.assessment.process_id is not None}
    products = joinedload(Process.steps).joinedload(ProcessStep.product)
    query = (
        select(Process)
        .where(Process.id.in_(of_process))
        .options(
            products.joinedload(Product.ingredients),
            products.joinedload(Product.dilutions),
            products.joinedload(Product.hazard_choices),
        )
        .order_by(Process.id)
    )
    found = []
    for process in session.execute(query).unique().scalars():
        now = of_process[process.id]
        if questions := _questions(process, now):
            found.append(AsksLess(now.assessment.id, now.assessment.code, now.assessment.title, questions))
    return found


def _questions(process: Process, now: AssessmentNow) -> tuple[str, ...]:
    """What plans for the process would ask, whatever the size of the work."""
    used = [(step.product, step.water_parts_milli or 0) for step in process.steps if step.product is not None]
    dangers = [dangers_of(hazards_of(product, water_parts_milli=milli)) for product, milli in used]
    assessed = assessed_process(now)
    every = [assessed.settled(advice_on(dangers, task=task).protection).questions for task in _tasks(process)]
    return tuple(dict.fromkeys(question for questions in every for question in questions))


def _tasks(process: Process) -> tuple[Task, ...]:
    if any(step.product is not None and step.product.kind is SolutionKind.TONER for step in process.steps):
        return (Task.TONING,)
    return (Task.TANK,) if process.material is Material.FILM else (Task.TRAY, Task.LARGE_PRINT)
