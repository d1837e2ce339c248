import pytest


@pytest.fixture
def member(client_as):
    return client_as("member")
