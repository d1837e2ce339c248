"""What pages and other rooms read of cylinders, tanks and trays."""

from collections.abc import Sequence

from sqlalchemy import String, cast, select
from sqlalchemy.orm import contains_eager, joinedload

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import UNMARKED_DIVISIONS, Cylinder, CylinderClass
from labsys.database import DbSession
from labsys.equipment.models import Equipment
from labsys.equipment.rules import MICRO, off_micro
from labsys.labware.models import OwnedCylinder, WorkingVessel
from labsys.people.permissions import Permission
from labsys.people.row_kinds import NOTHING, Page, RowKind, Search
from labsys.quantities import UL_PER_ML
from labsys.records.queries import get_or_raise


def cylinder_rows(session: DbSession) -> list[OwnedCylinder]:
    """The cylinders in use, the smallest first, each with the newest check of its reading."""
    query = (
        select(OwnedCylinder)
        .join(OwnedCylinder.equipment)
        .options(contains_eager(OwnedCylinder.equipment).joinedload(Equipment.reading))
        .where(Equipment.retired_at.is_(None))
        .order_by(OwnedCylinder.nominal_ml, OwnedCylinder.id)
    )
    return list(session.execute(query).scalars())


def cylinders_for(owned: Sequence[OwnedCylinder], kind: SolutionKind) -> list[Cylinder]:
    """Cylinders to measure a kind of solution with: those kept for it, marked so, and those for any solution."""
    return [_cylinder(row, is_kept=row.kept_for is kind) for row in usable(owned) if row.kept_for in (None, kind)]


def cylinders_for_water(owned: Sequence[OwnedCylinder], kind: SolutionKind) -> list[Cylinder]:
    """Cylinders to measure the water with that a kind of solution is mixed with: the same, but none comes first,
    since water leaves nothing behind."""
    return [_cylinder(cylinder) for cylinder in usable(owned) if cylinder.kept_for in (None, kind)]


def usable(owned: Sequence[OwnedCylinder]) -> list[OwnedCylinder]:
    """Those that did not fail the last check of their reading."""
    return [row for row in owned if row.equipment.reading is None or row.equipment.reading.has_passed]


def unchecked_in_words(owned: Sequence[OwnedCylinder], kind: SolutionKind) -> str:
    """What counts for cylinders for a kind of solution that were never checked; empty where all were."""
    never = sum(row.equipment.reading is None for row in usable(owned) if row.kept_for in (None, kind))
    if not never:
        return ""
    which = "1 of them was" if never == 1 else f"{never} of them were"
    return f"{which} never checked, so how far off is not known: the wider of its class and two divisions counts."


def off_ml(row: OwnedCylinder) -> float:
    """How far off a cylinder counts: by its last check; never checked, by the wider of its class and two divisions.

    What a check found at some marks does not make it better than its class says at all of them. Here, and nowhere
    else, the error of a volume comes into the lab's sums.
    """
    unchecked = Cylinder(row.nominal_ml, row.division_ul / UL_PER_ML, row.accuracy_class)
    check = row.equipment.reading
    if check is None or check.error_micro is None or check.doubt_micro is None:
        return max(unchecked.limit_ml, UNMARKED_DIVISIONS * unchecked.division_ml)
    found_ml = off_micro(error_micro=check.error_micro, doubt_micro=check.doubt_micro) / MICRO
    return found_ml if row.accuracy_class is CylinderClass.UNMARKED else max(found_ml, unchecked.limit_ml)


def _cylinder(row: OwnedCylinder, *, is_kept: bool = False) -> Cylinder:
    return Cylinder(
        off_ml=off_ml(row),
        nominal_ml=row.nominal_ml,
        division_ml=row.division_ul / UL_PER_ML,
        accuracy_class=row.accuracy_class,
        least_ml=None if row.least_ul is None else row.least_ul / UL_PER_ML,
        is_kept=is_kept,
    )


def working_vessels(session: DbSession, *, in_use_only: bool = False) -> list[WorkingVessel]:
    """The lab's tanks and trays by kind and name, with their fills; a lab has some dozens."""
    query = (
        select(WorkingVessel)
        .options(joinedload(WorkingVessel.fills))
        .order_by(WorkingVessel.kind, WorkingVessel.name, WorkingVessel.id)
    )
    if in_use_only:
        query = query.where(WorkingVessel.closed_at.is_(None))
    return list(session.execute(query).scalars().unique())


def working_vessel_or_raise(session: DbSession, vessel_id: int, *, lock: bool = False) -> WorkingVessel:
    return get_or_raise(session, WorkingVessel, vessel_id, "tank or tray", lock=lock)


def working_vessel_by_name(session: DbSession, name: str) -> WorkingVessel | None:
    return session.execute(select(WorkingVessel).where(WorkingVessel.name == name)).scalar_one_or_none()


VESSEL = RowKind(
    table=WorkingVessel,
    called="tank or tray",
    many="tanks and trays",
    pages=(Page("labware.change_tank", "vessel_id", Permission.KEEP_STOCK),),
    search=Search(
        select(
            WorkingVessel.id,
            WorkingVessel.name,
            NOTHING,
            cast(WorkingVessel.kind, String),
            WorkingVessel.closed_at.is_not(None),
        ),
        by=(WorkingVessel.name,),
        gone="out of use",
    ),
)
