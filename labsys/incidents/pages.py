"""What the pages of incidents show to one person."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from labsys.database import DbSession
from labsys.incidents import queries, rules, words
from labsys.incidents.models import Incident
from labsys.mail import queries as mail
from labsys.people.models import Person
from labsys.timetable.local_time import to_local

_WAITS = "The mail about this has not left yet. This page says so as soon as it has."
_NO_MAIL = "No mail leaves this site: whoever hosts it has named no mail server."


@dataclass(frozen=True)
class IncidentView:
    """An incident as one person may see it: who reported it and who was hurt only where `shows_people`.

    An open one says either that somebody was written to, or that nobody has been told, and why.
    """

    incident: Incident
    shows_people: bool
    hurt: str = ""
    told: str = ""
    nobody_told_why: str = ""

    @property
    def title(self) -> str:
        return str(self.incident.kind).capitalize()


def view_for(session: DbSession, incident: Incident, *, person: Person, zone: ZoneInfo, can_mail: bool) -> IncidentView:
    """Read who was hurt only for those who may see it."""
    shows_people = rules.may_see_hurt(person, reported_by_id=incident.reported_by_id)
    sent_at = mail.first_sent(session, reason=words.reason(incident.id))
    is_untold = incident.closed_at is None and sent_at is None
    return IncidentView(
        incident,
        shows_people=shows_people,
        hurt=queries.who_was_hurt(session, incident.id) if shows_people else "",
        told=f"Written about by mail, first {to_local(sent_at, zone=zone):%a %-d %b %Y, %H:%M}." if sent_at else "",
        nobody_told_why=(_WAITS if can_mail else _NO_MAIL) if is_untold else "",
    )
