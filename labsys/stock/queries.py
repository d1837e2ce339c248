"""What pages and other rooms read of the chemical store."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import joinedload, selectinload

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import Cylinder
from labsys.database import DbSession, Model
from labsys.people.models import Person, PersonRole
from labsys.people.permissions import GRANTED, Permission
from labsys.quantities import UL_PER_ML
from labsys.records.errors import NotFound
from labsys.stock.models import Bottle, Confirmation, OwnedCylinder, Process, ProcessStep, Product, WorkingVessel
from labsys.stock.safety_models import AcceptedRestriction, DataSheet, HazardChoice, InterimApproval

FOR_STANDING = (
    selectinload(Product.confirmations),
    selectinload(Product.data_sheets),
    selectinload(Product.interim_approvals).joinedload(InterimApproval.approved_by).lazyload(Person.role_rows),
)
_CHOICES = selectinload(Product.hazard_choices).joinedload(HazardChoice.chosen_by).lazyload(Person.role_rows)
FOR_WORKING_SOLUTION = (selectinload(Product.ingredients), _CHOICES)
_WHOLE_PRODUCT = (
    *FOR_WORKING_SOLUTION,
    selectinload(Product.dilutions),
    selectinload(Product.capacities),
    joinedload(Product.ages),
    *FOR_STANDING,
    selectinload(Product.confirmations).joinedload(Confirmation.confirmed_by).lazyload(Person.role_rows),
    selectinload(Product.data_sheets).joinedload(DataSheet.added_by).lazyload(Person.role_rows),
    joinedload(Product.accepted_restrictions).joinedload(AcceptedRestriction.accepted_by).lazyload(Person.role_rows),
)


def products(session: DbSession) -> list[Product]:
    """All products by name; a lab has some dozens."""
    chosen = select(Product).options(*FOR_STANDING, selectinload(Product.dilutions)).order_by(Product.name, Product.id)
    return list(session.execute(chosen).scalars())


def product_or_raise(session: DbSession, product_id: int, *, lock: bool = False) -> Product:
    chosen = select(Product).where(Product.id == product_id).options(*_WHOLE_PRODUCT)
    if lock:
        chosen = chosen.with_for_update(of=Product).execution_options(populate_existing=True)
    product = session.execute(chosen).unique().scalar_one_or_none()
    if product is None:
        raise NotFound("product", product_id)
    return product


def product_by_name(session: DbSession, *, name: str, supplier: str) -> Product | None:
    chosen = select(Product).where(Product.name == name, Product.supplier == supplier)
    return session.execute(chosen).scalar_one_or_none()


def has_bottles(session: DbSession, product_id: int) -> bool:
    return session.execute(select(Bottle.id).where(Bottle.product_id == product_id).limit(1)).first() is not None


def bottles(session: DbSession, *, product_id: int | None = None) -> list[Bottle]:
    """Bottles with something left in them: the one to use up first comes first."""
    chosen = (
        select(Bottle)
        .join(Bottle.vessel)
        .join(Bottle.product)
        .where(Bottle.vessel.has(level=0).is_(False))
        .options(joinedload(Bottle.product).selectinload(Product.confirmations))
        .order_by(
            Product.name,
            Bottle.opened_at.is_(None),
            Bottle.expires_on.is_(None),  # databases differ on where an absent date goes
            Bottle.expires_on,
            Bottle.id,
        )
    )
    if product_id is not None:
        chosen = chosen.where(Bottle.product_id == product_id)
    return list(session.execute(chosen).scalars().unique())


def bottle_or_raise(session: DbSession, bottle_id: int, *, lock: bool = False) -> Bottle:
    chosen = select(Bottle).where(Bottle.id == bottle_id).options(joinedload(Bottle.product))
    if lock:
        chosen = chosen.with_for_update(of=Bottle).execution_options(populate_existing=True)
    bottle = session.execute(chosen).scalars().unique().one_or_none()
    if bottle is None:
        raise NotFound("bottle", bottle_id)
    return bottle


def people_who_may(session: DbSession, permission: Permission) -> list[Person]:
    """Those of the lab whose roles grant a permission, by name."""
    roles = [role for role, granted in GRANTED.items() if permission in granted]
    holds_one = Person.role_rows.any(PersonRole.role.in_(roles))
    chosen = select(Person).where(Person.left_at.is_(None), holds_one).order_by(Person.name, Person.id)
    return list(session.execute(chosen).scalars())


@dataclass(frozen=True)
class Went:
    """What one bottle gave to a bath, at its mixing or when it was replenished."""

    bath_id: int
    bath_name: str
    bath_code: str
    amount: int
    mixed_at: datetime


def where_it_went(session: DbSession, *, bottle_id: int, limit: int) -> list[Went]:
    """The baths a bottle went into, newest first.

    The room of the baths lies below this one and is not imported: its tables are taken from the metadata by name.
    A mixing that was taken back is left out.
    """
    tables = Model.metadata.tables
    parts, batches, baths, movements = (tables[name] for name in ("batch_parts", "batches", "baths", "movements"))
    undone = select(movements.c.id).where(movements.c.reverses_id == batches.c.movement_id).exists()
    chosen = (
        select(baths.c.id, baths.c.name, baths.c.code, parts.c.amount, batches.c.mixed_at)
        .join_from(parts, batches, parts.c.batch_id == batches.c.id)
        .join(baths, batches.c.bath_id == baths.c.id)
        .where(parts.c.bottle_id == bottle_id, ~undone)
        .order_by(batches.c.mixed_at.desc(), batches.c.id.desc())
        .limit(limit)
    )
    return [Went(*row) for row in session.execute(chosen)]


def cylinder_rows(session: DbSession) -> list[OwnedCylinder]:
    return list(session.execute(select(OwnedCylinder).order_by(OwnedCylinder.nominal_ml, OwnedCylinder.id)).scalars())


def cylinders_for(owned: Sequence[OwnedCylinder], kind: SolutionKind) -> list[Cylinder]:
    """Cylinders to measure a kind of solution with: those kept for it where there are any, else the common ones."""
    kept = [one for one in owned if one.kept_for is kind]
    chosen = kept or [one for one in owned if one.kept_for is None]
    return [
        Cylinder(
            nominal_ml=one.nominal_ml,
            division_ml=one.division_ul / UL_PER_ML,
            accuracy_class=one.accuracy_class,
        )
        for one in chosen
    ]


def processes(session: DbSession) -> list[Process]:
    return list(session.execute(select(Process).order_by(Process.name)).scalars())


def process_by_name(session: DbSession, name: str) -> Process | None:
    return session.execute(select(Process).where(Process.name == name)).scalar_one_or_none()


def process_or_raise(session: DbSession, process_id: int, *, lock: bool = False) -> Process:
    chosen = (
        select(Process)
        .where(Process.id == process_id)
        .options(selectinload(Process.steps).joinedload(ProcessStep.product))
    )
    if lock:
        chosen = chosen.with_for_update(of=Process).execution_options(populate_existing=True)
    process = session.execute(chosen).scalar_one_or_none()
    if process is None:
        raise NotFound("process", process_id)
    return process


def working_vessels(session: DbSession, *, in_use_only: bool = False) -> list[WorkingVessel]:
    """The lab's tanks and trays by kind and name, with their fills; a lab has some dozens."""
    chosen = (
        select(WorkingVessel)
        .options(joinedload(WorkingVessel.fills))
        .order_by(WorkingVessel.kind, WorkingVessel.name, WorkingVessel.id)
    )
    if in_use_only:
        chosen = chosen.where(WorkingVessel.closed_at.is_(None))
    return list(session.execute(chosen).scalars().unique())


def working_vessel_or_raise(session: DbSession, vessel_id: int, *, lock: bool = False) -> WorkingVessel:
    chosen = select(WorkingVessel).where(WorkingVessel.id == vessel_id)
    if lock:
        chosen = chosen.with_for_update(of=WorkingVessel).execution_options(populate_existing=True)
    vessel = session.execute(chosen).scalar_one_or_none()
    if vessel is None:
        raise NotFound("tank or tray", vessel_id)
    return vessel


def working_vessel_by_name(session: DbSession, name: str) -> WorkingVessel | None:
    return session.execute(select(WorkingVessel).where(WorkingVessel.name == name)).scalar_one_or_none()
