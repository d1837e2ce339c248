"""Makes the demonstration lab in an instance, writes its documents, and says who can sign in."""

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import flask_migrate
from flask import Flask
from sqlalchemy import inspect, select

from labsys.baths import queries as baths
from labsys.bookings.models import Booking
from labsys.chemistry.sizes import size_of
from labsys.config import Config
from labsys.database import db
from labsys.demo.fixtures import read_fixtures
from labsys.demo.history import run
from labsys.demo.play import WEEKS, Play
from labsys.documents.assessment import ASSESSMENT, OfAssessment
from labsys.documents.bath_label import BATH_LABEL, OfBath
from labsys.documents.document import Document, P
from labsys.documents.service import issue_document
from labsys.documents.session_sheet import SESSION_SHEET
from labsys.documents.waste_log import WASTE_LOG
from labsys.people.acts import Act
from labsys.people.models import Person, Role
from labsys.planning.asked import AskedPlan
from labsys.records import queries as records
from labsys.risk import queries as assessments
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import day_span
from labsys.timetable.period import Period
from labsys.timetable.spans import Span
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
    """Issue the papers of the day and write them as files.

    A label for each bath in service, the session sheet of everybody who booked today, every assessment that holds, and
    the waste log of all weeks played.
    """
    folder.mkdir(parents=True, exist_ok=True)
    config: Config = app.config["LABSYS"]
    zone = records.zone(db.session)
    today = to_local(now, zone=zone).date()
    written = []

    def write(name: str, document: Document[P, Any], asked: P, *, by: Person) -> None:
        paper = issue_document(Act(db.session, by=by, now=now), document, asked, public_url=config.public_url)
        (folder / name).write_bytes(paper.content)
        written.append(folder / name)

    for code, bath_id in [(bath.code, bath.id) for bath in baths.baths_here(db.session) if bath.is_in_service]:
        write(f"label-{code}.pdf", BATH_LABEL, OfBath(bath_id), by=_first(Role.TECHNICIAN))
    for person_id, asked in _planned_on(day_span(today, zone=zone)):
        person = db.session.get_one(Person, person_id)
        write(f"session-sheet-{asked.booking_id}.pdf", SESSION_SHEET, asked, by=person)
    adviser = _first(Role.SAFETY_ADVISER)
    for assessed in assessments.overview(db.session, today=today, zone=zone).assessments:
        if assessed.approved is not None:
            assessment = assessed.assessment
            write(f"assessment-{assessment.code}.pdf", ASSESSMENT, OfAssessment(assessment.id), by=adviser)
    period = Period(today - timedelta(weeks=WEEKS, days=1), today)
    write("waste-log.pdf", WASTE_LOG, period, by=_first(Role.MANAGER))
    return written


def _first(role: Role) -> Person:
    """The first of the demonstration's people in a role."""
    people = read_fixtures(asset_root() / "demo_fixtures").people
    email = next(person.email for person in people if role in person.roles)
    return db.session.execute(select(Person).where(Person.email == email)).scalar_one()


def _planned_on(day: Span) -> list[tuple[int, AskedPlan]]:
    """What was planned for the bookings that begin on a day, and by whom."""
    booked = db.session.execute(
        select(Booking)
        .where(Booking.starts_at >= day.start, Booking.starts_at < day.end, Booking.cancelled_at.is_(None))
        .order_by(Booking.id)
    ).scalars()
    return [
        (
            booking.person_id,
            AskedPlan(
                process_id=booking.process_id,
                size=size_of(key=booking.planned_size),
                count=booking.planned_count,
                booking_id=booking.id,
            ),
        )
        for booking in booked
        if booking.process_id and booking.planned_size and booking.planned_count
    ]


def sign_in_names() -> list[str]:
    """Who can sign in, and how, as lines to print."""
    people = read_fixtures(asset_root() / "demo_fixtures").people
    names = [f"  {person.email:<32} {', '.join(sorted(person.roles))}" for person in people]
    return [f"Sign in with the password “{PASSWORD}” as:", *names]
