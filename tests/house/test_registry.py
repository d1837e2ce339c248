"""Every row that an act or a code speaks of leads to a page: each kind in the registry is opened."""

import ast
from collections.abc import Callable
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select

from labsys.desk.registry import KINDS, LISTED, OF_CODE, OF_TABLE, OWNER_OF, address_of
from labsys.people.models import Role
from labsys.people.permissions import may
from labsys.people.row_kinds import Page
from labsys.records.models import CodeKind, Lab
from tests.support.everything import furnish
from tests.support.lab import SmallLab

HOUSE = Path(__file__).parents[2]
# What the acts are about, by the name it has there.
TOLD_OF = {
    "act.actor": "people",
    "action": "risk_actions",
    "assessment": "risk_assessments",
    "bath": "baths",
    "booking": "bookings",
    "bottle": "bottles",
    "card": "cards",
    "check": "checks",
    "closure": "closures",
    "collection": "collections",
    "container": "waste_containers",
    "cylinder": "cylinders",
    "declaration": "declarations",
    "device": "enrolled_devices",
    "document": "issued_documents",
    "found[0]": "sign_offs",
    "incident": "incidents",
    "induction": "inductions",
    "invitation.person": "people",
    "job": "jobs",
    "lab": "lab",
    "line": "bath_lines",
    "made": "pours",
    "made[0]": "sign_offs",
    "mail": "outgoing_mail",
    "person": "people",
    "process": "processes",
    "product": "products",
    "room": "rooms",
    "rotation": "rotations",
    "rule": "store_rules",
    "sheet": "data_sheets",
    "shelf": "shelves",
    "signed": "sign_offs",
    "station": "stations",
    "stream": "waste_streams",
    "use": "uses",
    "version": "risk_versions",
    "vessel": "working_vessels",
    "withdrawal": "withdrawals",
}
ALSO_TOLD_OF = {"inductions/service.py": {"version": "induction_versions"}}

pytestmark = pytest.mark.sqlite_only
ClientAs = Callable[..., FlaskClient]


def test_every_page_and_label_in_the_registry_opens(app: Flask, lab: SmallLab, client_as: ClientAs):
    arguments = furnish(lab)("own", "member")
    astray = []
    for kind in KINDS:
        row_id = arguments.get(kind.pages[0].argument, 1)
        for page in (*kind.pages, *([kind.label] if kind.label else [])):
            role = next(role for role in reversed(Role) if may(lab.person(role), page.needed))
            with app.test_request_context():
                address = page.address(row_id)
            with client_as(role).get(address) as answer:
                if answer.status_code != 200:
                    astray.append(f"{kind.called}: {address} as {role}: {answer.status}")
    assert not astray, "\n".join(astray)


def test_a_row_without_a_page_leads_to_that_of_its_owner_or_to_its_list(app: Flask, lab: SmallLab, client_as: ClientAs):
    furnish(lab)
    led = set()
    for table in (*OWNER_OF, *LISTED):
        row_id = lab.session.execute(select(Lab.metadata.tables[table].c.id).limit(1)).scalar()
        with app.test_request_context():
            address = address_of(lab.session, table, row_id or 1)
        if address is None:
            assert row_id is None, table
            continue
        role = "technician" if table == "cylinders" else "manager"
        assert client_as(role).get(address).status_code == 200, address
        led.add(table)
    assert led >= {*LISTED, "pours", "data_sheets", "induction_versions", "risk_versions", "risk_actions"}


def test_each_kind_of_code_leads_somewhere():
    assert set(OF_CODE) == set(CodeKind)
    assert all(OF_CODE[kind.coded] is kind for kind in KINDS if kind.coded), "two kinds share a code"


def test_whatever_an_act_is_about_leads_to_a_page_but_the_lab_itself():
    told = {(path, name) for path, name in _told()}
    assert {name for _, name in told} == set(TOLD_OF), "name here what a new act is about"
    tables = {ALSO_TOLD_OF.get(path, {}).get(name, TOLD_OF[name]) for path, name in told}
    assert tables - {*OF_TABLE, *OWNER_OF, *LISTED} == {"lab"}


def _told() -> set[tuple[str, str]]:
    """What stands as `about` wherever an act is told, with the file it stands in."""
    room = HOUSE / "labsys"
    return {
        (path.relative_to(room).as_posix(), ast.unparse(keyword.value))
        for path in room.glob("*/**/*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "act.tell"
        for keyword in node.keywords
        if keyword.arg == "about"
    }


def test_a_row_that_is_not_there_any_more_has_no_page(lab: SmallLab):
    assert address_of(lab.session, "checks", 9_999) is None
    assert address_of(lab.session, "lab", 1) is None


def test_a_page_takes_the_number_of_a_row_as_it_is_written_there(app: Flask):
    with app.test_request_context():
        assert Page("places.index").address(3) == "/places"
        assert Page("documents.labels", "label", written="bath-{}").address(3) == "/documents/labels?label=bath-3"
