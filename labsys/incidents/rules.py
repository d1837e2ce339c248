"""Decisions about incidents: who may see who was hurt, and what ends one."""

from datetime import datetime

from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.records.errors import Refused


class IncidentRefused(Refused):
    """The incident cannot be closed so; the message says why and what to do."""


def may_see_hurt(person: Person, *, reported_by_id: int) -> bool:
    """Whether somebody may see who was hurt: health data, for the safety adviser and whoever reported it."""
    return person.id == reported_by_id or may(person, Permission.KEEP_INCIDENTS)


def check_closing(*, closed_at: datetime | None, changed: str) -> None:
    """Raise IncidentRefused unless it is open and something is said of what was changed."""
    if closed_at is not None:
        raise IncidentRefused("It is closed already. If something new came up, report that.")
    if not changed:
        raise IncidentRefused("Write what was changed, or why nothing needed to be.", field="changed")
