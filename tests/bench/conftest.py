import pytest


@pytest.fixture(autouse=True)
def no_lab_here(tmp_path, monkeypatch):
    """Commands run where there is no lab, unless a test says which."""
    monkeypatch.setenv("LABSYS_INSTANCE", str(tmp_path / "nowhere"))


@pytest.fixture
def member(client_as):
    return client_as("member")
