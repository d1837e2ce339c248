"""The outbox page: what needs somebody stands first, and one button sends it again."""

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from flask.testing import FlaskClient
from sqlalchemy import update

from labsys import clock
from labsys.mail import service
from labsys.mail.kinds import ALL, BOOKING, CLASS_MOVED, Message
from labsys.mail.models import OutgoingMail
from labsys.records.transactions import transaction
from tests.support.lab import SmallLab
from tests.support.pages import fill_in, hidden_field, queries_of

ClientAs = Callable[..., FlaskClient]
queue = transaction(service.queue)


def write(lab: SmallLab, number: int, **state: object) -> None:
    queue(
        lab.session,
        Message(BOOKING, f"booking {number} made", f"Place {number} is booked", "…", "/bookings"),
        to=lab.person("member"),
        by=None,
        now=clock.now() - timedelta(hours=23),
    )
    if state:
        of_it = OutgoingMail.reason_key == f"booking {number} made"
        lab.session.execute(update(OutgoingMail).where(of_it).values(**state))
        lab.session.commit()


@pytest.mark.sqlite_only
def test_an_empty_outbox_says_so_and_which_setting_is_missing(client_as: ClientAs, lab: SmallLab):
    page = client_as("manager").get("/mail").get_data(as_text=True)
    assert "No mail yet" in page
    assert "LABSYS_MAIL_SERVER" in page


def test_what_needs_somebody_is_sent_again_by_one_button(client_as: ClientAs, lab: SmallLab):
    write(lab, 1)
    write(lab, 2, given_up_at=clock.now(), last_error="550 No such mailbox", tries=6)
    write(lab, 3, sending_since=clock.now() - timedelta(minutes=11))
    client = client_as("manager")
    page = client.get("/mail").get_data(as_text=True)
    assert "1 waiting, 2 need you" in page
    assert "not known whether it left" in page
    assert "550 No such mailbox" in page
    token = hidden_field(page, "csrf_token")
    for mail_id in (2, 3):
        assert client.post(f"/mail/{mail_id}/send-again", data={"csrf_token": token}).status_code == 303
    assert "3 waiting." in client.get("/mail").get_data(as_text=True)
    client.post("/mail/2/send-again", data={"csrf_token": token})
    assert "needs nothing from you" in client.get("/mail").get_data(as_text=True)


@pytest.mark.sqlite_only
@pytest.mark.parametrize("role", ["member", "instructor", "technician", "safety adviser"])
def test_only_a_manager_sees_the_outbox(client_as: ClientAs, lab: SmallLab, role: str):
    assert client_as(role).get("/mail").status_code == 403


@pytest.mark.sqlite_only
def test_an_unknown_message_is_not_found(client_as: ClientAs, lab: SmallLab):
    client = client_as("manager")
    token = hidden_field(client.get("/mail").get_data(as_text=True), "csrf_token")
    assert client.post("/mail/99/send-again", data={"csrf_token": token}).status_code == 404


@pytest.mark.sqlite_only
def test_twice_the_messages_cost_no_more_queries_and_pages_go_on_by_key(client_as: ClientAs, lab: SmallLab):
    client = client_as("manager")

    for number in range(15):
        write(lab, number, given_up_at=clock.now())
    few = queries_of(client, "/mail")
    for number in range(15, 30):
        write(lab, number, given_up_at=clock.now())
    assert queries_of(client, "/mail") == few
    older = client.get("/mail?before=6").get_data(as_text=True)
    assert older.count("Place 4 is booked") == 2  # once among what needs somebody
    assert older.count("Place 6 is booked") == 1

    # Kinds of mail


def test_the_same_cause_tells_several_people_and_nobody_of_their_own_act(lab: SmallLab):
    for role in ("member", "instructor", "technician"):
        message = Message(CLASS_MOVED, "meeting 1 moved", "Moved", "…", "/bookings")
        queue(lab.session, message, to=lab.person(role), by=lab.person("instructor"), now=lab.now)
    told = {mail.person_id for mail in lab.session.query(OutgoingMail)}
    assert told == {lab.ids["member"], lab.ids["technician"]}


def test_a_person_chooses_what_they_are_written_but_for_what_is_for_safety(client_as: ClientAs, lab: SmallLab):
    client = client_as("member")
    page = client.get("/account/mail").get_data(as_text=True)
    for kind in ALL:
        assert kind.what in page
        assert kind.who in page
        assert kind.why in page
    assert fill_in(client, "/account/mail", wanted=["offer"]).status_code == 303
    page = client.get("/account/mail").get_data(as_text=True)
    assert re.findall(r'value="([^"]+)" checked', page) == ["offer"]
    for kind in ALL:
        queue(lab.session, Message(kind, kind.name, kind.what, "…", "/"), to=lab.person("member"), by=None, now=lab.now)
    written = {mail.kind for mail in lab.session.query(OutgoingMail)}
    assert written == {"overdue", "alone", "incident", "quarantine", "recall", "address", "entry link", "offer"}
    assert {kind.name for kind in ALL if kind.is_always_written} == written - {"offer"}


def test_mail_unsent_for_a_day_is_due_on_the_managers_today_until_it_leaves_or_is_left(
    client_as: ClientAs, lab: SmallLab, monkeypatch: pytest.MonkeyPatch
):
    write(lab, 1)
    write(lab, 2, tries=3, created_at=clock.now() - timedelta(hours=25), send_at=clock.now() + timedelta(hours=6))
    client = client_as("manager")
    assert "1 message not sent" in client.get("/").get_data(as_text=True)
    now = clock.now() + timedelta(hours=2)
    monkeypatch.setattr(clock, "now", lambda: now)
    assert "2 messages not sent" in client.get("/").get_data(as_text=True)
    assert "message" not in client_as("technician").get("/").get_data(as_text=True)
    page = client.get("/mail").get_data(as_text=True)
    assert "waiting for more than a day" in page
    token = hidden_field(page, "csrf_token")
    assert client.post("/mail/1/put-aside", data={"csrf_token": token}).status_code == 303
    assert "1 message not sent" in client.get("/").get_data(as_text=True)
    assert client.post("/mail/put-aside", data={"csrf_token": token}).status_code == 303
    assert "not sent" not in client.get("/").get_data(as_text=True)
    assert client.get("/mail").get_data(as_text=True).count("left unsent") == 2
    assert service.claim_next(lab.session, now=now + timedelta(days=9)) is None
