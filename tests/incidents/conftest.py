from datetime import timedelta

import pytest

from labsys.incidents import service
from labsys.incidents.models import IncidentKind


@pytest.fixture
def report(lab):
    """Report an incident in the small lab."""

    def reported(role="member", *, happened_at=None, **changes):
        told = {"kind": IncidentKind.SPLASH, "what": "Fixer splashed", "hurt": "Hurt Person"}
        now = lab.tick()
        return service.report(
            lab.session,
            actor=lab.person(role),
            told=service.Told(**{**told, **changes}),
            happened_at=happened_at or now - timedelta(minutes=1),
            now=now,
        )

    return reported
