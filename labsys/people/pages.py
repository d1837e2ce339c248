"""What pages about people say: roles and waits in words, whom to ask."""

import math
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from labsys.database import DbSession
from labsys.people import queries
from labsys.people.models import Role
from labsys.people.permissions import Permission, roles_that_may

ROLE_DETAILS = {
    Role.MEMBER: "Books places, logs uses and pours waste.",
    Role.INSTRUCTOR: "As a member; also holds classes, signs people off and tests baths.",
    Role.TECHNICIAN: "Mixes, tests, replenishes and dumps baths; keeps the store, the waste and the places.",
    Role.SAFETY_ADVISER: "Confirms the hazards of products; keeps inductions; sees the waste log and the record.",
    Role.MANAGER: (
        "Invites people and gives roles; keeps places, store, waste and tablets; sees the record. "
        "Stands in for a role as long as nobody else holds it."
    ),
}
ASKED_AT_MOST = 3


def display(roles: Collection[Role]) -> str:
    """Say the roles of a person, in the order of the list of roles.

    >>> display({Role.MANAGER, Role.TECHNICIAN, Role.MEMBER})
    'member, technician and manager'
    >>> display([Role.SAFETY_ADVISER])
    'safety adviser'
    """
    *most, last = [role.value for role in Role if role in roles] or ["no role"]
    return f"{', '.join(most)} and {last}" if most else last


@dataclass(frozen=True)
class WhomToAsk:
    """Who may do what was refused: the roles it is open to, and some who hold one, where these are few."""

    roles: frozenset[Role]
    names: list[str]


def whom_to_ask(session: DbSession, permission: Permission) -> WhomToAsk:
    """Find who may do what somebody may not. What every member may is nobody's in particular."""
    roles = roles_that_may(permission)
    people = [] if Role.MEMBER in roles else queries.people_who_may(session, permission)
    return WhomToAsk(roles, [person.name for person in people[:ASKED_AT_MOST]])


def wait_in_words(*, until: datetime, now: datetime) -> str:
    """Say how long to wait, rounded up to whole minutes.

    >>> from datetime import UTC, timedelta
    >>> noon = datetime(2026, 3, 2, 12, tzinfo=UTC)
    >>> wait_in_words(until=noon + timedelta(seconds=61), now=noon)
    '2 minutes'
    >>> wait_in_words(until=noon + timedelta(seconds=5), now=noon)
    '1 minute'
    """
    minutes = max(1, math.ceil((until - now).total_seconds() / 60))
    return "1 minute" if minutes == 1 else f"{minutes} minutes"
