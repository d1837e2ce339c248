"""Signing in and out, welcome links, and one's own account."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from flask.testing import FlaskClient

from labsys import clock
from labsys.database import db
from labsys.people import passwords, service
from labsys.people.acts import Act
from labsys.people.models import Person, Role
from tests.people.sending import sign_in
from tests.support.lab import PASSWORD, SmallLab
from tests.support.pages import hidden_field, send, source

ClientAs = Callable[..., FlaskClient]
CHEAP = (1, 8, 1)
OTHER_PASSWORD = "quite another set of words"


# Signing in


def test_the_right_password_signs_in_and_opens_the_first_page(client_as: ClientAs, member: Person) -> None:
    client = client_as()
    answer = sign_in(client)
    assert (answer.status_code, answer.location) == (303, "/")
    assert "Łukasz Żak" in source(client.get("/account"))


def test_an_address_may_be_typed_in_capitals_and_with_spaces(client_as: ClientAs, member: Person) -> None:
    assert sign_in(client_as(), email="  Member@Example.ORG ").status_code == 303


@pytest.mark.parametrize(
    "changes", [{"password": "not this one at all"}, {"email": "nobody@example.org"}], ids=["password", "address"]
)
def test_a_wrong_password_and_an_unknown_address_are_told_alike(
    client_as: ClientAs, member: Person, changes: dict[str, str]
) -> None:
    client = client_as()
    answer = sign_in(client, **changes)
    assert answer.status_code == 422
    assert "This e-mail address and this password do not go together. Check both." in source(answer)
    assert f'value="{changes.get("email", "member@example.org")}"' in source(answer)
    assert "not this one at all" not in source(answer)
    assert client.get("/account").status_code == 303


@pytest.mark.sqlite_only
def test_empty_fields_say_what_to_enter(client_as: ClientAs, lab: SmallLab) -> None:
    answer = sign_in(client_as(), email="", password="")
    assert answer.status_code == 422
    assert "Enter your e-mail address." in source(answer)
    assert "Enter your password." in source(answer)


def test_many_wrong_tries_are_stopped_and_told_how_long_to_wait(client_as: ClientAs, member: Person) -> None:
    for _ in range(5):
        assert sign_in(client_as(), password="a wrong guess").status_code == 422
    answer = sign_in(client_as())
    assert answer.status_code == 429
    assert "Wait 15 minutes, then try again." in source(answer)


@pytest.mark.sqlite_only
def test_one_who_left_is_not_let_in_and_not_told_apart(client_as: ClientAs, lab: SmallLab, member: Person) -> None:
    service.close_account(Act(lab.session, by=lab.person("manager"), now=clock.now()), person_id=member.id)
    answer = sign_in(client_as())
    assert answer.status_code == 422
    assert "do not go together" in source(answer)


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("wanted", "reached"),
    [
        ("/c/AS-T0001-1", "/c/AS-T0001-1"),
        ("/uses?before=4", "/uses?before=4"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("/\\elsewhere.example/", "/"),
        ("/\t/elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
    ],
)
def test_signing_in_goes_on_to_pages_of_this_site_only(
    client_as: ClientAs, member: Person, wanted: str, reached: str
) -> None:
    client = client_as()
    page = client.get("/sign-in", query_string={"next": wanted})
    answer = client.post(
        "/sign-in",
        query_string={"next": wanted},
        data={
            "csrf_token": hidden_field(source(page), "csrf_token"),
            "email": "member@example.org",
            "password": PASSWORD,
        },
    )
    assert (answer.status_code, answer.location) == (303, reached)


@pytest.mark.sqlite_only
def test_a_session_begins_clean(client_as: ClientAs, member: Person) -> None:
    client = client_as()
    with client.session_transaction() as before:
        before["left by somebody"] = "else"
    sign_in(client)
    with client.session_transaction() as after:
        assert "left by somebody" not in after


@pytest.mark.sqlite_only
def test_whoever_is_signed_in_is_not_asked_again(client_as: ClientAs) -> None:
    answer = client_as("member").get("/sign-in?next=/account")
    assert (answer.status_code, answer.location) == (302, "/account")


def test_signing_out_ends_the_session(client_as: ClientAs) -> None:
    client = client_as("member")
    answer = send(client, "/sign-out", at="/account")
    assert (answer.status_code, answer.location) == (303, "/sign-in")
    assert "You are signed out." in source(client.get("/sign-in"))
    assert client.get("/account").location == "/sign-in?next=/account"


@pytest.mark.sqlite_only
def test_signing_out_is_not_done_by_a_link(client_as: ClientAs) -> None:
    assert client_as("member").get("/sign-out").status_code == 405


# Welcome links


def test_a_welcome_link_names_its_person_and_lets_them_in_once(client_as: ClientAs, lab: SmallLab) -> None:
    invitation = service.invite_person(
        Act(lab.session, by=lab.person("manager"), now=clock.now()),
        name="Ελένη Παππά",
        email="eleni@example.org",
        roles=[Role.MEMBER],
    )
    path, client = f"/welcome/{invitation.token}", client_as()
    page = source(client.get(path))
    assert "This link is for Ελένη Παππά, who signs in as eleni@example.org." in page
    answer = send(client, path, password=PASSWORD, again=PASSWORD)
    assert (answer.status_code, answer.location) == (303, "/")
    assert "Ελένη Παππά" in source(client.get("/account"))
    again = client_as().get(path)
    assert again.status_code == 410
    assert "This link was used already." in source(again)


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"password": "", "again": ""}, "Choose a password."),
        ({"password": "short", "again": "short"}, "Use at least 10 characters."),
        ({"password": PASSWORD, "again": OTHER_PASSWORD}, "The two are not the same."),
        ({"password": "aaaaaaaaaaaa", "again": "aaaaaaaaaaaa"}, "That is too easy to guess."),
        ({"password": "member@example.org", "again": "member@example.org"}, "That is too easy to guess."),
        ({"password": "ab cd " * 40, "again": "ab cd " * 40}, "Use at most 200 characters."),
    ],
)
def test_a_poor_password_is_refused_and_the_link_still_works(
    client_as: ClientAs, lab: SmallLab, fields: dict[str, str], message: str
) -> None:
    token = service.send_reset(
        Act(lab.session, by=lab.person("manager"), now=clock.now()), person_id=lab.ids["member"]
    ).token
    client = client_as()
    answer = send(client, f"/welcome/{token}", **fields)
    assert answer.status_code == 422
    assert message in source(answer)
    assert client.get(f"/welcome/{token}").status_code == 200


def test_an_expired_link_says_so(client_as: ClientAs, lab: SmallLab) -> None:
    long_ago = clock.now() - timedelta(days=15)
    token = service.send_reset(
        Act(lab.session, by=lab.person("manager"), now=long_ago), person_id=lab.ids["member"]
    ).token
    answer = client_as().get(f"/welcome/{token}")
    assert answer.status_code == 410
    assert "This link has expired. Ask the lab&#39;s manager for a new one." in source(answer)


@pytest.mark.sqlite_only
def test_an_unknown_link_is_not_found(client_as: ClientAs, lab: SmallLab) -> None:
    answer = client_as().get("/welcome/no-such-token")
    assert answer.status_code == 404
    assert "Check that you copied all of it." in source(answer)


# One's own account


def test_the_account_shows_the_roles_in_words(client_as: ClientAs, lab: SmallLab) -> None:
    service.change_roles(
        Act(lab.session, by=lab.person("manager"), now=clock.now()),
        person_id=lab.ids["technician"],
        roles=[Role.MEMBER, Role.TECHNICIAN, Role.SAFETY_ADVISER],
    )
    assert "member, technician and safety adviser" in source(client_as("technician").get("/account"))


def test_a_new_password_ends_the_other_sessions_and_keeps_this_one(client_as: ClientAs, member: Person) -> None:
    here, elsewhere = client_as("member"), client_as("member")
    assert elsewhere.get("/account").status_code == 200
    answer = send(here, "/account", current=PASSWORD, password=OTHER_PASSWORD, again=OTHER_PASSWORD)
    assert (answer.status_code, answer.location) == (303, "/account")
    assert "Your password is changed." in source(here.get("/account"))
    assert elsewhere.get("/account").location == "/sign-in?next=/account"
    assert sign_in(client_as()).status_code == 422
    assert sign_in(client_as(), password=OTHER_PASSWORD).status_code == 303


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"current": "not mine"}, "That is not your password now."),
        ({"current": ""}, "Enter the password you sign in with now."),
        ({"password": "short", "again": "short"}, "Use at least 10 characters."),
        ({"again": PASSWORD}, "The two are not the same."),
    ],
)
def test_a_change_of_password_that_does_not_fit_changes_nothing(
    client_as: ClientAs, member: Person, fields: dict[str, str], message: str
) -> None:
    sent = {"current": PASSWORD, "password": OTHER_PASSWORD, "again": OTHER_PASSWORD, **fields}
    answer = send(client_as("member"), "/account", **sent)
    assert answer.status_code == 422
    assert message in source(answer)
    db.session.expire_all()
    assert passwords.password_fits(PASSWORD, db.session.get_one(Person, member.id).password_hash, cost=CHEAP)


@pytest.mark.sqlite_only
def test_a_tablet_left_open_is_no_place_to_guess_a_password(client_as: ClientAs, member: Person) -> None:
    client = client_as("member")
    sent = {"password": OTHER_PASSWORD, "again": OTHER_PASSWORD}
    for _ in range(5):
        assert send(client, "/account", current="a wrong guess", **sent).status_code == 422
    answer = send(client, "/account", current=PASSWORD, **sent)
    assert answer.status_code == 429
    assert "Wait 15 minutes" in source(answer)
