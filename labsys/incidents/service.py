"""What people do about incidents: report one, and close it with what was changed."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from labsys.incidents import queries, rules, words
from labsys.incidents.models import Incident, IncidentKind, IncidentProcess, IncidentProduct
from labsys.mail import service as mail
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.places import queries as places
from labsys.processes import queries as process_queries
from labsys.products import queries as product_queries


@dataclass(frozen=True)
class IncidentReport:
    """What is told of an incident. `hurt` is who was hurt, empty where nobody was."""

    kind: IncidentKind
    what: str
    done: str = ""
    hurt: str = ""
    station_id: int | None = None
    process_ids: Collection[int] = ()
    product_ids: Collection[int] = ()


@act
def report(act: Act, *, told: IncidentReport, happened_at: datetime) -> Incident:
    """Report an incident as it happened; no rule stands against a fact. Raises NotPermitted or NotFound.

    Those who see to incidents are written to. Who was hurt stays out of that and of the record: it is kept with the
    incident alone, where it can be taken away.
    """
    require(act.actor, Permission.REPORT_INCIDENT)
    station = places.station_or_raise(act.session, told.station_id) if told.station_id is not None else None
    processes = [process_queries.process_or_raise(act.session, key) for key in sorted(set(told.process_ids))]
    products = [product_queries.product_or_raise(act.session, key) for key in sorted(set(told.product_ids))]
    incident = Incident(
        kind=told.kind,
        happened_at=happened_at,
        recorded_at=act.now,
        reported_by_id=act.actor.id,
        station_id=told.station_id,
        what=told.what,
        done=told.done,
        hurt=told.hurt,
        process_rows=[IncidentProcess(process_id=process.id) for process in processes],
        product_rows=[IncidentProduct(product_id=product.id) for product in products],
    )
    act.session.add(incident)
    facts = {
        "kind": told.kind,
        "happened_at": happened_at.isoformat(),
        "station": station.name if station else "",
        "processes": [process.name for process in processes],
        "products": [product.name for product in products],
        "what": told.what,
        "done": told.done,
    }
    act.tell("incident.reported", about=incident, facts=facts)
    act.session.flush()
    letters = [
        mail.Letter(words.reported(incident), person) for person in queries.people_to_tell(act.session, but=act.actor)
    ]
    mail.queue_all(act.session, letters, by=act.actor, now=act.now)
    return incident


@act
def close(act: Act, *, incident_id: int, changed: str) -> Incident:
    """Close an incident with what was changed. Raises NotPermitted, NotFound or IncidentRefused."""
    require(act.actor, Permission.KEEP_INCIDENTS)
    incident = queries.incident_or_raise(act.session, incident_id, lock=True)
    rules.check_closing(closed_at=incident.closed_at, changed=changed)
    incident.changed, incident.closed_at, incident.closed_by_id = changed, act.now, act.actor.id
    act.tell("incident.closed", about=incident, facts={"changed": changed})
    return incident
