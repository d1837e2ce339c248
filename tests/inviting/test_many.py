"""Many are invited at once from a list in whatever encoding; sent again it invites nobody twice."""

import io
import json
import re
from collections.abc import Callable
from urllib.parse import urlsplit

import pytest
from flask import Flask
from flask.testing import FlaskClient
from pypdf import PdfReader
from sqlalchemy import select

from labsys.config import Config
from labsys.inviting import importing, service
from labsys.inviting.forms import CARDS_AT_ONCE
from labsys.jobs.kinds import Task
from labsys.jobs.models import Job
from labsys.people import service as people
from labsys.people.models import EntryLink, Person, Role
from labsys.people.roster import Row
from labsys.people.rules import token_digest
from labsys.records.models import RecordEntry
from tests.support.lab import SmallLab
from tests.support.pages import as_it_stands, fill_in, form_of, pdf_text, send, source, text

ClientAs = Callable[..., FlaskClient]
MANY, CARDS = "/people/invite-many", "/people/invitation-cards"
FILE = (
    'Name;E-mail;Role\n"Žofie Dvořáková";zofie@example.org;manager\n=HYPERLINK("x");evil@example.org;\nNobody;;\n'
    ";a@example.org;\nZofka;ZOFIE@example.org;\nLukasz;Member@example.org;\nBo Lind;bo@example.org;\n"
).encode("cp1250")


def person_or_none(lab: SmallLab, email: str) -> Person | None:
    lab.session.rollback()
    return lab.session.scalars(select(Person).where(Person.email == email)).one_or_none()


def invite(manager: FlaskClient, listed: str, **fields: object) -> str:
    """Invite a list, and give the words of the page it leads to."""
    done = send(manager, MANY, roster=listed, roles=["member"], save="yes", **fields)
    assert done.status_code == 303
    return text(manager.get(done.location))


def tokens_on(pdf: bytes) -> list[str]:
    words = "".join("".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())
    return re.findall(r"/welcome/([\w-]{32})", words)


def test_a_list_is_looked_at_row_by_row_then_invited_and_again_invites_nobody(
    lab: SmallLab, client_as: ClientAs
) -> None:
    manager = client_as("manager")
    looked = fill_in(manager, MANY, file=(io.BytesIO(FILE), "people.csv"), encoding="cp1250", look="yes")
    said = text(looked)
    for line, problem in (
        (3, "It begins like a formula of a spreadsheet."),
        (4, "No e-mail address."),
        (5, "No name."),
        (6, "The same address as line 2."),
        (7, "Here already, as Łukasz Żak."),
    ):
        assert problem in said, line
    assert "2 of 7 rows can be invited." in said
    assert person_or_none(lab, "zofie@example.org") is None
    again = {**as_it_stands(form_of(source(looked))), "save": "yes"}
    saved = manager.post(MANY, data=again)
    assert urlsplit(saved.location).path == CARDS
    assert "2 invited. Print their cards." in text(manager.get(saved.location))
    zofie = person_or_none(lab, "zofie@example.org")
    assert zofie is not None
    assert (zofie.name, zofie.roles) == ("Žofie Dvořáková", {Role.MEMBER})
    assert person_or_none(lab, "evil@example.org") is None
    before = lab.count(Person)
    looked = fill_in(manager, MANY, file=(io.BytesIO(FILE), "people.csv"), encoding="cp1250", look="yes")
    assert "Žofie Dvořáková is invited already, and has not come yet." in text(looked)
    assert "0 of 7 rows can be invited." in text(looked)
    assert lab.count(Person) == before


@pytest.mark.sqlite_only
def test_who_left_is_told_as_one_who_left(lab: SmallLab, client_as: ClientAs) -> None:
    people.close_account(lab.act("manager"), person_id=lab.ids["member"])
    looked = send(client_as("manager"), MANY, roster="Luk, member@example.org", roles=["member"], look="yes")
    assert "Łukasz Żak was here and has left. Let them back in on their page." in text(looked)


@pytest.mark.sqlite_only
def test_roles_are_those_that_the_manager_ticks_and_one_is_needed(lab: SmallLab, client_as: ClientAs) -> None:
    manager = client_as("manager")
    opened = source(manager.get(MANY))
    assert re.findall(r'value="([\w ]+)" checked', opened) == ["member"]
    refused = send(manager, MANY, roster="Bo, bo@example.org", save="yes")
    assert refused.status_code == 422
    assert "Choose at least one role." in text(refused)
    send(manager, MANY, roster="Bo, bo@example.org", roles=["member", "instructor"], save="yes")
    bo = person_or_none(lab, "bo@example.org")
    assert bo is not None
    assert bo.roles == {Role.MEMBER, Role.INSTRUCTOR}


def test_cards_print_a_link_and_its_code_once_and_only_digests_are_kept(lab: SmallLab, client_as: ClientAs) -> None:
    manager = client_as("manager")
    page = invite(manager, "Ana Bell, ana@example.org\nŁucja 王, bo@example.org")
    assert "Ana Bell" in page
    assert lab.session.scalars(select(EntryLink).where(EntryLink.used_at.is_(None))).all() == []
    printed = manager.post(CARDS, data=as_it_stands(form_of(source(manager.get(CARDS)))))
    assert printed.mimetype == "application/pdf"
    assert printed.headers["Cache-Control"] == "no-store"
    said = pdf_text(printed.get_data())
    assert "Ana Bell You are invited to Alder Street Darkroom." in said
    assert "Łucja [U+738B]" in said
    tokens = tokens_on(printed.get_data())
    assert len(set(tokens)) == 2
    lab.session.rollback()
    digests = set(lab.session.scalars(select(EntryLink.token_digest)))
    assert {token_digest(token) for token in tokens} <= digests
    told = " ".join(lab.session.scalars(select(RecordEntry.payload)))
    assert not any(token in told for token in tokens)
    assert all(client_as().get(f"/welcome/{token}").status_code == 200 for token in tokens)
    assert "Nobody waits for a card" in text(manager.get(CARDS))


def test_a_card_printed_again_ends_the_earlier_one(lab: SmallLab, client_as: ClientAs) -> None:
    manager = client_as("manager")
    invite(manager, "Ana Bell, ana@example.org")
    ana = person_or_none(lab, "ana@example.org")
    assert ana is not None
    opened = source(manager.get(CARDS))
    first, second = (
        tokens_on(send(manager, CARDS, opened=opened, people=[str(ana.id)]).get_data())[0] for _ in range(2)
    )
    assert client_as().get(f"/welcome/{first}").status_code == 410
    assert client_as().get(f"/welcome/{second}").status_code == 200
    everybody = text(manager.get(f"{CARDS}?everybody=yes"))
    assert "ana@example.org. Has a link until" in everybody


@pytest.mark.sqlite_only
def test_no_card_is_printed_for_who_has_come_or_is_nobody(lab: SmallLab, client_as: ClientAs) -> None:
    manager = client_as("manager")
    invite(manager, "Ana Bell, ana@example.org")
    opened = source(manager.get(CARDS))
    for sent in ([], [str(lab.ids["member"])], ["9" * 30], ["-1"], ["x"], ["999999"]):
        answer = send(manager, CARDS, opened=opened, people=sent)
        assert (answer.status_code, answer.mimetype) == (422, "text/html"), sent
    too_many = [str(number) for number in range(1, CARDS_AT_ONCE + 2)]
    assert "Choose at most 80." in text(send(manager, CARDS, opened=opened, people=too_many))


@pytest.mark.sqlite_only
def test_cards_come_by_eighty_ten_to_a_sheet(lab: SmallLab, client_as: ClientAs) -> None:
    manager = client_as("manager")
    page = invite(manager, "\n".join(f"Guest {number:03},g{number}@example.org" for number in range(90)))
    assert "90 invited." in page
    counts = []
    for _ in range(2):
        printed = manager.post(CARDS, data=as_it_stands(form_of(source(manager.get(CARDS))))).get_data()
        counts.append((len(PdfReader(io.BytesIO(printed)).pages), len(set(tokens_on(printed)))))
    assert counts == [(8, 80), (1, 10)]


@pytest.mark.sqlite_only
def test_a_long_list_is_a_job_in_parts_and_begun_again_invites_nobody_twice(
    lab: SmallLab, client_as: ClientAs, app: Flask
) -> None:
    manager = client_as("manager")
    listed = "\n".join(f"Guest {number},g{number}@example.org" for number in range(service.PART * 2 + 50))
    asked = send(manager, MANY, roster=listed, roles=["member"], save="yes")
    assert asked.location.startswith("/jobs/")
    assert "Invite many people" in text(manager.get(asked.location))
    lab.session.rollback()
    job = lab.session.scalars(select(Job).where(Job.kind == service.INVITE_MANY)).one()
    before, config = lab.count(Person), app.config["LABSYS"]
    for _ in range(2):
        made = importing.invite_in_parts(_task(lab, config, job))
        assert lab.count(Person) == before + service.PART * 2 + 50
    assert made.says.startswith(f"{service.PART * 2 + 50} people are invited.")
    assert not any(
        f"g{number}@" in told for told in lab.session.scalars(select(RecordEntry.payload)) for number in (1, 2)
    )


def _task(lab: SmallLab, config: Config, job: Job) -> Task:
    return Task(
        session=lab.session,
        config=config,
        parameters=json.loads(job.parameters),
        now=lab.tick,
        tell=lambda **_: None,
        should_stop=lambda: False,
    )


def test_a_part_is_invited_once_however_often_it_is_sent(lab: SmallLab) -> None:
    rows = [Row(number, f"Guest {number}", f"g{number}@example.org") for number in range(service.PART)]
    first, again = (
        service.invite_many(lab.act("manager"), rows=rows, roles=[Role.MEMBER], by_mail=False) for _ in range(2)
    )
    assert (len(first), again) == (service.PART, [])
