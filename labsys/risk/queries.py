"""What pages, documents and other rooms read of assessments."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import groupby
from operator import attrgetter
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import BigInteger, Date, Integer, and_, case, exists, func, literal, null, or_, select, union_all
from sqlalchemy.orm import contains_eager, joinedload, selectinload

from labsys.database import DbSession
from labsys.incidents.queries import newest_of_process, newest_of_product
from labsys.people.models import Person, PersonRole, Role
from labsys.processes.models import Process, ProcessStep
from labsys.products.models import DataSheet, Product, ProductIngredient
from labsys.products.queries import FOR_WORKING_SOLUTION
from labsys.products.rules import NOT_CLASSIFIED
from labsys.records.errors import NotFound
from labsys.records.queries import get_or_raise
from labsys.risk.models import Action, AssessedSubstance, Assessment, State, SubjectKind, SubjectProduct, Version
from labsys.risk.review import Facts, SubstanceFacts, fingerprint, why_out_of_date


@dataclass(frozen=True)
class ProcessNow:
    """A process by name, and the digest of its steps as they stand."""

    id: int
    name: str
    fingerprint: str
    incident_at: datetime | None = None


@dataclass(frozen=True)
class ProductNow:
    """A product as its entries stand, and the issue date of the newest SDS there is of it."""

    id: int
    name: str
    version: int
    sds: date | None
    is_hazardous: bool
    incident_at: datetime | None = None


@dataclass(frozen=True)
class News:
    """What has happened outside this room since anything was assessed."""

    processes: dict[int, ProcessNow]
    products: dict[int, ProductNow]
    products_assessed: frozenset[int]


@dataclass(frozen=True)
class AssessmentNow:
    """An assessment as it stands: the version that holds if there is one, and the one being written if there is one.

    `reasons` say why the one that holds is out of date; `moved` what has changed since the other was filled in.
    """

    assessment: Assessment
    approved: Version | None
    in_hand: Version | None
    reasons: tuple[str, ...]
    moved: tuple[str, ...]

    @property
    def is_out_of_date(self) -> bool:
        return bool(self.reasons)

    @property
    def is_waiting(self) -> bool:
        return self.in_hand is not None and self.in_hand.state is State.WAITING

    @property
    def is_draft(self) -> bool:
        return self.in_hand is not None and self.in_hand.is_open


@dataclass(frozen=True)
class Overview:
    """Every live assessment as it stands, what nobody has assessed, and the actions due by the day asked for."""

    assessments: list[AssessmentNow]
    processes: list[ProcessNow]
    products: list[ProductNow]
    actions: list[Action]


def news(session: DbSession) -> News:
    """Read how processes and products stand now, with the newest SDS and the newest incident of each."""
    return News(*_things(session))


def overview(session: DbSession, *, today: date, zone: ZoneInfo, actions_by: date = date.min) -> Overview:
    """Every live assessment, what is out of date first, and the processes and products without one."""
    now = news(session)
    is_due = and_(Action.assessment_id == Assessment.id, Action.done_at.is_(None), Action.due_on <= actions_by)
    query = (
        select(Version, Action)
        .join(Version.assessment)
        .outerjoin(Action, is_due)
        .where(Assessment.withdrawn_at.is_(None), Version.state != State.SUPERSEDED)
        .options(
            contains_eager(Version.assessment),
            joinedload(Version.substances),
            joinedload(Version.controls),
            joinedload(Action.owner).lazyload(Person.role_rows),
        )
        .order_by(Assessment.title, Assessment.id, Version.number)
    )
    rows = session.execute(query).unique().all()
    actions = {action.id: action for _, action in rows if action is not None}
    assessments = [
        _as_it_stands(assessment, list(versions), now, today=today, zone=zone)
        for assessment, versions in groupby(dict.fromkeys(row.Version for row in rows), key=attrgetter("assessment"))
    ]
    assessments.sort(key=lambda each: (not each.is_out_of_date, not each.is_waiting, not each.is_draft))
    covered = {each.assessment.process_id for each in assessments}
    hazardous = (product for product in now.products.values() if product.is_hazardous)
    return Overview(
        assessments=assessments,
        processes=[process for process in now.processes.values() if process.id not in covered],
        products=[product for product in hazardous if product.id not in now.products_assessed],
        actions=sorted(actions.values(), key=attrgetter("due_on", "id")),
    )


def assessment_now(session: DbSession, assessment: Assessment, *, today: date, zone: ZoneInfo) -> AssessmentNow:
    """How one assessment stands."""
    live = [version for version in assessment.versions if version.state is not State.SUPERSEDED]
    return _as_it_stands(assessment, live, news(session), today=today, zone=zone)


def process_assessed(session: DbSession, process_id: int, *, today: date, zone: ZoneInfo) -> AssessmentNow | None:
    """How the live assessment of a process stands, with what it asks for; None where there is none. Two queries."""
    query = (
        select(Version)
        .join(Version.assessment)
        .where(
            Assessment.process_id == process_id, Assessment.withdrawn_at.is_(None), Version.state != State.SUPERSEDED
        )
        .options(contains_eager(Version.assessment), joinedload(Version.substances), joinedload(Version.controls))
        .order_by(Version.number)
    )
    versions = list(session.execute(query).unique().scalars())
    if not versions:
        return None
    return _as_it_stands(versions[0].assessment, versions, news(session), today=today, zone=zone)


def withdrawn(session: DbSession, *, before_id: int | None = None, limit: int) -> list[Assessment]:
    """Withdrawn assessments, newest first, from the one before `before_id`."""
    query = (
        select(Assessment)
        .where(Assessment.withdrawn_at.is_not(None))
        .options(selectinload(Assessment.versions))
        .order_by(Assessment.id.desc())
        .limit(limit)
    )
    if before_id is not None:
        query = query.where(Assessment.id < before_id)
    return list(session.execute(query).scalars())


def assessment_or_raise(session: DbSession, assessment_id: int, *, lock: bool = False) -> Assessment:
    """One assessment with its versions and their substances and controls. Raises NotFound."""
    if lock:
        session.execute(select(Assessment.id).where(Assessment.id == assessment_id).with_for_update())
    query = (
        select(Assessment)
        .where(Assessment.id == assessment_id)
        .options(
            selectinload(Assessment.versions).options(selectinload(Version.substances), selectinload(Version.controls)),
            selectinload(Assessment.products),
            selectinload(Assessment.actions).joinedload(Action.owner).lazyload(Person.role_rows),
        )
        .execution_options(populate_existing=lock)
    )
    assessment = session.execute(query).scalar_one_or_none()
    if assessment is None:
        raise NotFound("assessment", assessment_id)
    return assessment


def live_of_process(session: DbSession, process_id: int) -> Assessment | None:
    """The assessment of a process that is not withdrawn."""
    query = select(Assessment).where(Assessment.process_id == process_id, Assessment.withdrawn_at.is_(None))
    return session.execute(query).scalars().first()


def live_of_product(session: DbSession, product_id: int) -> Assessment | None:
    """The newest live assessment of a product handled as supplied."""
    query = (
        select(Assessment)
        .join(SubjectProduct)
        .where(SubjectProduct.product_id == product_id, Assessment.withdrawn_at.is_(None))
        .order_by(Assessment.id.desc())
    )
    return session.execute(query).scalars().first()


def processes_not_assessed(session: DbSession) -> list[Process]:
    """Processes without a live assessment, by name."""
    assessed = select(Assessment.id).where(Assessment.process_id == Process.id, Assessment.withdrawn_at.is_(None))
    return list(session.execute(select(Process).where(~assessed.exists()).order_by(Process.name)).scalars())


def live_of_room(session: DbSession) -> dict[str, int]:
    """The live assessments of hazards of the room, by title."""
    query = select(Assessment.title, Assessment.id).where(
        Assessment.kind == SubjectKind.ROOM_HAZARD, Assessment.withdrawn_at.is_(None)
    )
    return {row.title: row.id for row in session.execute(query)}


def process_with_products(session: DbSession, process_id: int, *, lock: bool = False) -> Process:
    """A process with all that an assessment of it is begun from. Raises NotFound."""
    products = selectinload(Process.steps).joinedload(ProcessStep.product)
    whole = products.options(*FOR_WORKING_SOLUTION, selectinload(Product.dilutions))
    return get_or_raise(session, Process, process_id, "process", lock=lock, options=[whole])


def whole_products(session: DbSession, product_ids: Collection[int]) -> list[Product]:
    """Products with their ingredients and dilutions, by name. Raises NotFound for one that is not there."""
    query = (
        select(Product)
        .where(Product.id.in_(product_ids))
        .options(*FOR_WORKING_SOLUTION, selectinload(Product.dilutions))
        .order_by(Product.name, Product.id)
    )
    products = list(session.execute(query).scalars())
    if lacking := set(product_ids) - {product.id for product in products}:
        raise NotFound("product", min(lacking))
    return products


def action_or_raise(session: DbSession, action_id: int, *, lock: bool = False) -> Action:
    whole = (joinedload(Action.assessment), joinedload(Action.owner).lazyload(Person.role_rows))
    return get_or_raise(session, Action, action_id, "action", lock=lock, options=whole)


def actions_of(session: DbSession, *, owner_id: int, due_by: date, limit: int) -> list[Action]:
    """A person's actions that are not done yet, the one due first first."""
    query = (
        select(Action)
        .join(Action.assessment)
        .where(
            Action.owner_id == owner_id,
            Action.done_at.is_(None),
            Action.due_on <= due_by,
            Assessment.withdrawn_at.is_(None),
        )
        .options(contains_eager(Action.assessment), joinedload(Action.owner).lazyload(Person.role_rows))
        .order_by(Action.due_on, Action.id)
        .limit(limit)
    )
    return list(session.execute(query).scalars())


def possible_owners(session: DbSession) -> list[Person]:
    """Those an action can be given to: whoever has a role beside that of a member, by name."""
    works_here = Person.role_rows.any(PersonRole.role != Role.MEMBER)
    query = select(Person).where(Person.left_at.is_(None), works_here).order_by(Person.name, Person.id)
    return list(session.execute(query).scalars())


def _things(session: DbSession) -> tuple[dict[int, ProcessNow], dict[int, ProductNow], frozenset[int]]:
    """Every process and every product as it stands, and the products that a live assessment is about.

    One query for two kinds of row, since the first page asks for them beside all else.
    """
    steps = select(
        literal(True).label("is_process"),
        Process.id.label("id"),
        Process.name.label("name"),
        ProcessStep.position.label("position"),
        ProcessStep.product_id.label("product_id"),
        ProcessStep.water_parts_milli.label("water_parts_milli"),
        ProcessStep.seconds.label("seconds"),
        ProcessStep.temperature_milli_c.label("temperature_milli_c"),
        null().cast(Integer).label("version"),
        null().cast(Date).label("sds"),
        literal(False).label("is_hazardous"),
        literal(False).label("is_assessed"),
        newest_of_process(Process.id).label("incident_at"),
    ).join(ProcessStep, isouter=True)
    sensitises = exists().where(
        ProductIngredient.product_id == Product.id,
        or_(ProductIngredient.classification.contains("H317"), ProductIngredient.classification.contains("H334")),
    )
    assessed = exists().where(
        SubjectProduct.product_id == Product.id,
        SubjectProduct.assessment_id == Assessment.id,
        Assessment.withdrawn_at.is_(None),
    )
    nothing = [null().cast(BigInteger) for _ in range(5)]
    on_file = select(func.max(DataSheet.issued_on)).where(DataSheet.product_id == Product.id).scalar_subquery()
    sds = case((or_(Product.sds_date.is_(None), on_file > Product.sds_date), on_file), else_=Product.sds_date)
    hazardous = or_(Product.h_codes != NOT_CLASSIFIED, sensitises)
    stands = (Product.version, sds, hazardous, assessed, newest_of_product(Product.id))
    products = select(literal(False), Product.id, Product.name, *nothing, *stands)
    both = union_all(steps, products).subquery()
    rows = session.execute(select(both).order_by(both.c.name, both.c.id, both.c.position)).all()
    of_products = [row for row in rows if not row.is_process]
    return (
        dict(_processes(row for row in rows if row.is_process)),
        {
            row.id: ProductNow(row.id, row.name, row.version, row.sds, bool(row.is_hazardous), row.incident_at)
            for row in of_products
        },
        frozenset(row.id for row in of_products if row.is_assessed),
    )


def _processes(rows: Iterable[Any]) -> Iterator[tuple[int, ProcessNow]]:
    """Each process with the digest of its steps, from the rows of the steps in their order."""
    for (process_id, name, incident_at), steps in groupby(rows, key=lambda row: (row.id, row.name, row.incident_at)):
        yield process_id, ProcessNow(process_id, name, fingerprint(steps), incident_at)


def _as_it_stands(
    assessment: Assessment, live: Sequence[Version], now: News, *, today: date, zone: ZoneInfo
) -> AssessmentNow:
    approved = next((version for version in live if version.state is State.APPROVED), None)
    in_hand = next((version for version in reversed(live) if version.state is not State.APPROVED), None)
    reasons: tuple[str, ...] = ()
    moved: tuple[str, ...] = ()
    if approved is not None:
        reasons = why_out_of_date(_facts(assessment, approved, now), today=today, zone=zone)
    if in_hand is not None:
        filled_in = replace(_facts(assessment, in_hand, now), review_on=None)
        moved = why_out_of_date(filled_in, today=today, zone=zone)
    return AssessmentNow(assessment, approved, in_hand, reasons, moved)


def _facts(assessment: Assessment, version: Version, now: News) -> Facts:
    is_process = assessment.kind is SubjectKind.PROCESS
    process = now.processes.get(assessment.process_id or 0)
    return Facts(
        since=version.approved_at or version.written_at,
        review_on=version.review_on,
        substances=tuple(_substance_facts(row, now) for row in version.substances),
        assessed_fingerprint=version.fingerprint,
        fingerprint=process.fingerprint if is_process and process else "",
        incident_at=process.incident_at if is_process and process else None,
    )


def _substance_facts(row: AssessedSubstance, now: News) -> SubstanceFacts:
    product = now.products[row.product_id]
    return SubstanceFacts(
        name=product.name,
        assessed_version=row.product_version,
        version=product.version,
        assessed_sds=row.sds_date,
        sds=product.sds,
        incident_at=product.incident_at,
    )
