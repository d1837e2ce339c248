"""A link is shown only where no mail leaves the lab; else it is mailed, and its token is kept nowhere."""

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select

from labsys.config import Config
from labsys.mail import sending
from labsys.mail.models import OutgoingMail
from labsys.people import service as people
from labsys.people.models import EntryLink, Person
from labsys.people.rules import token_digest
from labsys.records.models import Lab, RecordEntry
from tests.mail.post_office import PostOffice
from tests.support.lab import SmallLab
from tests.support.pages import press, send, source, text

ClientAs = Callable[..., FlaskClient]
INVITED = {"name": "Ελένη Παππά", "email": "eleni@example.org", "roles": ["member"]}
WELCOME = re.compile(r"/welcome/([\w-]+)")


@pytest.fixture
def mailing(app: Flask, post_office: PostOffice, monkeypatch: pytest.MonkeyPatch) -> Config:
    """The lab with a mail server."""
    config = replace(app.config["LABSYS"], **post_office.settings())
    monkeypatch.setitem(app.config, "LABSYS", config)
    return config


def letters(lab: SmallLab, config: Config, post_office: PostOffice) -> list[str]:
    """Send what is due, and give the words of all that came so far."""
    lab.session.rollback()
    sending.send_due(lab.session, config=config)
    return [letter.get_content() for letter in post_office.letters]


def kept(lab: SmallLab) -> str:
    """All that the lab keeps of links, mail and what was done."""
    lab.session.rollback()
    mails = lab.session.scalars(select(OutgoingMail))
    told = [f"{mail.subject} {mail.body} {mail.path} {mail.reason_key} {mail.last_error}" for mail in mails]
    digests = lab.session.scalars(select(EntryLink.token_digest))
    return "\n".join([*told, *digests, *lab.session.scalars(select(RecordEntry.payload))])


def test_with_a_mail_server_an_invitation_is_mailed_and_its_link_shown_nowhere(
    lab: SmallLab, client_as: ClientAs, mailing: Config, post_office: PostOffice
) -> None:
    manager = client_as("manager")
    asked = send(manager, "/people/invite", **INVITED)
    assert asked.status_code == 303
    page = source(manager.get(asked.location))
    assert "A link goes to eleni@example.org by mail." in page
    assert "/welcome/" not in source(asked) + page + source(manager.get("/mail"))
    (letter,) = letters(lab, mailing, post_office)
    assert "It works once, within 14 days." in letter
    (token,) = WELCOME.findall(letter)
    assert token not in kept(lab)
    assert token_digest(token) in kept(lab)
    welcomed = client_as().get(f"/welcome/{token}")
    assert welcomed.status_code == 200
    assert "Ελένη Παππά" in source(welcomed)


def test_a_new_link_is_mailed_and_the_earlier_letter_lets_nobody_in(
    lab: SmallLab, client_as: ClientAs, mailing: Config, post_office: PostOffice
) -> None:
    manager, page = client_as("manager"), f"/people/{lab.ids['member']}"
    for _ in range(2):
        answer = press(manager, f"{page}/link", at=page)
        assert (answer.status_code, answer.location) == (303, page)
        assert "A link goes to member@example.org by mail." in text(manager.get(page))
        letters(lab, mailing, post_office)
    first, second = (WELCOME.findall(letter.get_content())[0] for letter in post_office.letters)
    assert client_as().get(f"/welcome/{first}").status_code == 410
    assert client_as().get(f"/welcome/{second}").status_code == 200


@pytest.mark.sqlite_only
def test_a_letter_that_waited_is_left_unsent_once_another_link_was_made(
    lab: SmallLab, client_as: ClientAs, mailing: Config, post_office: PostOffice
) -> None:
    manager, page = client_as("manager"), f"/people/{lab.ids['member']}"
    for _ in range(2):
        press(manager, f"{page}/link", at=page)
    (letter,) = letters(lab, mailing, post_office)
    (token,) = WELCOME.findall(letter)
    assert client_as().get(f"/welcome/{token}").status_code == 200
    assert "left unsent" in text(manager.get("/mail"))


@pytest.mark.sqlite_only
def test_a_letter_refused_once_brings_a_link_that_works_the_next_time(
    lab: SmallLab, client_as: ClientAs, mailing: Config, post_office: PostOffice
) -> None:
    post_office.at_text = "451 later"
    send(client_as("manager"), "/people/invite", **INVITED)
    assert letters(lab, mailing, post_office) == []
    post_office.at_text = "250 OK"
    (mail,) = lab.session.scalars(select(OutgoingMail))
    sending.send_due(lab.session, config=mailing, clock_now=lambda: mail.send_at)
    (letter,) = post_office.letters
    assert client_as().get(f"/welcome/{WELCOME.findall(letter.get_content())[0]}").status_code == 200


def test_a_manager_who_makes_a_link_for_themselves_is_written_to_as_well(
    lab: SmallLab, client_as: ClientAs, mailing: Config, post_office: PostOffice
) -> None:
    page = f"/people/{lab.ids['manager']}"
    press(client_as("manager"), f"{page}/link", at=page)
    (letter,) = letters(lab, mailing, post_office)
    assert "within 24 hours" in letter


@pytest.mark.sqlite_only
def test_the_demonstration_mails_nobody_and_so_shows_the_link(
    lab: SmallLab, client_as: ClientAs, mailing: Config
) -> None:
    lab.session.get_one(Lab, 1).is_demo = True
    lab.session.commit()
    shown = text(send(client_as("manager"), "/people/invite", **INVITED))
    assert "This is the demonstration: hand this link over yourself." in shown
    assert lab.count(OutgoingMail) == 0


def test_many_by_mail_each_get_a_link_of_their_own(
    lab: SmallLab, client_as: ClientAs, mailing: Config, post_office: PostOffice
) -> None:
    manager = client_as("manager")
    listed = "Ana Bell, ana@example.org\nBo Lind, bo@example.org"
    looked = send(manager, "/people/invite-many", roster=listed, roles=["member"], look="yes")
    assert "Each gets a link by mail." in text(looked)
    done = send(manager, "/people/invite-many", roster=listed, roles=["member"], save="yes")
    assert "2 invited. Each gets a link by mail." in text(manager.get(done.location))
    tokens = [WELCOME.findall(letter)[0] for letter in letters(lab, mailing, post_office)]
    assert len(set(tokens)) == 2
    names = [lab.session.scalars(_whose(token)).one() for token in tokens]
    assert names == ["Ana Bell", "Bo Lind"]
    cards = manager.get("/people/invitation-cards")
    assert "Links go by mail here, and are not printed." in text(cards)
    ana = lab.session.scalars(select(Person.id).where(Person.name == "Ana Bell")).one()
    refused = send(manager, "/people/invitation-cards", at="/people/invite-many", people=[str(ana)])
    assert refused.mimetype == "text/html"
    assert client_as().get(f"/welcome/{tokens[0]}").status_code == 200


def _whose(token: str):
    of = EntryLink.token_digest == token_digest(token)
    return select(Person.name).join(EntryLink, EntryLink.person_id == Person.id).where(of)


@pytest.mark.sqlite_only
def test_a_link_is_renewed_only_while_it_is_unused(lab: SmallLab) -> None:
    made = people.send_reset(lab.act("manager"), person_id=lab.ids["member"])
    people.send_reset(lab.act("manager"), person_id=lab.ids["member"])
    assert people.renew_link(lab.session, link_id=made.link_id, now=lab.now) is None
