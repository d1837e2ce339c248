"""A person's name and the address for their mail: put right by themselves or by who keeps the people."""

import json
from collections.abc import Callable

import pytest
from flask.testing import FlaskClient
from sqlalchemy import select

from labsys import clock
from labsys.database import DbSession
from labsys.mail import service as mail
from labsys.mail.models import OutgoingMail
from labsys.people import service
from labsys.people.models import Person
from labsys.records.models import RecordEntry
from tests.people.sending import sign_in
from tests.support.lab import PASSWORD, SmallLab
from tests.support.pages import hidden_field, links, send, source

ClientAs = Callable[..., FlaskClient]


def newest(session: DbSession) -> dict[str, object]:
    session.rollback()
    entry = session.execute(select(RecordEntry).order_by(RecordEntry.number.desc()).limit(1)).scalar_one()
    assert entry.payload is not None
    return dict(json.loads(entry.payload))


def written_to(session: DbSession) -> list[str | None]:
    session.rollback()
    return list(session.execute(select(OutgoingMail.address).order_by(OutgoingMail.id)).scalars())


# Names


def test_somebody_puts_their_own_name_right(client_as: ClientAs, lab: SmallLab) -> None:
    client = client_as("member")
    assert {"/account/name", "/account/address"} <= set(links(source(client.get("/account"))))
    assert 'value="Łukasz Żak"' in source(client.get("/account/name"))
    answer = send(client, "/account/name", name="  Łucja   Żak ")
    assert (answer.status_code, answer.location) == (303, "/account")
    assert "Łucja Żak" in source(client.get("/account"))
    told = newest(lab.session)
    assert (told["act"], told["about"]) == ("person.renamed", ["people", lab.ids["member"]])
    assert told["facts"] == {"before": "Łukasz Żak", "after": "Łucja Żak"}


@pytest.mark.sqlite_only
def test_a_manager_puts_somebodys_name_right(client_as: ClientAs, lab: SmallLab) -> None:
    client, page = client_as("manager"), f"/people/{lab.ids['member']}"
    assert {f"{page}/name", f"{page}/address"} <= set(links(source(client.get(page))))
    answer = send(client, f"{page}/name", name="Łucja Żak")
    assert (answer.status_code, answer.location) == (303, page)
    assert lab.person("member").name == "Łucja Żak"
    entered = newest(lab.session)
    send(client, f"{page}/name", name="Łucja Żak")
    assert newest(lab.session) == entered
    assert send(client, "/people/999999/name", at=f"{page}/name", name="Nobody").status_code == 404


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("name", "message"), [("   ", "Enter the person&#39;s name."), ("x" * 121, "Use at most 120 characters.")]
)
def test_a_name_that_cannot_be_is_given_back(client_as: ClientAs, lab: SmallLab, name: str, message: str) -> None:
    answer = send(client_as("member"), "/account/name", name=name)
    assert answer.status_code == 422
    assert message in source(answer)
    assert lab.person("member").name == "Łukasz Żak"


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("role", "path", "lands", "typed"),
    [
        ("member", "/account/name", "/account", {"name": "Łucja Żak"}),
        ("member", "/account/address", "/account", {"email": "lucja@example.org", "current": PASSWORD}),
        ("manager", "/people/{member}/name", "/people/{member}", {"name": "Łucja Żak"}),
        ("manager", "/people/{member}/address", "/people/{member}", {"email": "lucja@example.org"}),
    ],
)
def test_a_form_sent_twice_acts_once(
    client_as: ClientAs, lab: SmallLab, role: str, path: str, lands: str, typed: dict[str, str]
) -> None:
    client, path, lands = client_as(role), path.format(**lab.ids), lands.format(**lab.ids)
    page = source(client.get(path))
    keys = {name: hidden_field(page, name) for name in ("csrf_token", "submission_key")}
    answers = [client.post(path, data={**keys, **typed}) for _ in range(2)]
    assert [(answer.status_code, answer.location) for answer in answers] == [(303, lands)] * 2
    assert "Saved already" in source(client.get(lands))
    assert len(written_to(lab.session)) == (2 if "email" in typed else 0)


# Addresses


def test_a_manager_changes_an_address_and_both_are_told(client_as: ClientAs, lab: SmallLab, member: Person) -> None:
    client, page = client_as("manager"), f"/people/{lab.ids['member']}"
    answer = send(client, f"{page}/address", email=" Lukasz@Example.org ")
    assert (answer.status_code, answer.location) == (303, page)
    told = newest(lab.session)
    assert told["act"] == "person.address_changed"
    assert told["facts"] == {"before": "member@example.org", "after": "lukasz@example.org"}
    assert written_to(lab.session) == ["member@example.org", "lukasz@example.org"]
    message = lab.session.execute(select(OutgoingMail.body).limit(1)).scalar_one()
    assert message.startswith(
        "Μαρία Ιωάννου changed your e-mail address here from member@example.org to lukasz@example.org."
    )
    claimed = mail.claim_next(lab.session, now=clock.now())
    assert claimed is not None
    assert claimed.address == "member@example.org"  # though the person's own is another by now
    assert "member@example.org" in source(client.get("/mail"))
    assert "do not go together" in source(sign_in(client_as(), email="member@example.org"))
    assert sign_in(client_as(), email="lukasz@example.org").status_code == 303


@pytest.mark.sqlite_only
def test_ones_own_address_is_changed_with_the_password(client_as: ClientAs, lab: SmallLab, member: Person) -> None:
    client = client_as("member")
    wrong = send(client, "/account/address", email="lukasz@example.org", current="not my password")
    assert wrong.status_code == 422
    assert "That is not your password now." in source(wrong)
    assert written_to(lab.session) == []
    answer = send(client, "/account/address", email="lukasz@example.org", current=PASSWORD)
    assert (answer.status_code, answer.location) == (303, "/account")
    assert "lukasz@example.org" in source(client.get("/account"))
    assert len(written_to(lab.session)) == 2
    assert "You changed your e-mail address" in lab.session.execute(select(OutgoingMail.body).limit(1)).scalar_one()


@pytest.mark.sqlite_only
def test_the_password_cannot_be_guessed_there(client_as: ClientAs, lab: SmallLab, member: Person) -> None:
    client = client_as("member")
    statuses = [
        send(client, "/account/address", email="lukasz@example.org", current="wrong wrong wrong").status_code
        for _ in range(5)
    ]
    assert statuses == [422] * 5
    token = hidden_field(source(client.get("/account/address")), "csrf_token")
    sent = {"csrf_token": token, "email": "lukasz@example.org", "current": PASSWORD}
    assert client.post("/account/address", data=sent).status_code == 429


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("email", "message"),
    [
        ("", "Enter the person&#39;s e-mail address."),
        ("lukasz at example", "That is not an e-mail address."),
        ("x" * 250 + "@example.org", "That is too long for an e-mail address."),
        ("TECHNICIAN@example.org", "Somebody here has that e-mail address already."),
    ],
)
def test_an_address_that_cannot_be_is_given_back(client_as: ClientAs, lab: SmallLab, email: str, message: str) -> None:
    page = f"/people/{lab.ids['member']}/address"
    answer = send(client_as("manager"), page, email=email)
    assert answer.status_code == 422
    assert message in source(answer)
    assert lab.person("member").email == "member@example.org"
    assert written_to(lab.session) == []


@pytest.mark.sqlite_only
def test_nobody_writes_to_one_who_has_left(client_as: ClientAs, lab: SmallLab) -> None:
    service.close_account(lab.act("manager"), person_id=lab.ids["member"])
    page = f"/people/{lab.ids['member']}"
    assert send(client_as("manager"), f"{page}/address", email="lukasz@example.org").location == page
    assert lab.person("member").email == "lukasz@example.org"
    assert written_to(lab.session) == []
