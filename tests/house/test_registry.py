"""Every row that an act or a code speaks of leads to a page: each kind in the registry is opened."""

import ast
import json
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
from labsys.records.models import CodeKind, Lab, RecordEntry
from tests.support.everything import furnish
from tests.support.lab import SmallLab

HOUSE = Path(__file__).parents[2]
# The tables that acts are about, by the first word of the act's name on the record.
ABOUT = {
    "action": {"risk_actions"},
    "agreement": {"agreements"},
    "alert": {"duty_alerts"},
    "alert_contacts": {"lab"},
    "assessment": {"risk_assessments", "risk_versions"},
    "bath": {"baths", "checks"},
    "booking": {"bookings"},
    "bottle": {"bottles", "unlabelled_bottles"},
    "calendar": {"calendar_addresses"},
    "call_in": {"call_ins"},
    "card": {"cards"},
    "chemical": {"declarations"},
    "class": {"bookings"},
    "closure": {"closures"},
    "competence": {"competence_grants"},
    "container": {"waste_containers"},
    "cylinder": {"cylinders"},
    "data_sheet": {"data_sheets"},
    "consent": {"sewer_consents"},
    "discharge": {"discharges"},
    "duty": {"duty_rules"},
    "equipment": {"equipment"},
    "fault": {"equipment_faults"},
    "film": {"left_films"},
    "handover": {"handover_notes"},
    "document": {"issued_documents"},
    "fair_use": {"fair_use"},
    "film_time": {"film_times"},
    "fixers": {"rotations"},
    "incident": {"incidents"},
    "induction": {"inductions", "induction_versions", "sign_offs", "withdrawals"},
    "course": {"courses"},
    "job": {"jobs"},
    "lab": {"lab"},
    "kept": {"kept_entries"},
    "late_use": {"late_uses"},
    "line": {"bath_lines"},
    "mail": {"outgoing_mail"},
    "offer": {"waits"},
    "meeting": {"course_meetings"},
    "opening_hours": {"lab", "rooms"},
    "person": {"people"},
    "presence": {"presences"},
    "process": {"processes"},
    "quiz": {"quiz_attempts"},
    "product": {"products"},
    "record": {"lab"},
    "room": {"rooms"},
    "safelight": {"safelight_tests"},
    "rota": {"lab"},
    "shelf": {"shelves"},
    "special_hours": {"lab", "rooms"},
    "staffing": {"staffing_rules"},
    "station": {"stations"},
    "store": {"store_rules"},
    "recall": {"recalls"},
    "stock": {"stock_counts"},
    "stream": {"waste_streams"},
    "tablet": {"enrolled_devices"},
    "use": {"uses"},
    "vessel": {"working_vessels"},
    "wait": {"waits"},
    "wash": {"wash_tests"},
    "waste": {"pours", "collections"},
}

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


def test_whatever_an_act_is_about_leads_to_a_page_but_the_lab_itself(lab: SmallLab):
    assert _first_words() == set(ABOUT), "say here what a new act is about"
    assert set().union(*ABOUT.values()) - {*OF_TABLE, *OWNER_OF, *LISTED} == {"lab"}
    furnish(lab)
    for payload in lab.session.execute(select(RecordEntry.payload)).scalars():
        entry = json.loads(payload)
        for told in (entry, *entry.get("also", ())):
            assert told["about"][0] in ABOUT[told["act"].partition(".")[0]], told["act"]


def _first_words() -> set[str]:
    """The first word of the name of every act that is told."""
    return {
        ast.literal_eval(node.args[0]).partition(".")[0]
        for path in (HOUSE / "labsys").glob("*/**/*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "act.tell"
    }


def test_a_row_that_is_not_there_any_more_has_no_page(lab: SmallLab):
    assert address_of(lab.session, "checks", 9_999) is None
    assert address_of(lab.session, "lab", 1) is None


def test_a_page_takes_the_number_of_a_row_as_it_is_written_there(app: Flask):
    with app.test_request_context():
        assert Page("places.index").address(3) == "/places"
        assert Page("documents.labels", "label", written="bath-{}").address(3) == "/documents/labels?label=bath-3"
