import pytest


@pytest.fixture
def technician(client_as):
    return client_as("technician")


@pytest.fixture
def member(client_as):
    return client_as("member")
