"""Makes the demonstration lab in an instance, writes its documents, and says who can sign in."""

from datetime import datetime, timedelta
from pathlib import Path

import flask_migrate
from flask import Flask
from sqlalchemy import inspect

from labsys.baths import queries as baths
from labsys.config import Config
from labsys.database import db
from labsys.demo.fixtures import read_fixtures
from labsys.demo.history import run
from labsys.demo.play import WEEKS, Play
from labsys.documents import service as documents
from labsys.documents.collect_log import Period
from labsys.people.queries import person_by_email
from labsys.records import queries as records
from labsys.timetable.local_time import to_local
from labsys.web import asset_root

PASSWORD = "developer stop fixer wash"  # noqa: S105 - printed for everybody to see; the lab is a demonstration


class RealLab(Exception):
    """The instance holds a lab that is not the demonstration."""

    def __str__(self) -> str:
        return "This instance holds a real lab. Set LABSYS_INSTANCE to another folder for the demonstration."


def make(app: Flask, *, now: datetime, fresh: bool) -> bool:
    """Play the demonstration lab into the instance. Returns False where it was there already.

    Raises RealLab, having changed nothing.
    """
    if inspect(db.engine).has_table("lab") and (lab := records.lab_or_none(db.session)) is not None:
        if not lab.is_demo:
            raise RealLab
        if not fresh:
            return False
        db.session.remove()
        flask_migrate.downgrade(revision="base")
    flask_migrate.upgrade()
    config: Config = app.config["LABSYS"]
    fixtures = read_fixtures(asset_root() / "demo_fixtures")
    run(Play(db.session, fixtures, now=now, password=PASSWORD, cost=config.password_cost))
    return True


def write_documents(app: Flask, folder: Path, *, now: datetime) -> list[Path]:
    """Issue a label for each bath in service and the waste log of the weeks played, and write them as files."""
    folder.mkdir(parents=True, exist_ok=True)
    config: Config = app.config["LABSYS"]
    people = read_fixtures(asset_root() / "demo_fixtures").people
    technician = person_by_email(db.session, next(one.email for one in people if "technician" in one.roles))
    manager = person_by_email(db.session, next(one.email for one in people if "manager" in one.roles))
    assert technician is not None and manager is not None  # noqa: S101, PT018 - both are in the fixtures
    written = []
    for code, bath_id in [(bath.code, bath.id) for bath in baths.baths_here(db.session) if bath.is_in_service]:
        label = documents.issue_bath_label(
            db.session, actor=technician, bath_id=bath_id, public_url=config.public_url, now=now
        )
        written.append(_write(folder / f"label-{code}.pdf", label.content))
    today = to_local(now, zone=records.zone(db.session)).date()
    log = documents.issue_waste_log(
        db.session,
        actor=manager,
        period=Period(today - timedelta(weeks=WEEKS, days=1), today),
        public_url=config.public_url,
        now=now,
    )
    written.append(_write(folder / "waste-log.pdf", log.content))
    return written


def sign_in_names() -> list[str]:
    """Who can sign in, and how, as lines to print."""
    people = read_fixtures(asset_root() / "demo_fixtures").people
    names = [f"  {person.email:<32} {', '.join(sorted(person.roles))}" for person in people]
    return [f"Sign in with the password “{PASSWORD}” as:", *names]


def _write(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path
