import pytest

from labsys import clock
from labsys.people import service
from labsys.people.acts import Act
from labsys.people.models import Person
from tests.support.lab import PASSWORD, SmallLab

CHEAP = (1, 8, 1)


@pytest.fixture
def member(lab: SmallLab) -> Person:
    """The member, with a password."""
    invitation = service.send_reset(
        Act(lab.session, by=lab.person("manager"), now=clock.now()), person_id=lab.ids["member"]
    )
    return service.choose_password(
        Act(lab.session, by=None, now=clock.now()), token=invitation.token, password=PASSWORD, cost=CHEAP
    )
