"""What the pages of incidents show to one person."""

from dataclasses import dataclass

from labsys.database import DbSession
from labsys.incidents import queries, rules
from labsys.incidents.models import Incident
from labsys.people.models import Person


@dataclass(frozen=True)
class IncidentView:
    """An incident as one person may see it: who reported it and who was hurt only where `shows_people`."""

    incident: Incident
    shows_people: bool
    hurt: str = ""

    @property
    def title(self) -> str:
        return str(self.incident.kind).capitalize()


def view_for(session: DbSession, incident: Incident, *, person: Person) -> IncidentView:
    """Read who was hurt only for those who may see it."""
    if not rules.may_see_hurt(person, reported_by_id=incident.reported_by_id):
        return IncidentView(incident, shows_people=False)
    return IncidentView(incident, shows_people=True, hurt=queries.who_was_hurt(session, incident.id))
