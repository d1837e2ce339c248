"""The outbox page: what needs somebody stands first, and one button sends it again."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from flask.testing import FlaskClient
from sqlalchemy import update

from labsys import clock
from labsys.mail import service
from labsys.mail.models import OutgoingMail
from labsys.records.transactions import transaction
from tests.support.lab import SmallLab
from tests.support.pages import hidden_field, queries_of

ClientAs = Callable[..., FlaskClient]
queue = transaction(service.queue)


def write(lab: SmallLab, number: int, **state: object) -> None:
    queue(
        lab.session,
        person=lab.person("member"),
        reason_key=f"booking {number} made",
        subject=f"Place {number} is booked",
        body="…",
        send_at=clock.now() - timedelta(days=1),
        now=clock.now() - timedelta(days=1),
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
