"""A fresh, migrated database for each test, on SQLite and PostgreSQL, and the application on top of it."""

import os
import shutil
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import flask_migrate
import pytest
from flask import Flask
from flask.testing import FlaskClient

from labsys.config import Config
from labsys.database import DbSession, db
from labsys.web import create_app
from tests.support import postgresql
from tests.support.client import InspectingClient
from tests.support.lab import SmallLab

BACKENDS = ("sqlite", "postgresql")
_numbers = count(1)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Whatever touches a database runs on both, unless it says why one is enough."""
    if "backend" in metafunc.fixturenames:
        one = metafunc.definition.get_closest_marker("sqlite_only")
        metafunc.parametrize("backend", BACKENDS[:1] if one else BACKENDS, scope="function")


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str | None]:
    with postgresql.server() as address:
        yield address


def settings(instance: Path, database_url: str, **others: object) -> Config:
    """Settings for a test: cheap passwords, exceptions pass through."""
    return Config(
        instance=instance,
        database_url=database_url,
        secret_key="only-for-tests-" + "x" * 32,
        password_cost=(1, 8, 1),
        testing=True,
        **others,
    )


def migrated(config: Config) -> None:
    app = create_app(config)
    with app.app_context():
        flask_migrate.upgrade()
        db.session.remove()
        db.engine.dispose()


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "labsys.sqlite3"
    migrated(settings(path.parent, f"sqlite:///{path}"))
    return path


@pytest.fixture(scope="session")
def postgresql_template(postgresql_server: str | None, tmp_path_factory: pytest.TempPathFactory) -> str | None:
    if postgresql_server is None:
        return None
    name = f"labsys_template_{os.environ.get('PYTEST_XDIST_WORKER', 'main')}_{os.getpid()}"
    url = postgresql.make_database(postgresql_server, name)
    migrated(settings(tmp_path_factory.mktemp("pg"), url))
    return name


@pytest.fixture
def empty_database(
    backend: str, postgresql_server: str | None, tmp_path: Path, request: pytest.FixtureRequest
) -> Iterator[str]:
    """The address of a database without tables."""
    if backend == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.sqlite3'}"
        return
    server = _server_or_skip(postgresql_server)
    name = f"labsys_empty_{os.getpid()}_{next(_numbers)}"
    yield postgresql.make_database(server, name)
    postgresql.drop_database(server, name)


@pytest.fixture
def database_url(
    backend: str, tmp_path: Path, postgresql_server: str | None, request: pytest.FixtureRequest
) -> Iterator[str]:
    """The address of a migrated database without rows."""
    if backend == "sqlite":
        path = tmp_path / "labsys.sqlite3"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        yield f"sqlite:///{path}"
        return
    server = _server_or_skip(postgresql_server)
    template = request.getfixturevalue("postgresql_template")
    name = f"labsys_{os.getpid()}_{next(_numbers)}"
    yield postgresql.make_database(server, name, template=template)
    postgresql.drop_database(server, name)


def _server_or_skip(address: str | None) -> str:
    if address is None:
        why = "no PostgreSQL found: nothing was proven about PostgreSQL here"
        if os.environ.get("CI") == "true":
            pytest.fail(why)
        pytest.skip(why)
    return address


@pytest.fixture
def app(database_url: str, tmp_path: Path) -> Iterator[Flask]:
    app = create_app(settings(tmp_path, database_url))
    app.test_client_class = InspectingClient
    yield app
    with app.app_context():
        db.engine.dispose()


@pytest.fixture
def session(app: Flask) -> Iterator[DbSession]:
    with app.app_context():
        yield db.session
        db.session.rollback()


@pytest.fixture
def lab(session: DbSession) -> SmallLab:
    """A lab with one person of each role, streams, products, bottles and a film line."""
    return SmallLab.set_up(session)


@pytest.fixture
def client_as(app: Flask, lab: SmallLab) -> Callable[..., FlaskClient]:
    """Give a client signed in as the person of a role; without one, nobody."""

    def signed_in(role: str | None = None) -> FlaskClient:
        client = app.test_client()
        if role is not None:
            person = lab.person(role)
            with client.session_transaction() as cookies:
                cookies["_user_id"] = person.get_id()
                cookies["_fresh"] = True
        return client

    return signed_in
