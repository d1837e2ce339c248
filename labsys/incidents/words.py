"""What is said about an incident in mail. It is read by others: who was hurt is never in it."""

from labsys.incidents.models import Incident
from labsys.mail.kinds import INCIDENT, Message


def reason(incident_id: int) -> str:
    """What the keys of the mails about an incident begin with."""
    return f"incident {incident_id} reported"


def reported(incident: Incident) -> Message:
    """Something happened, and somebody is to see to it."""
    kind = str(incident.kind).capitalize()
    place = f" at {incident.station.name}" if incident.station else ""
    body = (
        f"{kind}{place}, reported here:\n\n{incident.what}\n\n"
        f"Done about it: {incident.done or 'nothing is written down'}\n\n"
        "See to it, and close it with what was changed.\n"
    )
    return Message(INCIDENT, reason(incident.id), f"Incident: {kind.lower()}{place}", body, f"/incidents/{incident.id}")
