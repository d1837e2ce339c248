import pytest

from labsys import clock
from labsys.people import service
from labsys.people.models import Person
from tests.support.lab import PASSWORD, SmallLab

CHEAP = (1, 8, 1)


@pytest.fixture
def member(lab: SmallLab) -> Person:
    """The member, with a password."""
    invitation = service.send_reset(
        lab.session, actor=lab.person("manager"), person_id=lab.ids["member"], now=clock.now()
    )
    return service.choose_password(lab.session, token=invitation.token, password=PASSWORD, cost=CHEAP, now=clock.now())
