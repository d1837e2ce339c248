"""Which pages are measured, as whom, and how a client comes to be signed in."""

import re
from dataclasses import dataclass
from urllib.parse import quote

from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select

from labsys.database import db

_TOKEN = re.compile(r'name="csrf_token"[^>]* value="([^"]+)"')


@dataclass(frozen=True)
class Visit:
    """A page that somebody opens, or a form that they send from it."""

    name: str
    who: str
    path: str
    sent: tuple[tuple[str, str], ...] = ()
    is_served: bool = False  # measured under load too

    @property
    def key(self) -> str:
        return re.sub(r"\W+", "-", self.name).strip("-").lower()


def visits() -> list[Visit]:
    """The pages of the lab that is open; the rows shown are its newest. Without a booking of one's own, no plan."""
    line = _newest("bath_lines", "work", "film")
    bath = _newest("baths", "line_id", line)
    booking = _newest_or_none("bookings", "person_id", _person("lukasz"))
    codes = db.metadata.tables["codes"]
    code = db.session.execute(select(codes.c.code).where(codes.c.kind == "T", codes.c.row_id == bath)).scalar_one()
    use = (("went-film-120", "1"),)
    return [
        Visit("Today, member", "lukasz", "/", is_served=True),
        Visit("Today, technician", "joss", "/"),
        Visit("Today, manager", "rosalind", "/", is_served=True),
        Visit("Baths", "lukasz", "/baths", is_served=True),
        Visit("A bath", "joss", f"/baths/{bath}", is_served=True),
        Visit("Mix a bath", "joss", "/baths/mix"),
        Visit("Log a use, form", "lukasz", f"/baths/lines/{line}/log", is_served=True),
        Visit("Log a use, act", "lukasz", f"/baths/lines/{line}/log", use, is_served=True),
        Visit("Own uses", "lukasz", "/uses"),
        Visit("Bookings, the board", "lukasz", "/bookings", is_served=True),
        Visit("Book, form", "lukasz", "/bookings/book"),
        Visit("Own bookings", "lukasz", "/bookings/mine"),
        *([Visit("Plan of a session", "lukasz", f"/plan?booking_id={booking}")] if booking else []),
        Visit("Chemical store", "joss", "/store"),
        Visit("Register", "odile", "/register"),
        Visit("In contact", "odile", "/register/contact"),
        Visit("Waste", "joss", "/waste"),
        Visit("Waste log", "rosalind", "/documents/waste-log"),
        Visit("Documents", "rosalind", "/documents"),
        Visit("Inductions of people", "imre", "/inductions/people"),
        Visit("Sign off", "imre", "/inductions/sign-off"),
        Visit("Assessments", "odile", "/assessments"),
        Visit("Incidents", "odile", "/incidents"),
        Visit("People", "rosalind", "/people"),
        Visit("Mail", "rosalind", "/mail"),
        Visit("Scan a bath", "lukasz", f"/c/{quote(code)}"),
    ]


def signed_in(app: Flask, who: str) -> FlaskClient:
    """A client as one of the demonstration's people, by the first part of their address for mail."""
    people = db.metadata.tables["people"]
    with app.app_context():
        row = select(people.c.id, people.c.session_version).where(people.c.id == _person(who))
        number, version = db.session.execute(row).one()
    client = app.test_client()
    with client.session_transaction() as cookies:
        cookies["_user_id"], cookies["_fresh"] = f"{number}:{version}", True
    return client


def token_in(page: str) -> str:
    """The token against forged requests that a page's forms carry."""
    found = _TOKEN.search(page)
    assert found, "no form on the page"
    return found[1]


def _person(who: str) -> int:
    people = db.metadata.tables["people"]
    return db.session.execute(select(people.c.id).where(people.c.email.like(f"{who}@%"))).scalar_one()


def _newest(table: str, column: str, value: object) -> int:
    newest = _newest_or_none(table, column, value)
    assert newest is not None, f"no row of {table} with {column} = {value}"
    return newest


def _newest_or_none(table: str, column: str, value: object) -> int | None:
    rows = db.metadata.tables[table]
    newest = select(rows.c.id).where(rows.c[column] == value).order_by(rows.c.id.desc()).limit(1)
    return db.session.execute(newest).scalar_one_or_none()
