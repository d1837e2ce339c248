"""What pages and other rooms read of incidents."""

from datetime import datetime

from sqlalchemy import ScalarSelect, func, select
from sqlalchemy.orm import InstrumentedAttribute, joinedload, selectinload

from labsys.database import DbSession
from labsys.incidents.models import Incident, IncidentProcess, IncidentProduct
from labsys.people import queries as people
from labsys.people.models import Person
from labsys.people.permissions import Permission
from labsys.people.row_kinds import Page, RowKind
from labsys.records.queries import get_or_raise

_WHOLE = (
    joinedload(Incident.station),
    joinedload(Incident.reported_by),
    selectinload(Incident.process_rows).joinedload(IncidentProcess.process),
    selectinload(Incident.product_rows).joinedload(IncidentProduct.product),
)


def incident_or_raise(session: DbSession, incident_id: int, *, lock: bool = False) -> Incident:
    """One incident without who was hurt."""
    return get_or_raise(session, Incident, incident_id, "incident", lock=lock, options=() if lock else _WHOLE)


def who_was_hurt(session: DbSession, incident_id: int) -> str:
    """Who was hurt: only for those who may see it."""
    return session.execute(select(Incident.hurt).where(Incident.id == incident_id)).scalar_one()


def incidents(session: DbSession, *, before_id: int | None = None, limit: int) -> list[Incident]:
    """Incidents without who was hurt, the last reported first, from the one before `before_id`."""
    query = select(Incident).order_by(Incident.id.desc()).limit(limit)
    if before_id is not None:
        query = query.where(Incident.id < before_id)
    return list(session.execute(query).scalars())


def people_to_tell(session: DbSession, *, but: Person | None) -> list[Person]:
    """Who is written to about an incident: whoever may close it, and the manager; not whoever reported it."""
    able = [
        *people.people_who_may(session, Permission.KEEP_INCIDENTS),
        *people.people_who_may(session, Permission.KEEP_LAB),
    ]
    return list({person.id: person for person in able if but is None or person.id != but.id}.values())


def newest_of_process(process_id: InstrumentedAttribute[int]) -> ScalarSelect[datetime]:
    """When the newest incident of a process was reported; for use inside another query."""
    return (
        select(func.max(Incident.recorded_at))
        .join(IncidentProcess, IncidentProcess.incident_id == Incident.id)
        .where(IncidentProcess.process_id == process_id)
        .scalar_subquery()
    )


def newest_of_product(product_id: InstrumentedAttribute[int]) -> ScalarSelect[datetime]:
    """When the newest incident with a product was reported; for use inside another query."""
    return (
        select(func.max(Incident.recorded_at))
        .join(IncidentProduct, IncidentProduct.incident_id == Incident.id)
        .where(IncidentProduct.product_id == product_id)
        .scalar_subquery()
    )


INCIDENT = RowKind(table=Incident, called="incident", many="incidents", pages=(Page("incidents.show", "incident_id"),))
