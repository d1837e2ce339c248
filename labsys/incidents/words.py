"""What is said about an incident in mail. It is read by others: who was hurt is never in it."""

from typing import NamedTuple

from labsys.incidents.models import Incident
from labsys.people.models import Person


class Message(NamedTuple):
    """A mail, and the cause that sends it once."""

    reason_key: str
    subject: str
    body: str


def reason(incident_id: int) -> str:
    """What the keys of the mails about an incident begin with."""
    return f"incident {incident_id} reported: "


def reported(incident: Incident, *, to: Person) -> Message:
    """Something happened, and somebody is to see to it."""
    kind = str(incident.kind).capitalize()
    place = f" at {incident.station.name}" if incident.station else ""
    body = (
        f"{kind}{place}, reported here:\n\n{incident.what}\n\n"
        f"Done about it: {incident.done or 'nothing is written down'}\n\n"
        "Sign in and open Incidents: see to it, and close it with what was changed.\n"
    )
    return Message(f"{reason(incident.id)}{to.id}", f"Incident: {kind.lower()}{place}", body)
