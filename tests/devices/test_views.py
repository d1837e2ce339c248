"""At a shared tablet: say who you are, log one entry, and be forgotten."""

import re
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from flask.testing import FlaskClient
from sqlalchemy import func, select
from werkzeug.test import TestResponse

from labsys import clock
from labsys.baths.models import Use
from labsys.devices import service
from labsys.devices.models import Card, EnrolledDevice
from labsys.people.acts import Act
from labsys.records.models import IssuedDocument
from labsys.timetable.spans import Span
from tests.support.lab import SmallLab
from tests.support.pages import hidden_field, press, queries_of, send, source

ClientAs = Callable[..., FlaskClient]
PIN = "2580"


@pytest.fixture
def at(monkeypatch: pytest.MonkeyPatch, lab: SmallLab) -> SmallLab:
    """The lab, with the clock of the pages on its own time."""
    lab.mix_film_line()
    monkeypatch.setattr(clock, "now", lambda: lab.now)
    return lab


@pytest.fixture
def tablet(client_as: ClientAs, at: SmallLab) -> FlaskClient:
    """A browser that a manager enrolled."""
    client = client_as("manager")
    answer = send(client, "/devices/enrol", name="Dry side, by the door")
    assert (answer.status_code, answer.location) == (303, "/tablet")
    return client


def card_of(lab: SmallLab, role: str = "member") -> Card:
    return service.issue_card(lab.act("manager"), person_id=lab.ids[role])


def enter(tablet: FlaskClient, lab: SmallLab, role: str = "member") -> TestResponse:
    return send(tablet, "/tablet", code=card_of(lab, role).code)


def log(tablet: FlaskClient, lab: SmallLab) -> TestResponse:
    path = f"/baths/lines/{lab.film_line_id}/log"
    page = source(tablet.get(path))
    fields = {"csrf_token": hidden_field(page, "csrf_token"), "submission_key": hidden_field(page, "submission_key")}
    return tablet.post(path, data={**fields, "went-film-120": "2", "started": "before"})


def uses(lab: SmallLab) -> int:
    lab.session.rollback()
    return lab.session.execute(select(func.count()).select_from(Use)).scalar_one()


def test_enrolling_signs_the_manager_out_and_leaves_a_cookie_no_script_can_read(tablet: FlaskClient, at: SmallLab):
    cookie = tablet.get_cookie("tablet")
    assert cookie is not None
    assert cookie.http_only
    assert (cookie.same_site, cookie.max_age) == ("Lax", 400 * 24 * 3600)
    kept = at.session.execute(select(EnrolledDevice)).scalar_one()
    assert cookie.value not in kept.token_digest
    assert tablet.get("/devices").location.startswith("/tablet")
    assert "Who are you?" in source(tablet.get("/tablet"))


def test_by_card_one_use_is_logged_and_then_the_tablet_forgets(tablet: FlaskClient, at: SmallLab):
    answer = enter(tablet, at)
    assert (answer.status_code, answer.location) == (303, "/baths")
    assert "You are Łukasz Żak." in source(tablet.get("/baths"))
    before = uses(at)
    answer = log(tablet, at)
    assert (answer.status_code, answer.location) == (303, "/tablet")
    assert uses(at) == before + 1
    page = source(tablet.get("/tablet"))
    assert "Logged:" in page
    assert "Łukasz" not in page
    assert tablet.get("/baths").location.startswith("/tablet?next=")
    used = at.session.execute(select(Use).order_by(Use.id.desc()).limit(1)).scalar_one()
    assert used.person_id == at.ids["member"]


def test_by_name_and_pin_too(tablet: FlaskClient, at: SmallLab):
    assert "Nobody has a PIN yet" in source(tablet.get("/tablet/pin"))
    service.choose_pin(at.act("member"), pin=PIN, cost=(1, 8, 1))
    assert "Łukasz Żak" in source(tablet.get("/tablet/pin"))
    answer = send(tablet, "/tablet/pin", person=at.ids["member"], pin="9999")
    assert answer.status_code == 422
    assert "This does not say who you are" in source(answer)
    assert 'value="9999"' not in source(answer)
    assert send(tablet, "/tablet/pin", person=at.ids["member"], pin=PIN).status_code == 303


def test_who_dumps_baths_is_told_why_not_here(tablet: FlaskClient, at: SmallLab):
    """The technician may, and is not told to ask for it: it is the tablet that takes uses and plans only."""
    enter(tablet, at, "technician")
    told = source(tablet.get("/baths/1/dump"))
    assert "At a shared tablet only what goes through the baths is logged" in " ".join(told.split())
    assert "Ask the lab manager" not in told
    assert "It is open to" not in told


def test_a_form_that_is_refused_does_not_end_the_visit(tablet: FlaskClient, at: SmallLab):
    enter(tablet, at)
    path = f"/baths/lines/{at.film_line_id}/log"
    assert send(tablet, path, **{"went-film-120": "0"}).status_code == 422
    assert log(tablet, at).location == "/tablet"


def test_a_session_sheet_issued_at_a_tablet_ends_the_visit_and_opens_elsewhere(
    tablet: FlaskClient, client_as: ClientAs, at: SmallLab
):
    process = at.add_process()
    enter(tablet, at)
    page = source(tablet.get(f"/plan?process_id={process.id}&size=120&count=1"))
    fields = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', page[page.index('<form class="issue') :]))
    refused = tablet.post("/documents/session-sheet", data={**fields, "count": "0"})
    assert refused.location.startswith("/plan?")  # nothing was issued, so the visit goes on
    assert tablet.get("/baths").status_code == 200
    answer = tablet.post("/documents/session-sheet", data=fields)
    assert (answer.status_code, answer.location) == (303, "/tablet")
    shown = source(tablet.get("/tablet"))
    assert "What was issued opens where you are signed in yourself" in shown
    assert "Łukasz" not in shown
    sheet = at.session.execute(select(IssuedDocument)).scalar_one()
    assert sheet.issued_by_id == at.ids["member"]
    assert tablet.get(f"/documents/{sheet.id}").location.startswith("/tablet")
    assert client_as("member").get(f"/documents/{sheet.id}").mimetype == "application/pdf"


def test_after_three_minutes_nobody_is_known(tablet: FlaskClient, at: SmallLab):
    enter(tablet, at)
    page = tablet.get("/baths")
    assert page.headers["Refresh"] == "181; url=/tablet"
    at.tick(seconds=179)
    assert tablet.get("/baths").status_code == 200
    before, path = uses(at), f"/baths/lines/{at.film_line_id}/log"
    form = source(tablet.get(path))
    at.tick(seconds=1)
    fields = {name: hidden_field(form, name) for name in ("csrf_token", "submission_key")}
    late = tablet.post(path, data={**fields, "went-film-120": "2", "started": "before"})
    assert (late.status_code, late.location) == (303, "/tablet")
    assert uses(at) == before
    assert "Your time at the tablet is over." in source(tablet.get("/tablet"))


@pytest.mark.sqlite_only
@pytest.mark.parametrize("role", ["manager", "technician", "safety adviser"])
def test_no_page_beyond_a_members_opens_whoever_it_is(tablet: FlaskClient, at: SmallLab, role: str):
    enter(tablet, at, role)
    assert tablet.get("/baths").status_code == 200
    for path in ("/people", "/devices", "/cards", "/mail", "/baths/mix", "/waste/collect", "/account", "/account/pin"):
        assert tablet.get(path).status_code == 403, path
    token = hidden_field(source(tablet.get("/baths")), "csrf_token")
    for path in (f"/people/{at.ids['member']}/close", "/devices/1/revoke", "/cards/1/revoke"):
        assert tablet.post(path, data={"csrf_token": token}).status_code == 403, path
    assert "Mix a bath" not in source(tablet.get("/baths"))


def test_a_technician_at_a_tablet_may_not_correct_what_others_logged(tablet: FlaskClient, at: SmallLab):
    use = at.log(2)
    enter(tablet, at, "technician")
    assert tablet.get(f"/uses/{use.id}/correct").status_code == 403


def test_a_revoked_card_stops_at_once(tablet: FlaskClient, at: SmallLab):
    card = card_of(at)
    send(tablet, "/tablet", code=card.code)
    assert tablet.get("/baths").status_code == 200
    service.revoke_card(Act(at.session, by=at.person("manager"), now=at.now), card_id=card.id)
    assert tablet.get("/baths").location == "/tablet"
    assert "This does not say who you are" in source(send(tablet, "/tablet", code=card.code))


def test_a_revoked_tablet_stops_at_once(tablet: FlaskClient, client_as: ClientAs, at: SmallLab):
    enter(tablet, at)
    manager = client_as("manager")
    send(manager, "/devices/1/revoke", at="/devices")
    assert tablet.get("/baths").location == "/tablet"
    answer = tablet.get("/tablet")
    assert answer.status_code == 403
    assert "Not a shared tablet" in source(answer)


def test_a_visit_does_not_travel_to_another_browser(tablet: FlaskClient, client_as: ClientAs, at: SmallLab):
    enter(tablet, at)
    thief = client_as()
    stolen = tablet.get_cookie("session")
    assert stolen is not None
    thief.set_cookie("session", stolen.value)
    assert thief.get("/baths").location == "/tablet"


def test_somebody_who_leaves_the_lab_is_not_known_any_more(tablet: FlaskClient, at: SmallLab):
    enter(tablet, at)
    at.person("member").left_at = at.now
    at.session.commit()
    assert tablet.get("/baths").location == "/tablet"


def test_signing_out_asks_who_is_next(tablet: FlaskClient, at: SmallLab):
    enter(tablet, at)
    answer = send(tablet, "/sign-out", at="/baths")
    assert (answer.status_code, answer.location) == (303, "/tablet")
    assert "Łukasz" not in source(tablet.get("/tablet"))


def test_a_scanned_bath_is_reached_after_saying_who_one_is(tablet: FlaskClient, at: SmallLab):
    asked = tablet.get("/baths/1").location
    assert asked == "/tablet?next=/baths/1"
    assert send(tablet, asked, code=card_of(at).code).location == "/baths/1"
    assert send(tablet, "/tablet?next=https://elsewhere.example/", code=card_of(at).code).location == "/baths"


def test_fifty_guesses_through_the_page_are_stopped_and_told_to_wait(tablet: FlaskClient, at: SmallLab):
    service.choose_pin(at.act("member"), pin=PIN, cost=(1, 8, 1))
    token = hidden_field(source(tablet.get("/tablet/pin")), "csrf_token")
    answers = [
        tablet.post(
            "/tablet/pin", data={"csrf_token": token, "person": at.ids["member"], "pin": PIN if n == 49 else 7000 + n}
        )
        for n in range(50)
    ]
    assert [answer.status_code for answer in answers] == [422] * 5 + [429] * 45
    assert "Wait 15 minutes, or use your own phone." in source(answers[-1])


@pytest.mark.sqlite_only
@pytest.mark.parametrize("path", ["/tablet", "/tablet/pin"])
def test_a_browser_that_is_no_tablet_is_told_so(client_as: ClientAs, at: SmallLab, path: str):
    answer = client_as().get(path)
    assert answer.status_code == 403
    assert "Not a shared tablet" in source(answer)


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("code", "says"),
    [("", "Scan your card"), ("hello", "A code here looks like"), ("AS-P123456789-0", "check character")],
)
def test_what_is_no_card_is_told_and_kept(tablet: FlaskClient, at: SmallLab, code: str, says: str):
    answer = send(tablet, "/tablet", code=code)
    assert answer.status_code == 422
    assert says in source(answer)
    assert f'value="{code}"' in source(answer)

    # What a manager does


def test_a_card_is_issued_once_printed_found_by_its_code_and_revoked(client_as: ClientAs, at: SmallLab):
    manager, member = client_as("manager"), at.ids["member"]
    page = source(manager.get(f"/people/{member}/cards"))
    fields = {name: hidden_field(page, name) for name in ("csrf_token", "submission_key")}
    first = manager.post(f"/people/{member}/cards/issue", data=fields)
    again = manager.post(f"/people/{member}/cards/issue", data=fields)
    assert first.location == again.location
    card = at.session.execute(select(Card)).scalar_one()
    printed = source(manager.get(first.location))
    assert card.code in printed
    assert "<svg" in printed
    assert manager.get(f"/find-code?code={card.code}").location == f"/cards/{card.id}"
    assert client_as("member").get(f"/cards/{card.id}").status_code == 403
    send(manager, f"/cards/{card.id}/revoke", at=first.location)
    after = source(manager.get(first.location))
    assert "revoked" in after
    assert card.code not in after


def test_tonights_code_is_shown_once(client_as: ClientAs, at: SmallLab):
    manager, member = client_as("manager"), at.ids["member"]
    answer = send(manager, f"/people/{member}/cards/tonight", at=f"/people/{member}/cards")
    card = at.session.execute(select(Card)).scalar_one()
    assert card.code in source(answer)
    assert "Tue 3 Mar 2026, 04:00" in source(answer)
    for path in (f"/cards/{card.id}", f"/people/{member}/cards", "/cards"):
        page = manager.get(path)
        assert page.status_code == 200
        assert card.code not in source(page)


@pytest.mark.sqlite_only
def test_nobody_who_left_gets_a_card(client_as: ClientAs, at: SmallLab):
    manager, member = client_as("manager"), at.ids["member"]
    form = source(manager.get(f"/people/{member}/cards"))
    at.person("member").left_at = at.now
    at.session.commit()
    for act in ("issue", "tonight"):
        answer = manager.post(f"/people/{member}/cards/{act}", data={"csrf_token": hidden_field(form, "csrf_token")})
        assert answer.status_code == 303
    assert "has left" in source(manager.get(f"/people/{member}/cards"))
    assert at.session.execute(select(func.count()).select_from(Card)).scalar_one() == 0


@pytest.mark.sqlite_only
def test_a_pin_is_chosen_on_the_own_account(client_as: ClientAs, at: SmallLab):
    client = client_as("member")
    for pin, again, says in (
        ("1234", "1234", "among the first anybody tries"),
        ("25", "25", "4 to 8 digits"),
        ("2580", "2581", "The two are not the same"),
        ("", "", "Choose a PIN"),
    ):
        answer = send(client, "/account/pin", pin=pin, again=again)
        assert (answer.status_code, says in source(answer)) == (422, True)
    assert send(client, "/account/pin", pin=PIN, again=PIN).location == "/account"
    assert "A new one takes its place." in source(client.get("/account/pin"))


@pytest.mark.sqlite_only
def test_a_tablet_needs_a_name(client_as: ClientAs, at: SmallLab):
    answer = send(client_as("manager"), "/devices/enrol", name=" ")
    assert answer.status_code == 422
    assert "Give the tablet a name." in source(answer)


@pytest.mark.sqlite_only
def test_the_session_says_how_long_it_lasts(tablet: FlaskClient, at: SmallLab):
    enter(tablet, at)
    with tablet.session_transaction() as session:
        until = datetime.fromisoformat(session["tablet"]["until"])
    assert until == at.now + timedelta(minutes=3)


@pytest.mark.sqlite_only
@pytest.mark.parametrize("path", ["/cards", "/devices", "/people/2/cards"])
def test_twice_the_cards_and_tablets_cost_no_more_queries(client_as: ClientAs, at: SmallLab, path: str):
    manager = client_as("manager")

    def add_ten() -> None:
        for number in range(10):
            card_of(at, ("member", "technician", "instructor")[number % 3])
            service.enrol_device(at.act("manager"), name=f"Tablet {number}")

    add_ten()
    few = queries_of(manager, path)
    add_ten()
    assert queries_of(manager, path) == few


def test_an_arrival_at_a_tablet_is_asked_what_is_missing_by_now(tablet: FlaskClient, at: SmallLab):
    at.add_places()
    noon = at.now.replace(hour=12, minute=0)
    booking = at.book("Film sink", Span(noon, noon + timedelta(hours=1)))
    at.add_induction("Sink", station_ids=frozenset({at.ids["Film sink"]}))
    at.now = noon
    enter(tablet, at)
    path = f"/bookings/{booking.id}"
    press(tablet, f"{path}/arrive", at=path)
    told = source(tablet.get(path))
    assert "You are not cleared for this yet. Sink is needed for Film sink: never signed off." in told
    assert "Come to the induction on Mondays at six." in told
    at.session.refresh(booking)
    assert booking.arrived_at is None
