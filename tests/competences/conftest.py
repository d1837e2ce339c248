import pytest
import time_machine

from labsys.competences import service
from labsys.competences.models import Competence, CompetenceGrant


@pytest.fixture
def as_role(lab, client_as):
    """A client of a role, a minute after the last thing that happened."""
    with time_machine.travel(lab.now, tick=False) as clock:

        def signed_in(role):
            clock.move_to(lab.tick(), tick=False)
            return client_as(role)

        yield signed_in


@pytest.fixture
def nobody_holds(lab):
    """Revoke what everybody holds of these competences."""

    def revoke(*competences: Competence) -> None:
        for granted in lab.session.query(CompetenceGrant).filter(CompetenceGrant.revoked_at.is_(None)):
            if granted.competence in competences:
                service.revoke(lab.act("manager"), grant_id=granted.id, because="For the test")

    return revoke
