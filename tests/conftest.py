"""A fresh database for each test, on SQLite and PostgreSQL, with a small lab in it, and the application on top."""

import gc
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import count
from pathlib import Path
from typing import Any

import flask_migrate
import hypothesis
import pytest
from flask import Flask
from flask.testing import FlaskClient
from jinja2 import FileSystemBytecodeCache

from labsys.config import Config
from labsys.database import DbSession, db
from labsys.web import create_app
from tests.support import postgresql
from tests.support.application import LentApplication, make_app
from tests.support.beginnings import Beginnings, SharedLab
from tests.support.lab import SmallLab
from tests.support.lab_databases import CopiedDatabase, LabDatabase, RefilledDatabase
from tests.support.processes import NewProcess, OwnProcess

# No proof depends on how fast the machine is: a slow one takes longer, and that is all.
hypothesis.settings.register_profile("labsys", deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow])
hypothesis.settings.load_profile("labsys")

BACKENDS = ("sqlite", "postgresql")
_numbers = count(1)


class Content(StrEnum):
    """What a new database holds."""

    NOTHING = "nothing"
    TABLES = "tables"
    LAB = "a small lab"


@dataclass(frozen=True)
class Templates:
    """Databases that are copied for each test, by what they hold, and the lab in the last as it was left."""

    of: dict[Content, str]
    lab: SmallLab


def _new_name() -> str:
    return f"labsys_{os.getpid()}_{next(_numbers)}"


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Whatever touches a database runs on both, unless it says why one is enough."""
    if "backend" in metafunc.fixturenames:
        one = metafunc.definition.get_closest_marker("sqlite_only")
        metafunc.parametrize("backend", BACKENDS[:1] if one else BACKENDS, scope="function")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Take the long ones first: one of the workers has them together, and makes the lab they share but once."""
    items.sort(key=lambda item: item.get_closest_marker("slow") is None and item.get_closest_marker("browser") is None)


def pytest_collection_finish() -> None:
    """What was read stays to the end: the collector, which would go through it again and again, need not."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 50)


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


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str | None]:
    with postgresql.server() as address:
        yield address


@pytest.fixture(scope="session")
def sqlite_templates(tmp_path_factory: pytest.TempPathFactory) -> Templates:
    folder = tmp_path_factory.mktemp("templates")
    paths = {content: folder / f"{content.name}.sqlite3" for content in Content}
    paths[Content.NOTHING].touch()
    _migrate(settings(folder, f"sqlite:///{paths[Content.TABLES]}"))
    shutil.copy(paths[Content.TABLES], paths[Content.LAB])
    lab = _furnish(settings(folder, f"sqlite:///{paths[Content.LAB]}"))
    return Templates({content: str(path) for content, path in paths.items()}, lab)


@pytest.fixture(scope="session")
def postgresql_templates(
    postgresql_server: str | None, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Templates | None]:
    if postgresql_server is None:
        yield None
        return
    folder = tmp_path_factory.mktemp("postgresql")
    names = {content: f"labsys_{content.name.lower()}_{os.getpid()}" for content in Content}
    names[Content.NOTHING] = "template0"
    _migrate(settings(folder, postgresql.make_database(postgresql_server, names[Content.TABLES])))
    url = postgresql.make_database(postgresql_server, names[Content.LAB], template=names[Content.TABLES])
    yield Templates(names, _furnish(settings(folder, url)))
    for name in (names[Content.TABLES], names[Content.LAB]):
        postgresql.drop_database(postgresql_server, name)


def _migrate(config: Config) -> None:
    with create_app(config).app_context():
        flask_migrate.upgrade()
        db.session.remove()
        db.engine.dispose()


def _furnish(config: Config) -> SmallLab:
    with create_app(config).app_context():
        lab = SmallLab.set_up(db.session)
        db.session.remove()
        db.engine.dispose()
    return lab


@pytest.fixture
def new_process() -> Iterator[NewProcess]:
    """Begin processes of their own; none outlives the test."""
    begun: list[OwnProcess] = []

    def begin(main: Callable[[], object], *arguments: str, environment: Mapping[str, str]) -> OwnProcess:
        begun.append(OwnProcess(main, *arguments, environment=environment))
        return begun[-1]

    yield begin
    for process in begun:
        process.end()


@pytest.fixture
def templates(backend: str, postgresql_server: str | None, request: pytest.FixtureRequest) -> Templates:
    if backend == "postgresql" and postgresql_server is None:
        why = "no PostgreSQL found: nothing was proven about PostgreSQL here"
        if os.environ.get("CI") == "true":
            pytest.fail(why)
        pytest.skip(why)
    return request.getfixturevalue(f"{backend}_templates")


@pytest.fixture
def new_database(
    backend: str, templates: Templates, tmp_path: Path, postgresql_server: str
) -> Iterator[Callable[..., str]]:
    """Make databases: each call gives the address of a new one."""
    made = []

    def make(content: Content = Content.LAB) -> str:
        name = _new_name()
        if backend == "sqlite":
            shutil.copy(templates.of[content], tmp_path / f"{name}.sqlite3")
            return f"sqlite:///{tmp_path / f'{name}.sqlite3'}"
        made.append(name)
        return postgresql.make_database(postgresql_server, name, template=templates.of[content])

    yield make
    for name in made:
        postgresql.drop_database(postgresql_server, name)


@pytest.fixture(scope="session")
def compiled_templates(tmp_path_factory: pytest.TempPathFactory) -> FileSystemBytecodeCache:
    """Templates compiled once for all the applications that tests make."""
    return FileSystemBytecodeCache(str(tmp_path_factory.mktemp("templates")))


@pytest.fixture(scope="session")
def sqlite_shared(
    sqlite_templates: Templates, tmp_path_factory: pytest.TempPathFactory, compiled_templates: FileSystemBytecodeCache
) -> Iterator[SharedLab]:
    folder = tmp_path_factory.mktemp("shared")
    database = CopiedDatabase(Path(sqlite_templates.of[Content.LAB]), folder, new_name=_new_name)
    yield from _shared(database, folder, compiled_templates)


@pytest.fixture(scope="session")
def postgresql_shared(
    postgresql_server: str,
    postgresql_templates: Templates,
    tmp_path_factory: pytest.TempPathFactory,
    compiled_templates: FileSystemBytecodeCache,
) -> Iterator[SharedLab]:
    database = RefilledDatabase(postgresql_server, postgresql_templates.of[Content.LAB], new_name=_new_name)
    yield from _shared(database, tmp_path_factory.mktemp("shared"), compiled_templates)


def _shared(database: LabDatabase[Any], folder: Path, compiled: FileSystemBytecodeCache) -> Iterator[SharedLab]:
    lent = LentApplication(make_app(settings(folder, database.fill()), compiled))
    yield SharedLab(database, lent)
    lent.put_down()
    database.drop()


@pytest.fixture
def new_app(
    backend: str,
    new_database: Callable[..., str],
    tmp_path: Path,
    compiled_templates: FileSystemBytecodeCache,
    request: pytest.FixtureRequest,
) -> Iterator[Callable[..., Flask]]:
    """Give applications, each on a database of its own: first the one that all tests share, unless settings differ."""
    shared: list[SharedLab] = []
    made: list[Flask] = []

    def make(content: Content = Content.LAB, **others: object) -> Flask:
        if shared or others:
            made.append(make_app(settings(tmp_path, new_database(content), **others), compiled_templates))
            return made[-1]
        shared.append(request.getfixturevalue(f"{backend}_shared"))
        address = shared[0].database.fill() if content is Content.LAB else new_database(content)
        return shared[0].lent.lend(settings(tmp_path, address))

    yield make
    for app in made:
        with app.app_context():
            db.engine.dispose()


@pytest.fixture
def app(new_app: Callable[..., Flask]) -> Flask:
    """The application on a small lab."""
    return new_app()


@pytest.fixture
def session(app: Flask) -> Iterator[DbSession]:
    with app.app_context():
        yield db.session
        db.session.rollback()


@pytest.fixture
def lab(
    app: Flask, session: DbSession, backend: str, templates: Templates, tmp_path: Path, request: pytest.FixtureRequest
) -> SmallLab:
    """The small lab in the database, to go on with."""
    shared: SharedLab = request.getfixturevalue(f"{backend}_shared")
    if app is not shared.lent.app:
        return templates.lab.resume(session)
    begin = Beginnings(shared.database, lambda address: shared.lent.lend(settings(tmp_path, address)), shared.known)
    return templates.lab.resume(session, begin)


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
