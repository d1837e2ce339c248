"""The walk over the registry of documents: who is shown and issued each, and what none of them can be asked for."""

import re
from collections.abc import Callable, Mapping
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import func, select
from werkzeug.test import TestResponse

from labsys.documents.document import Document
from labsys.documents.registry import DOCUMENTS, OF_KIND
from labsys.people.models import Role
from labsys.people.permissions import may
from labsys.records.models import IssuedDocument
from tests.support.everything import furnish, recall
from tests.support.lab import SmallLab
from tests.support.pages import hidden_field

pytestmark = pytest.mark.sqlite_only

ClientAs = Callable[..., FlaskClient]
# What each is asked for besides the numbers in its address, filled in with rows of the furnished lab; then something of
# which there is none.
ASKED: dict[str, tuple[Mapping[str, str], Mapping[str, str]]] = {
    "bath_label": ({}, {"bath_id": "9999"}),
    "session_sheet": ({"process_id": "{process_id}", "size": "120", "count": "1"}, {"process_id": "9999"}),
    "waste_log": ({"from": "2026-03-01", "to": "2026-03-31"}, {"from": "the day before"}),
    "assessment": ({}, {"assessment_id": "9999"}),
    "guest_label": ({}, {"declaration_id": "9999"}),
    "register": ({}, {}),
    "first_aid": ({}, {}),
    "labels": ({"label": "bath-{bath_id}", "size": "2 × 4", "first": "1"}, {"label": "bath-9999"}),
    "contact_list": ({"cas": "{cas}", "product": "0", "since": "2026-03-01"}, {"product": "9999", "cas": ""}),
    "uses": (
        {
            "from": "2026-03-01",
            "to": "2026-03-31",
            "person": "{person_id}",
            "line": "0",
            "process": "0",
            "material": "",
            "class": "",
        },
        {"line": "9999"},
    ),
    "attendance": ({}, {"course_id": "9999"}),
    "fire_list": ({}, {}),
    "door_notice": ({}, {"recall_id": "9999"}),
    "who_holds_what": ({"day": "2026-03-02", "by": "entered", "who": "all", "find": ""}, {"who": "9999"}),
    "training_record": ({}, {"person_id": "9999"}),
    "downtime": ({}, {}),
    "equipment_list": ({}, {}),
}
REFUSALS = ("There is no page here", "Choose what is on the list", "Write the date as", "The list was not issued")


def test_each_kind_is_known_by_a_kind_a_name_and_a_path_of_its_own():
    assert len(OF_KIND) == len(DOCUMENTS)
    assert list(ASKED) == [document.name for document in DOCUMENTS]
    assert len({document.path for document in DOCUMENTS}) == len(DOCUMENTS)


class Desk:
    """Somebody at the pages of the documents, in a lab with one of everything."""

    def __init__(self, client: FlaskClient, values: Mapping[str, object]):
        self.client = client
        self.values = values

    def look(self, document: Document[Any, Any], **changes: str) -> TestResponse:
        path, asked = self._asks(document, changes)
        return self.client.get(path, query_string=asked)

    def issue(self, document: Document[Any, Any], **changes: str) -> TestResponse:
        path, asked = self._asks(document, changes)
        page = self.client.get("/bench", follow_redirects=True).get_data(as_text=True)
        return self.client.post(path, data={"csrf_token": hidden_field(page, "csrf_token"), **asked})

    def said(self, answer: TestResponse) -> str:
        """The words of a page, or of the one that an answer leads to."""
        shown = self.client.get(answer.location) if answer.status_code == 303 else answer
        return shown.get_data(as_text=True)

    def _asks(self, document: Document[Any, Any], changes: Mapping[str, str]) -> tuple[str, dict[str, str]]:
        """Where a document is asked for, and with what."""
        values = {**self.values, **changes}
        path = re.sub(r"<int:(\w+)>", lambda number: str(values[number[1]]), document.path)
        asked = {name: told.format(**values) for name, told in ASKED[document.name][0].items()}
        return f"/documents/{path}", asked | {
            name: told for name, told in changes.items() if f":{name}>" not in document.path
        }


@pytest.fixture
def desk_of(lab: SmallLab, client_as: ClientAs) -> Callable[[Role | None], Desk]:
    """Seat somebody of a role, or nobody, at the pages."""
    furnished = furnish(lab)
    recall_id = recall(lab, int(furnished("own", "member")["bath_id"]))
    return lambda role: Desk(client_as(role), {**furnished("own", role or "member"), "recall_id": recall_id})


def issued(lab: SmallLab) -> int:
    lab.session.rollback()
    return lab.session.execute(select(func.count()).select_from(IssuedDocument)).scalar_one()


def issuer_of(lab: SmallLab, document: Document[Any, Any]) -> Role:
    """The first role that may issue a document."""
    return next(role for role in Role if may(lab.person(role), document.may_issue))


@pytest.mark.parametrize("role", Role)
def test_each_is_shown_and_issued_to_whoever_may_and_to_nobody_else(role: Role, lab: SmallLab, desk_of):
    desk = desk_of(role)
    for document in DOCUMENTS:
        may_look = may(lab.person(role), document.needed_to_see(is_own=True))
        may_issue = may_look and may(lab.person(role), document.may_issue)
        if document.has_page:
            assert desk.look(document).status_code == (200 if may_look else 403), document.kind
        before = issued(lab)
        answer = desk.issue(document)
        assert issued(lab) == before + may_issue, document.kind
        if may_issue:
            assert desk.client.get(answer.location).data.startswith(b"%PDF"), document.kind
        else:
            assert answer.status_code == 403, document.kind


def test_whoever_is_not_signed_in_is_shown_and_issued_none(lab: SmallLab, desk_of):
    desk = desk_of(None)
    before = issued(lab)
    for document in DOCUMENTS:
        if document.has_page:
            assert desk.look(document).location.startswith("/sign-in"), document.kind
        assert desk.issue(document).location.startswith("/sign-in"), document.kind
    assert issued(lab) == before


def test_what_somebody_else_issued_is_seen_by_whoever_may_see_its_kind(lab: SmallLab, desk_of):
    desks = {role: desk_of(role) for role in Role}
    for document in DOCUMENTS:
        issuer = issuer_of(lab, document)
        location = desks[issuer].issue(document).location
        for role in Role:
            needed = document.needed_to_see(is_own=role is issuer)
            wanted = 200 if may(lab.person(role), needed) else 403
            assert desks[role].client.get(location).status_code == wanted, (document.kind, role)


def test_a_parameter_that_a_document_does_not_know_is_refused_with_words(lab: SmallLab, desk_of):
    before = issued(lab)
    for document in DOCUMENTS:
        desk = desk_of(issuer_of(lab, document))
        answers = [
            desk.issue(document, colour="red"),
            *([desk.look(document, colour="red")] if document.has_page else []),
        ]
        for answer in answers:
            assert answer.status_code in {303, 422}, document.kind
            assert "This document cannot be asked for by “colour”." in desk.said(answer), document.kind
    assert issued(lab) == before


def test_what_there_is_not_is_refused_with_words(lab: SmallLab, desk_of):
    before = issued(lab)
    for document in DOCUMENTS:
        desk, unknown = desk_of(issuer_of(lab, document)), ASKED[document.name][1]
        if unknown:
            looked = [desk.look(document, **unknown)] if document.has_page else []
            for answer in (desk.issue(document, **unknown), *looked):
                assert answer.status_code in {303, 404, 422}, document.kind
                said = desk.said(answer)
                assert any(words in said for words in REFUSALS), document.kind
    assert issued(lab) == before
