"""The one clearance gate: booking, arrival, logging and the session sheet all ask here, in bulk."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, Protocol

from flask import Flask, current_app, has_app_context
from sqlalchemy import exists, func, or_, select

from labsys.database import DbSession
from labsys.inductions import rules
from labsys.inductions.models import Hazard, Induction, InductionVersion, Requirement, SignOff, Withdrawal
from labsys.inductions.rules import Clearance, Subject
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.places.models import RoomKind, Station
from labsys.processes.models import Process, ProcessStep
from labsys.products.models import Product, ProductDilution, ProductIngredient
from labsys.records import queries as records

_TEACHING = "labsys-planned-teaching"

# In a query over products: whether one is weighed out, and whether it is diluted, which one of no stated dilution is.
_IS_POWDER = Product.powder_mg_per_l.is_not(None)
_IS_DILUTED = or_(
    ~exists().where(ProductDilution.product_id == Product.id),
    exists().where(ProductDilution.product_id == Product.id, ProductDilution.water_parts_milli > 0),
)

_REQUIRED = (
    select(
        *(Requirement.induction_id, Induction.name, Induction.how_to_get, Requirement.station_id),
        *(func.coalesce(Station.name, ""), Requirement.material, Requirement.hazard),
    )
    .select_from(Requirement)
    .join(Induction)
    .outerjoin(Station)
    .order_by(Requirement.induction_id, Requirement.id)
)
_EDITION = (
    *(InductionVersion.induction_id, InductionVersion.number),
    *(InductionVersion.must_repeat, InductionVersion.issued_at),
)


def clearances(
    session: DbSession,
    *,
    person_ids: Collection[int],
    subjects: Collection[Subject],
    at: datetime,
    now: datetime | None = None,
    requirements: Sequence[rules.Required] | None = None,
) -> dict[tuple[int, Subject], Clearance]:
    """Say for every person and subject whether they are clear at an instant; three queries, however many they are.

    `now` is when the answer is read, where that is not `at`: what lapses in between is then said as still to come.
    `requirements` are those in force, where they are read already.
    """
    requirements = requirements_in_force(session) if requirements is None else requirements
    induction_ids = {requirement.induction_id for requirement in requirements}
    return rules.clearance(
        person_ids=set(person_ids),
        subjects=set(subjects),
        requirements=requirements,
        editions=editions(session, induction_ids=induction_ids),
        sign_offs=sign_offs(session, person_ids=person_ids, induction_ids=induction_ids),
        at=at,
        now=now or at,
        zone=records.zone(session),
    )


def require_clear(
    act: Act, *, person: Person, subjects: Collection[Subject], at: datetime, begins_at: datetime | None = None
) -> None:
    """Step: raise NotCleared unless the person is clear for every subject. It speaks to the actor, who may be another.

    What is missing for several subjects is named once, with all it is needed for. `begins_at` lets pass what the
    person is to be taught before that: enough to book, never to begin.
    """
    missing = missing_for(act.session, person=person, subjects=subjects, at=at, now=act.now)
    if missing and begins_at is not None:
        planned = to_be_taught(act.session, person=person, before=begins_at, now=act.now)
        missing = tuple(lacked for lacked in missing if lacked.induction_id not in planned)
    if missing:
        raise rules.NotCleared(who=None if act.actor.id == person.id else person.name, missing=missing)


def missing_for(
    session: DbSession, *, person: Person, subjects: Collection[Subject], at: datetime, now: datetime
) -> tuple[rules.Missing, ...]:
    """What one person lacks for all these subjects at an instant, each induction once."""
    answers = clearances(session, person_ids=[person.id], subjects=subjects, at=at, now=now)
    return rules.joined(lacked for subject in subjects for lacked in answers[person.id, subject].missing)


class PlannedTeaching(Protocol):
    """Says which inductions somebody is to be taught after `now` and before another instant."""

    def __call__(self, session: DbSession, *, person: Person, before: datetime, now: datetime) -> set[int]: ...


def register_teaching(app: Flask, planned: PlannedTeaching) -> None:
    """Let the application know who is asked about teaching that is planned: a room below this one."""
    app.extensions[_TEACHING] = planned


def to_be_taught(session: DbSession, *, person: Person, before: datetime, now: datetime) -> set[int]:
    """The inductions somebody is to be taught before an instant; none where nobody can be asked."""
    if not has_app_context() or _TEACHING not in current_app.extensions:
        return set()
    planned: PlannedTeaching = current_app.extensions[_TEACHING]
    return planned(session, person=person, before=before, now=now)


def subjects_of(
    *, stations: Collection[Station], process: Process | None, every_work: Iterable[Subject]
) -> list[Subject]:
    """What time at places already read asks for."""
    rooms = {station.id: station.room.kind for station in stations}
    return subjects_at(rooms, work=work_of(process) if process else None, every_work=every_work)


def subjects_at(rooms: Mapping[int, RoomKind], *, work: Subject | None, every_work: Iterable[Subject]) -> list[Subject]:
    """What time at places, each with the kind of its room, asks for: every place, and the work with its chemicals.

    Work not decided yet may be any: `every_work` of the lab counts, unless all the places are on the dry side.
    """
    places = [Subject(station_id=station_id) for station_id in sorted(rooms)]
    if work is not None:
        return [*places, work]
    if set(rooms.values()) == {RoomKind.DRY_SIDE}:
        return places
    return [*places, *(replace(possible, is_decided=False) for possible in every_work)]


def requirements_in_force(session: DbSession) -> list[rules.Required]:
    """All requirements, the earliest first."""
    return [rules.Required(*row) for row in session.execute(_REQUIRED)]


def requirements_and_editions(session: DbSession) -> tuple[list[rules.Required], list[rules.Edition]]:
    """All requirements, and all versions of the inductions they ask for; one query for both."""
    query = _REQUIRED.join(InductionVersion, InductionVersion.induction_id == Induction.id).add_columns(*_EDITION)
    rows = [(rules.Required(*row[:7]), rules.Edition(*row[7:])) for row in session.execute(query)]
    return list(dict.fromkeys(required for required, _ in rows)), list(dict.fromkeys(edition for _, edition in rows))


def editions(session: DbSession, *, induction_ids: Collection[int]) -> list[rules.Edition]:
    """All versions of these inductions."""
    query = select(*_EDITION).where(InductionVersion.induction_id.in_(induction_ids))
    return [rules.Edition(*row) for row in session.execute(query)]


def sign_offs(
    session: DbSession, *, person_ids: Collection[int] | None = None, induction_ids: Collection[int]
) -> list[rules.Signed]:
    """All sign-offs of these people, or of everybody, for these inductions, withdrawn ones among them."""
    query = (
        select(
            SignOff.person_id,
            InductionVersion.induction_id,
            InductionVersion.number,
            SignOff.taught_at,
            SignOff.lapses_at,
            SignOff.confirmed_at,
            Withdrawal.withdrawn_at,
            SignOff.recorded_at,
        )
        .join(InductionVersion, SignOff.version_id == InductionVersion.id)
        .outerjoin(Withdrawal, Withdrawal.sign_off_id == SignOff.id)
        .where(InductionVersion.induction_id.in_(induction_ids))
    )
    if person_ids is not None:
        query = query.where(SignOff.person_id.in_(person_ids))
    return [rules.Signed(*row) for row in session.execute(query)]


def hazards_of_products(products: Iterable[Product]) -> frozenset[Hazard]:
    """Hazards of products already read, as they stand in the chemical store."""
    return frozenset().union(
        *(
            rules.hazards_of(
                h_codes=product.h_codes,
                classifications=[row.classification for row in product.ingredients],
                is_powder=product.powder_mg_per_l is not None,
                is_diluted=not product.dilutions or any(row.water_parts_milli for row in product.dilutions),
            )
            for product in products
        )
    )


def hazards_of_process(process: Process) -> frozenset[Hazard]:
    """Hazards of a process already read: those of the products of its steps."""
    return hazards_of_products(step.product for step in process.steps if step.product is not None)


def work_of(process: Process) -> Subject:
    """A process already read, as the gate is asked about it."""
    return Subject(material=process.material, hazards=hazards_of_process(process))


def mixing_of(product: Product) -> Subject:
    """Mixing from a product already read, as the gate is asked about it."""
    return Subject(hazards=hazards_of_products([product]))


def hazards_by_product(session: DbSession, *, product_ids: Collection[int]) -> dict[int, frozenset[Hazard]]:
    """Hazards of many products in one query."""
    query = (
        select(Product.id, Product.h_codes, ProductIngredient.classification, _IS_POWDER, _IS_DILUTED)
        .outerjoin(ProductIngredient)
        .where(Product.id.in_(product_ids))
    )
    return _gathered((row[0], row[1], row[2], row[3], row[4]) for row in session.execute(query))


def work_by_process(session: DbSession, *, process_ids: Collection[int] | None = None) -> dict[int, Subject]:
    """Many processes, or all there are, as the gate is asked about them, in one query; water alone is no hazard."""
    query = (
        select(Process.id, Process.material, Product.h_codes, ProductIngredient.classification, _IS_POWDER, _IS_DILUTED)
        .select_from(Process)
        .outerjoin(ProcessStep, ProcessStep.process_id == Process.id)
        .outerjoin(Product, ProcessStep.product_id == Product.id)
        .outerjoin(ProductIngredient, ProductIngredient.product_id == Product.id)
        .order_by(Process.id)
    )
    if process_ids is not None:
        query = query.where(Process.id.in_(process_ids))
    rows = session.execute(query).all()
    hazards = _gathered((row[0], row[2], row[3], row[4], row[5]) for row in rows)
    materials = {row.id: row.material for row in rows}
    return {key: Subject(material=materials[key], hazards=hazards[key]) for key in materials}


def _gathered(rows: Iterable[tuple[int, Any, Any, Any, Any]]) -> dict[int, frozenset[Hazard]]:
    """One set of hazards a key; outer joins leave texts empty, and no codes at all where there is no product."""
    by_key: dict[int, frozenset[Hazard]] = {}
    for key, h_codes, classification, is_powder, is_diluted in rows:
        if h_codes is None:
            hazards = frozenset[Hazard]()
        else:
            hazards = rules.hazards_of(
                h_codes=h_codes,
                classifications=[classification or ""],
                is_powder=bool(is_powder),
                is_diluted=bool(is_diluted),
            )
        by_key[key] = by_key.get(key, frozenset()) | hazards
    return by_key
