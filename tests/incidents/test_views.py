from dataclasses import replace

import pytest

from labsys.incidents import queries
from labsys.incidents.models import Incident
from labsys.mail import service as outbox
from labsys.mail.models import OutgoingMail
from labsys.people.models import Role
from tests.support.pages import queries_of, send, source, text

pytestmark = pytest.mark.sqlite_only

NAME = "Zsófia Kardos"


SPLASH = {"kind": "splash", "what": "Fixer splashed <b>up</b>", "hurt": NAME, "station": "0"}


@pytest.mark.parametrize("role", Role)
def test_only_the_reporter_and_the_adviser_ever_see_who_was_hurt(client_as, report, role):
    made = report("instructor", hurt=NAME)
    client = client_as(role)
    seen = [source(client.get(path)) for path in ("/", "/incidents", f"/incidents/{made.id}", "/incidents/report")]
    shown = any(NAME in page for page in seen)
    assert shown is (role in (Role.INSTRUCTOR, Role.SAFETY_ADVISER))
    assert ("Reported by Ines Carrow" in seen[2]) is shown


def test_what_to_do_first_stands_before_the_first_question(client_as):
    page = source(client_as("member").get("/incidents/report"))
    assert page.index("Eyes: Rinse. 20 minutes.") < page.index('href="tel:999"') < page.index('href="tel:01632960000"')
    assert page.index('href="tel:01632960000"') < page.index("What was it?")
    assert "Section 4 of the supplier&#39;s SDS" in page or "Section 4 of the supplier's SDS" in page


def test_a_report_is_kept_as_told_and_shown(lab, client_as):
    client = client_as("member")
    station = lab.add_places()["Wet side"]
    fixer = lab.ids["product fixer"]
    answer = send(
        client,
        f"/incidents/report?product_id={fixer}",
        **{**SPLASH, "station": str(station.id), "products": [str(fixer)]},
    )
    made = lab.session.query(Incident).one()
    assert answer.headers["Location"] == f"/incidents/{made.id}"
    page = source(client.get(answer.headers["Location"]))
    for told in ("Fixer splashed &lt;b&gt;up&lt;/b&gt;", "Wet side", "Rapid fixer concentrate", NAME):
        assert told in page


def test_the_product_or_process_one_came_from_is_ticked_already(lab, client_as):
    process, fixer = lab.add_process(), lab.ids["product fixer"]
    page = source(client_as("member").get(f"/incidents/report?product_id={fixer}&process_id={process.id}"))
    assert f'name="products" value="{fixer}" checked' in page
    assert f'name="processes" value="{process.id}" checked' in page


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"kind": ""}, "Choose what it was."),
        ({"what": " "}, "Write what happened, in a sentence."),
        ({"happened_at": "2099-01-01T10:00"}, "That is in the future."),
        ({"hurt": "x" * 201}, "Use at most 200 characters."),
    ],
)
def test_a_report_that_cannot_be_read_says_what_is_missing_and_keeps_the_rest(lab, client_as, fields, message):
    answer = send(client_as("member"), "/incidents/report", **{**SPLASH, "done": "Rinsed", **fields})
    assert answer.status_code == 422
    assert message in source(answer)
    assert "Rinsed" in source(answer)
    assert lab.session.query(Incident).count() == 0


def test_an_open_incident_is_due_for_the_adviser_until_it_is_closed(lab, client_as, report):
    made = report()
    adviser = client_as("safety adviser")
    assert "Incident: splash" in source(adviser.get("/"))
    assert "Incident: splash" not in source(client_as("technician").get("/"))
    assert send(adviser, f"/incidents/{made.id}/close", changed="").status_code == 422
    assert send(adviser, f"/incidents/{made.id}/close", changed="A mat by the sink").status_code == 303
    assert "Incident: splash" not in source(adviser.get("/"))
    assert "A mat by the sink" in source(client_as("member").get(f"/incidents/{made.id}"))


def test_everybody_finds_the_way_to_report_on_today(client_as):
    for role in Role:
        assert "/incidents/report" in source(client_as(role).get("/"))


def test_the_list_goes_on_by_key_and_costs_the_same_however_long(lab, client_as, report):
    client = client_as("member")

    assert "Nothing reported yet" in source(client.get("/incidents"))
    fixer = lab.ids["product fixer"]
    for number in range(12):
        report(what=f"Spill number {number}.", product_ids=[fixer])
    few = queries_of(client, "/incidents")
    for number in range(12, 24):
        report(what=f"Spill number {number}.", product_ids=[fixer])
    assert queries_of(client, "/incidents") == few <= 20
    first = queries.incidents(lab.session, limit=20)
    page = source(client.get(f"/incidents?before={first[-1].id}"))
    assert "Spill number 3." in page
    assert "Spill number 4." not in page


TOLD = "NOBODY HAS BEEN TOLD. Ring 999 if anybody is hurt or it burns, and here Front desk 01632 960000"


def test_nobody_has_been_told_until_a_mail_has_left_or_it_is_closed(lab, client_as, report):
    client = client_as("member")
    answer = send(client, "/incidents/report", **SPLASH)
    page = client.get(answer.location)
    assert text(page).count(TOLD) == 2  # what was just done, and what stands on the page
    assert 'href="tel:01632960000"' in source(page)
    assert "no mail server" in text(page)
    queued = lab.session.query(OutgoingMail).all()
    assert {mail.person.name for mail in queued} == {lab.person(role).name for role in ("safety adviser", "manager")}
    assert client_as("safety adviser").get(queued[0].path).status_code == 200
    assert not any(NAME in mail.subject + mail.body for mail in queued)
    assert TOLD in text(client.get(answer.location))
    outbox.note_sent(lab.session, mail_id=queued[0].id, now=lab.tick())
    page = text(client.get(answer.location))
    assert "NOBODY HAS BEEN TOLD" not in page
    assert "Written about by mail, first" in page
    assert "Help here: Front desk 01632 960000" in page


def test_a_report_with_a_mail_server_that_has_not_taken_it_says_so(app, lab, client_as, report):
    made = report()
    told = app.config["LABSYS"]
    app.config["LABSYS"] = replace(told, mail_server="mail.example.org", mail_from="lab@example.org")
    try:
        page = text(client_as("member").get(f"/incidents/{made.id}"))
    finally:
        app.config["LABSYS"] = told
    assert TOLD in page
    assert "has not left yet" in page
    do_close = {"changed": "A mat by the sink"}
    assert send(client_as("safety adviser"), f"/incidents/{made.id}/close", **do_close).status_code == 303
    assert "NOBODY HAS BEEN TOLD" not in text(client_as("member").get(f"/incidents/{made.id}"))
