"""The health page: for whoever hosts the lab, open to anyone, and without secrets."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import text as sql

from labsys import clock
from labsys.database import db
from labsys.desk.health import jobs_note, migration_note, sqlite_note
from labsys.jobs import service as jobs
from labsys.records.transactions import transaction
from labsys.web import create_app
from tests.conftest import Content, settings


def test_health_tells_engine_and_migration_and_no_secret(new_app: Callable[..., Flask], backend: str) -> None:
    app = new_app(Content.TABLES)
    answer = app.test_client().get("/health")
    assert answer.status_code == 200
    assert answer.mimetype == "application/json"
    with app.app_context():
        applied = db.session.execute(sql("SELECT version_num FROM alembic_version")).scalar_one()
    told = answer.json
    assert told is not None
    assert (told["database"], told["engine"]) == ("reachable", backend)
    assert told["migration"] == told["migration_wanted"] == applied
    assert told["engine_version"][0].isdigit()
    assert set(told) == {
        *("database", "engine", "engine_version", "migration", "migration_wanted", "notes", "oldest_due_job_s")
    }
    for secret in (app.config["SECRET_KEY"], app.config["SQLALCHEMY_DATABASE_URI"]):
        assert secret not in answer.get_data(as_text=True)


def test_health_says_when_the_tables_are_missing(new_app: Callable[..., Flask]) -> None:
    answer = new_app(Content.NOTHING).test_client().get("/health")
    assert answer.status_code == 200
    assert answer.json is not None
    assert answer.json["migration"] is None
    assert any("The tables are at step none" in note for note in answer.json["notes"])


@pytest.mark.sqlite_only
def test_health_is_503_when_the_database_does_not_answer(tmp_path: Path) -> None:
    gone = tmp_path / "no such folder" / "labsys.sqlite3"
    answer = create_app(settings(tmp_path, f"sqlite:///{gone}")).test_client().get("/health")
    assert answer.status_code == 503
    assert answer.json == {"database": "not reachable"}


def test_health_says_how_long_the_oldest_due_job_has_waited(new_app: Callable[..., Flask]) -> None:
    app = new_app(Content.TABLES)
    now = clock.now()
    with app.app_context():
        for kind, ago in (("mail", 20), ("verify", 30), ("mail", -5), ("of a newer labsys", 90)):
            at = now - timedelta(minutes=ago)
            transaction(jobs.queue)(db.session, kind=kind, due_at=at, now=at)
        db.session.remove()
    told = app.test_client().get("/health").json
    assert told is not None
    assert 30 * 60 <= told["oldest_due_job_s"] <= (30 * 60 + (clock.now() - now).total_seconds())
    assert any("due for 30 minutes" in note for note in told["notes"])


def test_ten_minutes_are_no_reason_to_worry() -> None:
    assert jobs_note(timedelta(minutes=10)) == ""
    assert "11 minutes" in jobs_note(timedelta(minutes=11))


@pytest.mark.parametrize(
    ("version", "warned"),
    [((3, 40, 1), True), ((3, 51, 2), True), ((3, 51, 3), False), ((3, 52, 0), False), ((4, 0, 0), False)],
)
def test_sqlite_before_3_51_3_is_told_of(version: tuple[int, ...], warned: bool) -> None:
    """The first version without the fault: SQLite's page on write-ahead logging, "The WAL-Reset Bug" (from memory)."""
    assert bool(sqlite_note(version)) is warned


def test_a_database_behind_its_version_is_told_of() -> None:
    assert migration_note("0006", "0006") == ""
    assert "at step 0005; this version of labsys wants 0006" in migration_note("0005", "0006")
