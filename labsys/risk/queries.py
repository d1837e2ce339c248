"""What pages, documents and other rooms read of assessments."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import groupby
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
from labsys.records.errors import NotFound
from labsys.records.queries import get_or_raise
from labsys.risk.models import Action, AssessedSubstance, Assessment, State, SubjectKind, SubjectProduct, Version
from labsys.risk.review import Facts, StepFact, SubstanceFacts, fingerprint, why_out_of_date


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
class Standing:
    """A live assessment: the version that holds if there is one, and the one being written if there is one.

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
    """Every live assessment with its standing, what nobody has assessed, and the actions due by the day asked for."""

    standings: list[Standing]
    processes: list[ProcessNow]
    products: list[ProductNow]
    actions: list[Action]


def news(session: DbSession) -> News:
    """Read how processes and products stand now, with the newest SDS and the newest incident of each."""
    processes, products, assessed = _things(session)
    return News(processes=processes, products=products, products_assessed=assessed)


def overview(session: DbSession, *, today: date, zone: ZoneInfo, actions_by: date = date.min) -> Overview:
    """Every live assessment, what is out of date first, and the processes and products without one."""
    now = news(session)
    is_due = and_(Action.assessment_id == Assessment.id, Action.done_at.is_(None), Action.due_on <= actions_by)
    chosen = (
        select(Version, Action)
        .join(Version.assessment)
        .outerjoin(Action, is_due)
        .where(Assessment.withdrawn_at.is_(None), Version.state != State.SUPERSEDED)
        .options(
            contains_eager(Version.assessment),
            joinedload(Version.substances),
            joinedload(Action.owner).lazyload(Person.role_rows),
        )
        .order_by(Assessment.title, Assessment.id, Version.number)
    )
    found = session.execute(chosen).unique().all()
    actions = {action.id: action for _, action in found if action is not None}
    standings = [
        _standing(assessment, versions, now, today=today, zone=zone)
        for assessment, versions in _by_assessment(version for version, _ in found)
    ]
    standings.sort(key=lambda one: (not one.is_out_of_date, not one.is_waiting, not one.is_draft))
    covered = {one.assessment.process_id for one in standings}
    return Overview(
        standings=standings,
        processes=[one for one in now.processes.values() if one.id not in covered],
        products=[one for one in now.products.values() if one.is_hazardous and one.id not in now.products_assessed],
        actions=sorted(actions.values(), key=lambda one: (one.due_on, one.id)),
    )


def standing_of(session: DbSession, assessment: Assessment, *, today: date, zone: ZoneInfo) -> Standing:
    """How one assessment stands."""
    live = [one for one in assessment.versions if one.state is not State.SUPERSEDED]
    return _standing(assessment, live, news(session), today=today, zone=zone)


def withdrawn(session: DbSession, *, before_id: int | None = None, limit: int) -> list[Assessment]:
    """Withdrawn assessments, newest first, from the one before `before_id`."""
    chosen = (
        select(Assessment)
        .where(Assessment.withdrawn_at.is_not(None))
        .options(selectinload(Assessment.versions))
        .order_by(Assessment.id.desc())
        .limit(limit)
    )
    if before_id is not None:
        chosen = chosen.where(Assessment.id < before_id)
    return list(session.execute(chosen).scalars())


def assessment_or_raise(session: DbSession, assessment_id: int, *, lock: bool = False) -> Assessment:
    """One assessment with its versions and their substances and controls. Raises NotFound."""
    if lock:
        session.execute(select(Assessment.id).where(Assessment.id == assessment_id).with_for_update())
    chosen = (
        select(Assessment)
        .where(Assessment.id == assessment_id)
        .options(
            selectinload(Assessment.versions).options(selectinload(Version.substances), selectinload(Version.controls)),
            selectinload(Assessment.products),
            selectinload(Assessment.actions).joinedload(Action.owner).lazyload(Person.role_rows),
        )
        .execution_options(populate_existing=lock)
    )
    assessment = session.execute(chosen).scalar_one_or_none()
    if assessment is None:
        raise NotFound("assessment", assessment_id)
    return assessment


def live_of_process(session: DbSession, process_id: int) -> Assessment | None:
    """The assessment of a process that is not withdrawn."""
    chosen = select(Assessment).where(Assessment.process_id == process_id, Assessment.withdrawn_at.is_(None))
    return session.execute(chosen).scalars().first()


def live_of_product(session: DbSession, product_id: int) -> Assessment | None:
    """The newest live assessment of a product handled as supplied."""
    chosen = (
        select(Assessment)
        .join(SubjectProduct)
        .where(SubjectProduct.product_id == product_id, Assessment.withdrawn_at.is_(None))
        .order_by(Assessment.id.desc())
    )
    return session.execute(chosen).scalars().first()


def processes_not_assessed(session: DbSession) -> list[Process]:
    """Processes without a live assessment, by name."""
    assessed = select(Assessment.id).where(Assessment.process_id == Process.id, Assessment.withdrawn_at.is_(None))
    return list(session.execute(select(Process).where(~assessed.exists()).order_by(Process.name)).scalars())


def live_of_room(session: DbSession) -> dict[str, int]:
    """The live assessments of hazards of the room, by title."""
    chosen = select(Assessment.title, Assessment.id).where(
        Assessment.kind == SubjectKind.ROOM_HAZARD, Assessment.withdrawn_at.is_(None)
    )
    return {row.title: row.id for row in session.execute(chosen)}


def process_with_products(session: DbSession, process_id: int, *, lock: bool = False) -> Process:
    """A process with all that an assessment of it is begun from. Raises NotFound."""
    products = selectinload(Process.steps).joinedload(ProcessStep.product)
    whole = products.options(*FOR_WORKING_SOLUTION, selectinload(Product.dilutions))
    return get_or_raise(session, Process, process_id, "process", lock=lock, options=[whole])


def whole_products(session: DbSession, product_ids: Collection[int]) -> list[Product]:
    """Products with their ingredients and dilutions, by name. Raises NotFound for one that is not there."""
    chosen = (
        select(Product)
        .where(Product.id.in_(product_ids))
        .options(*FOR_WORKING_SOLUTION, selectinload(Product.dilutions))
        .order_by(Product.name, Product.id)
    )
    found = list(session.execute(chosen).scalars())
    if lacking := set(product_ids) - {one.id for one in found}:
        raise NotFound("product", min(lacking))
    return found


def action_or_raise(session: DbSession, action_id: int, *, lock: bool = False) -> Action:
    whole = (joinedload(Action.assessment), joinedload(Action.owner).lazyload(Person.role_rows))
    return get_or_raise(session, Action, action_id, "action", lock=lock, options=whole)


def actions_of(session: DbSession, *, owner_id: int, due_by: date, limit: int) -> list[Action]:
    """A person's actions that are not done yet, the one due first first."""
    chosen = (
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
    return list(session.execute(chosen).scalars())


def possible_owners(session: DbSession) -> list[Person]:
    """Those an action can be given to: whoever has a role beside that of a member, by name."""
    works_here = Person.role_rows.any(PersonRole.role != Role.MEMBER)
    chosen = select(Person).where(Person.left_at.is_(None), works_here).order_by(Person.name, Person.id)
    return list(session.execute(chosen).scalars())


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
    hazardous = or_(Product.h_codes != "", sensitises)
    stands = (Product.version, sds, hazardous, assessed, newest_of_product(Product.id))
    products = select(literal(False), Product.id, Product.name, *nothing, *stands)
    both = union_all(steps, products).subquery()
    rows = session.execute(select(both).order_by(both.c.name, both.c.id, both.c.position)).all()
    here = [row for row in rows if not row.is_process]
    return (
        dict(_processes(row for row in rows if row.is_process)),
        {
            row.id: ProductNow(row.id, row.name, row.version, row.sds, bool(row.is_hazardous), row.incident_at)
            for row in here
        },
        frozenset(row.id for row in here if row.is_assessed),
    )


def _processes(rows: Iterable[Any]) -> Iterator[tuple[int, ProcessNow]]:
    """Each process with the digest of its steps, from the rows of the steps in their order."""
    for (process_id, name, incident_at), steps in groupby(rows, key=lambda row: (row.id, row.name, row.incident_at)):
        digest = fingerprint(
            StepFact(row.product_id, row.water_parts_milli, row.seconds, row.temperature_milli_c)
            for row in steps
            if row.product_id is not None
        )
        yield process_id, ProcessNow(process_id, name, digest, incident_at)


def _by_assessment(versions: Iterable[Version]) -> Iterator[tuple[Assessment, list[Version]]]:
    """The versions of each assessment, once each, in their order."""
    for assessment, found in groupby(dict.fromkeys(versions), key=lambda one: one.assessment):
        yield assessment, list(found)


def _standing(assessment: Assessment, live: Sequence[Version], now: News, *, today: date, zone: ZoneInfo) -> Standing:
    approved = next((one for one in live if one.state is State.APPROVED), None)
    in_hand = next((one for one in reversed(live) if one.state is not State.APPROVED), None)
    facts = [None if one is None else _facts(assessment, one, now) for one in (approved, in_hand)]
    held, filled_in = facts
    return Standing(
        assessment,
        approved,
        in_hand,
        reasons=() if held is None else why_out_of_date(held, today=today, zone=zone),
        moved=() if filled_in is None else why_out_of_date(replace(filled_in, review_on=None), today=today, zone=zone),
    )


def _facts(assessment: Assessment, version: Version, now: News) -> Facts:
    is_process = assessment.kind is SubjectKind.PROCESS
    process = now.processes.get(assessment.process_id or 0)
    return Facts(
        since=version.approved_at or version.written_at,
        review_on=version.review_on,
        substances=tuple(_substance_facts(one, now) for one in version.substances),
        assessed_fingerprint=version.fingerprint,
        fingerprint=process.fingerprint if is_process and process else "",
        incident_at=process.incident_at if is_process and process else None,
    )


def _substance_facts(one: AssessedSubstance, now: News) -> SubstanceFacts:
    product = now.products[one.product_id]
    return SubstanceFacts(
        name=product.name,
        assessed_version=one.product_version,
        version=product.version,
        assessed_sds=one.sds_date,
        sds=product.sds,
        incident_at=product.incident_at,
    )
