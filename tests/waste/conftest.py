import pytest

from tests.waste.sending import forget_earlier_requests


@pytest.fixture
def technician(app, client_as):
    forget_earlier_requests(app)
    return client_as("technician")


@pytest.fixture
def member(app, client_as):
    forget_earlier_requests(app)
    return client_as("member")
