from datetime import timedelta

import pytest

from labsys.incidents import service
from labsys.incidents.models import IncidentKind
from labsys.people.acts import Act


@pytest.fixture
def report(lab):
    """Report an incident in the small lab."""

    def reported(role="member", *, happened_at=None, **changes):
        told = {"kind": IncidentKind.SPLASH, "what": "Fixer splashed", "hurt": "Hurt Person"}
        now = lab.tick()
        return service.report(
            Act(lab.session, by=lab.person(role), now=now),
            told=service.IncidentReport(**{**told, **changes}),
            happened_at=happened_at or now - timedelta(minutes=1),
        )

    return reported
