import pytest
import time_machine

from tests.planning.furnishing import add_film_process


@pytest.fixture
def clock(lab):
    """A clock that stands at the lab's time until it is moved."""
    with time_machine.travel(lab.now, tick=False) as traveller:
        yield traveller


@pytest.fixture
def technician(client_as, clock):
    return client_as("technician")


@pytest.fixture
def adviser(client_as, clock):
    return client_as("safety adviser")


@pytest.fixture
def member(client_as, clock):
    return client_as("member")


@pytest.fixture
def process(lab):
    """Black-and-white film in three baths, a developer with a sensitiser first."""
    return add_film_process(lab)
