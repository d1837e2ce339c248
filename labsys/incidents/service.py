"""What people do about incidents: report one, and close it with what was changed."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from labsys.database import DbSession
from labsys.incidents import queries, rules
from labsys.incidents.models import Incident, IncidentKind, IncidentProcess, IncidentProduct
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.places import queries as places
from labsys.processes import queries as process_queries
from labsys.products import queries as product_queries
from labsys.records import service as records
from labsys.records.acts import act


@dataclass(frozen=True)
class Told:
    """What is told of an incident. `hurt` is who was hurt, empty where nobody was."""

    kind: IncidentKind
    what: str
    done: str = ""
    hurt: str = ""
    station_id: int | None = None
    process_ids: Collection[int] = ()
    product_ids: Collection[int] = ()


@act
def report(
    session: DbSession,
    *,
    actor: Person,
    told: Told,
    happened_at: datetime,
    now: datetime,
    submission_key: str | None = None,
) -> Incident:
    """Report an incident as it happened; no rule stands against a fact. Raises NotPermitted or NotFound.

    Who was hurt stays out of the record: it is kept with the incident alone, where it can be taken away.
    """
    require(actor, Permission.REPORT_INCIDENT)
    station = places.station_or_raise(session, told.station_id) if told.station_id is not None else None
    processes = [process_queries.process_or_raise(session, key) for key in sorted(set(told.process_ids))]
    products = [product_queries.product_or_raise(session, key) for key in sorted(set(told.product_ids))]
    incident = Incident(
        kind=told.kind,
        happened_at=happened_at,
        recorded_at=now,
        reported_by_id=actor.id,
        station_id=told.station_id,
        what=told.what,
        done=told.done,
        hurt=told.hurt,
        process_rows=[IncidentProcess(process_id=one.id) for one in processes],
        product_rows=[IncidentProduct(product_id=one.id) for one in products],
    )
    session.add(incident)
    facts = {
        "kind": told.kind,
        "happened_at": happened_at.isoformat(),
        "station": station.name if station else "",
        "processes": [one.name for one in processes],
        "products": [one.name for one in products],
        "what": told.what,
        "done": told.done,
    }
    records.append(session, act="incident.reported", about=incident, at=now, actor=actor, facts=facts)
    return incident


@act
def close(
    session: DbSession,
    *,
    actor: Person,
    incident_id: int,
    changed: str,
    now: datetime,
    submission_key: str | None = None,
) -> Incident:
    """Close an incident with what was changed. Raises NotPermitted, NotFound or IncidentRefused."""
    require(actor, Permission.KEEP_INCIDENTS)
    incident = queries.incident_or_raise(session, incident_id, lock=True)
    rules.check_closing(closed_at=incident.closed_at, changed=changed)
    incident.changed, incident.closed_at, incident.closed_by_id = changed, now, actor.id
    records.append(session, act="incident.closed", about=incident, at=now, actor=actor, facts={"changed": changed})
    return incident
