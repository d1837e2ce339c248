"""The list of people, inviting, and what a manager does with one account."""

import re
from collections.abc import Callable

import pytest
from flask.testing import FlaskClient
from sqlalchemy import func, select

from labsys import clock
from labsys.database import DbSession
from labsys.people import service
from labsys.people.acts import Act
from labsys.people.models import EntryLink, Person, Role
from labsys.records.models import RecordEntry
from tests.people.sending import sign_in
from tests.support.lab import SmallLab
from tests.support.pages import hidden_field, links, queries_of, send, source

ClientAs = Callable[..., FlaskClient]


def entries(session: DbSession) -> int:
    return session.execute(select(func.count()).select_from(RecordEntry)).scalar_one()

    # The list of people


@pytest.mark.sqlite_only
def test_only_a_manager_sees_who_is_here(client_as: ClientAs) -> None:
    assert client_as("technician").get("/people").status_code == 403
    page = source(client_as("manager").get("/people"))
    for name in ("Μαρία Ιωάννου", "Łukasz Żak", "Пётр Орлов"):
        assert name in page


@pytest.fixture
def crowd(lab: SmallLab) -> SmallLab:
    """Sixty more members than the lab began with."""
    for number in range(60):
        service.invite_person(
            lab.act("manager"), name=f"Guest {number}", email=f"guest{number}@example.org", roles=[Role.MEMBER]
        )
    return lab


@pytest.mark.sqlite_only
def test_the_list_comes_in_pages_by_key(client_as: ClientAs, crowd: SmallLab) -> None:
    client = client_as("manager")
    first = source(client.get("/people"))
    later = next(href for href in links(first) if "after=" in href)
    second = source(client.get(later))
    names = re.findall(r"Guest \d+(?=</a>)", first) + re.findall(r"Guest \d+(?=</a>)", second)
    assert names == [f"Guest {number}" for number in range(60)]
    assert "From the start" in second
    assert "after=" not in "".join(links(second))


@pytest.mark.parametrize("after", ["-1", "somebody", "9" * 30])
def test_a_key_that_no_row_can_have_shows_the_list_from_its_start(
    client_as: ClientAs, lab: SmallLab, after: str
) -> None:
    answer = client_as("manager").get("/people", query_string={"after": after})
    assert answer.status_code == 200
    assert "Łukasz Żak" in source(answer)


def test_the_list_costs_as_many_queries_however_many_people_there_are(
    client_as: ClientAs, lab: SmallLab, request: pytest.FixtureRequest
) -> None:
    client = client_as("manager")
    few = queries_of(client, "/people")
    request.getfixturevalue("crowd")
    assert queries_of(client, "/people") == few <= 8

    # Inviting


INVITED = {"name": "Ελένη Παππά", "email": "Eleni@example.org", "roles": ["member", "technician"]}


def test_an_invitation_shows_its_link_this_once(client_as: ClientAs, lab: SmallLab) -> None:
    manager = client_as("manager")
    answer = send(manager, "/people/invite", **INVITED)
    assert answer.status_code == 200
    page = source(answer)
    assert "No mail server is set: hand this link over yourself. It works once, until " in page
    address = re.search(r"http://127\.0\.0\.1:8000(/welcome/[\w-]+)</textarea>", page)
    assert address is not None
    with manager.session_transaction() as kept:
        assert address[1].rpartition("/")[2] not in str(dict(kept))
    assert client_as().get(address[1]).status_code == 200
    person = lab.session.execute(select(Person).where(Person.email == "eleni@example.org")).scalar_one()
    assert person.roles == {Role.MEMBER, Role.TECHNICIAN}
    assert address[1] not in source(manager.get(f"/people/{person.id}"))


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"name": "  "}, "Enter the person&#39;s name."),
        ({"name": "x" * 121}, "Use at most 120 characters."),
        ({"email": "eleni at example"}, "That is not an e-mail address."),
        ({"email": "MEMBER@example.org"}, "Somebody here has that e-mail address already."),
        ({"roles": []}, "Choose at least one role."),
        ({"roles": ["caretaker"]}, "Choose at least one role."),
    ],
)
def test_an_invitation_that_does_not_fit_is_given_back_as_typed(
    client_as: ClientAs, lab: SmallLab, changes: dict[str, object], message: str
) -> None:
    before = entries(lab.session)
    sent = {**INVITED, **changes}
    answer = send(client_as("manager"), "/people/invite", **sent)
    assert answer.status_code == 422
    assert message in source(answer)
    assert f'value="{sent["email"]!s}"' in source(answer)
    assert entries(lab.session) == before


@pytest.mark.sqlite_only
def test_an_invitation_sent_twice_makes_one_account(client_as: ClientAs, lab: SmallLab) -> None:
    client = client_as("manager")
    token = hidden_field(source(client.get("/people/invite")), "csrf_token")
    answers = [client.post("/people/invite", data={"csrf_token": token, **INVITED}) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 422]
    people = select(func.count()).select_from(Person).where(Person.email == "eleni@example.org")
    assert lab.session.execute(people).scalar_one() == 1

    # One person


def test_a_manager_changes_roles_by_ticks(client_as: ClientAs, lab: SmallLab) -> None:
    client, person_id = client_as("manager"), lab.ids["member"]
    page = f"/people/{person_id}"
    answer = send(client, f"{page}/roles", at=page, roles=["technician", "member"])
    assert (answer.status_code, answer.location) == (303, page)
    shown = source(client.get(page))
    assert "Łukasz Żak is now member and technician." in shown
    assert re.search(r'value="technician" checked', shown)
    written = entries(lab.session)
    send(client, f"{page}/roles", at=page, roles=["technician", "member"])
    assert entries(lab.session) == written


@pytest.mark.sqlite_only
def test_nobody_is_left_without_a_role(client_as: ClientAs, lab: SmallLab) -> None:
    page = f"/people/{lab.ids['member']}"
    answer = send(client_as("manager"), f"{page}/roles", at=page)
    assert answer.status_code == 422
    assert "Choose at least one role." in source(answer)
    assert lab.person("member").roles == {Role.MEMBER}


def test_the_last_manager_stays_manager_and_stays(client_as: ClientAs, lab: SmallLab) -> None:
    client, page = client_as("manager"), f"/people/{lab.ids['manager']}"
    answer = send(client, f"{page}/roles", at=page, roles=["member"])
    assert answer.status_code == 422
    assert "This is the lab&#39;s only manager. Make somebody else a manager first." in source(answer)
    closed = send(client, f"{page}/close", at=page)
    assert (closed.status_code, closed.location) == (303, page)
    assert "only manager" in source(client.get(page))
    assert lab.person("manager").is_active


@pytest.mark.sqlite_only
def test_a_manager_who_gives_up_the_role_lands_on_the_first_page(client_as: ClientAs, lab: SmallLab) -> None:
    client = client_as("manager")
    other = f"/people/{lab.ids['technician']}"
    send(client, f"{other}/roles", at=other, roles=["manager"])
    own = f"/people/{lab.ids['manager']}"
    answer = send(client, f"{own}/roles", at=own, roles=["member"])
    assert (answer.status_code, answer.location) == (303, "/")


def test_closing_an_account_ends_its_sessions_and_opening_it_lets_them_back(
    client_as: ClientAs, lab: SmallLab, member: Person
) -> None:
    manager, theirs, page = client_as("manager"), client_as("member"), f"/people/{lab.ids['member']}"
    assert theirs.get("/account").status_code == 200
    assert send(manager, f"{page}/close", at=page).location == page
    assert "The account is closed" in source(manager.get(page))
    assert theirs.get("/account").status_code == 303
    assert send(manager, f"{page}/reopen", at=page).location == page
    assert sign_in(client_as()).status_code == 303


def test_a_new_link_is_shown_this_once_and_ends_the_earlier_ones(client_as: ClientAs, lab: SmallLab) -> None:
    client, page = client_as("manager"), f"/people/{lab.ids['member']}"
    found = [
        re.search(r"(/welcome/[\w-]+)</textarea>", source(send(client, f"{page}/link", at=page))) for _ in range(2)
    ]
    assert all(found)
    first, second = (one[1] for one in found if one)
    assert client_as().get(first).status_code == 410
    assert client_as().get(second).status_code == 200
    open_links = (
        select(func.count())
        .select_from(EntryLink)
        .where(EntryLink.person_id == lab.ids["member"], EntryLink.used_at.is_(None))
    )
    assert lab.session.execute(open_links).scalar_one() == 1


@pytest.mark.sqlite_only
def test_no_link_is_made_for_one_who_left(client_as: ClientAs, lab: SmallLab) -> None:
    service.close_account(Act(lab.session, by=lab.person("manager"), now=clock.now()), person_id=lab.ids["member"])
    client, page = client_as("manager"), f"/people/{lab.ids['member']}"
    answer = send(client, f"{page}/link", at=page)
    assert (answer.status_code, answer.location) == (303, page)
    assert "Łukasz Żak has left. Let them back in first." in source(client.get(page))


@pytest.mark.sqlite_only
def test_nobody_by_that_number_is_not_found(client_as: ClientAs, lab: SmallLab) -> None:
    client = client_as("manager")
    assert client.get("/people/999999").status_code == 404
    assert send(client, "/people/999999/close", at="/people").status_code == 404
