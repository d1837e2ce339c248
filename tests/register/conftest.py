import pytest


@pytest.fixture
def adviser(client_as):
    return client_as("safety adviser")


@pytest.fixture
def member(client_as):
    return client_as("member")
