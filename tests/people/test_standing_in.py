"""A manager stands in for a role as long as nobody else here holds it; then not any more."""

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient

from labsys.cli import main
from labsys.config import Config
from labsys.people import service
from labsys.people.models import Role
from labsys.people.permissions import GRANTED, NEVER_STOOD_IN_FOR, Permission, may, roles_that_may, stands_in_for
from tests.conftest import Content
from tests.support.lab import SmallLab
from tests.support.pages import source
from tests.support.visitor import Visitor

ClientAs = Callable[..., FlaskClient]
GRANTED_TO_NO_MANAGER = frozenset(Permission) - GRANTED[Role.MANAGER]


def leave(lab: SmallLab, *roles: str) -> None:
    for role in roles:
        service.close_account(lab.act("manager"), person_id=lab.ids[role])


def test_a_manager_may_what_nobody_else_here_may(lab: SmallLab) -> None:
    manager = lab.person("manager")
    assert not any(may(manager, permission) for permission in GRANTED_TO_NO_MANAGER)
    assert stands_in_for(manager) == []
    leave(lab, "technician")
    assert may(manager, Permission.KEEP_BATHS)
    assert not may(manager, Permission.TEST_BATH)  # the instructor's as well
    assert not may(manager, Permission.CONFIRM_PRODUCT)
    assert stands_in_for(manager) == [Role.TECHNICIAN]
    leave(lab, "instructor", "safety adviser", "member")
    assert {permission for permission in Permission if not may(manager, permission)} == NEVER_STOOD_IN_FOR
    assert stands_in_for(manager) == [Role.TECHNICIAN, Role.SAFETY_ADVISER]


@pytest.mark.sqlite_only
def test_whoever_was_invited_holds_a_role_once_they_have_come(lab: SmallLab) -> None:
    leave(lab, "technician")
    invited = service.invite_person(
        lab.act("manager"), name="Aino", email="aino@example.org", roles=[Role.TECHNICIAN, Role.MEMBER]
    )
    assert may(lab.person("manager"), Permission.KEEP_BATHS)
    lab.come_in("aino", invited)
    assert not may(lab.person("manager"), Permission.KEEP_BATHS)
    service.change_roles(lab.act("manager"), person_id=lab.ids["aino"], roles=[Role.MEMBER])
    assert may(lab.person("manager"), Permission.KEEP_BATHS)


@pytest.mark.sqlite_only
@pytest.mark.parametrize("role", [role for role in Role if role is not Role.MANAGER])
def test_nobody_but_a_manager_stands_in(lab: SmallLab, role: Role) -> None:
    leave(lab, *(other for other in ("member", "instructor", "technician", "safety adviser") if other != role))
    person = lab.person(role)
    assert {permission for permission in Permission if may(person, permission)} == GRANTED[role]
    assert stands_in_for(person) == []


@pytest.mark.sqlite_only
def test_a_manager_at_a_tablet_may_no_more_than_a_tablet_does(lab: SmallLab) -> None:
    leave(lab, "technician")
    manager = lab.person("manager")
    manager.confined_to = frozenset({Permission.LOG_USE})  # type: ignore[misc]
    assert not may(manager, Permission.KEEP_BATHS)


@pytest.mark.sqlite_only
def test_two_managers_both_stand_in_and_either_is_named(lab: SmallLab, client_as: ClientAs) -> None:
    service.change_roles(lab.act("manager"), person_id=lab.ids["instructor"], roles=[Role.MANAGER])
    leave(lab, "technician")
    page = client_as("member").get("/baths/mix")
    assert page.status_code == 403
    assert "It is open to technician. Ask Ines Carrow or Μαρία Ιωάννου." in source(page)


@pytest.mark.sqlite_only
def test_a_refusal_names_the_roles_and_whom_to_ask(lab: SmallLab, client_as: ClientAs) -> None:
    refused = source(client_as("manager").get("/baths/mix"))
    assert "You may not mix, replenish or dump baths." in refused
    assert "It is open to technician. Ask Sol Haddad." in refused
    assert f"/people/{lab.ids['manager']}" in refused
    assert "Ask the lab manager" not in refused
    of_members = source(client_as("manager").get(f"/baths/lines/{lab.film_line_id}/log"))
    assert "It is open to member, instructor and technician." in of_members
    assert "Łukasz" not in of_members
    assert roles_that_may(Permission.KEEP_LAB) == {Role.MANAGER}


@pytest.mark.sqlite_only
def test_today_says_for_whom_a_manager_stands_in(lab: SmallLab, client_as: ClientAs) -> None:
    assert "You stand in for" not in source(client_as("manager").get("/"))
    leave(lab, "safety adviser")
    assert "You stand in for the safety adviser until somebody else holds that role" in source(
        client_as("manager").get("/")
    )
    leave(lab, "technician")
    assert "You stand in for the technician and safety adviser until somebody else holds these roles" in source(
        client_as("manager").get("/")
    )
    assert "You stand in for" not in source(client_as("member").get("/"))


@pytest.fixture
def first_manager(new_app: Callable[..., Flask], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Visitor:
    """The manager of a lab that `labsys init` has just begun, who has chosen a password."""
    app = new_app(Content.TABLES)
    config: Config = app.config["LABSYS"]
    (tmp_path / "secret_key").write_text(config.secret_key)
    monkeypatch.setenv("LABSYS_INSTANCE", str(tmp_path))
    monkeypatch.setenv("LABSYS_DATABASE_URL", config.database_url)
    begun = CliRunner().invoke(
        main,
        [
            *("init", "--name", "Alder Street Darkroom", "--prefix", "AS"),
            *("--manager-name", "Μαρία Ιωάννου", "--manager-email", "maria@example.org"),
        ],
    )
    assert begun.exit_code == 0, begun.output
    visitor = Visitor(app)
    visitor.open("/welcome/" + begun.output.split("/welcome/")[1].split()[0])
    visitor.send(password="four plain words together", again="four plain words together")
    return visitor


def test_the_first_manager_takes_a_new_lab_from_product_to_bath_and_hands_over(first_manager: Visitor) -> None:
    manager = first_manager
    manager.open("/")
    assert "You stand in for the technician and safety adviser" in manager.page
    manager.open("/store/products/add")
    manager.send(
        name="Rapid fixer concentrate",
        supplier="Made-up Supplies",
        sds_date="2025-05-01",
        kind="fixer",
        waste_code="09 01 04*",
        h_codes="not classified",
        density="1.3",
        **{
            "ingredients-0-name": "ammonium thiosulfate",
            "ingredients-0-cas": "7783-18-8",
            "ingredients-0-content": "50-60 %",
            "dilutions-0-dilution": "1+4",
            "dilutions-0-use": "film",
        },
    )
    product = manager.path
    manager.press("Confirm: they agree with the SDS")
    product_id = product.rsplit("/", 1)[1]
    manager.open(f"/store/bottles/receive?product_id={product_id}")
    manager.send(amount="1 L", lot="7714")
    manager.open("/baths/lines/add")
    manager.send(name="Film sink", work="film", holding="tank")
    line_id = manager.path.rsplit("/", 1)[1]
    mixing = f"/baths/mix?product_id={product_id}&line_id={line_id}"
    manager.open(mixing)
    assert (
        "No opening hours are stated, so no hour counts as staffed (whoever keeps the places states them)."
        in manager.page
    )
    assert "so Μαρία Ιωάννου names who is the first" in manager.page
    manager.open("/competences/people/1/grant")
    manager.send(competence="mixing out of hours", may_grant="y", because="Alone in a new lab")
    manager.open(mixing)
    manager.send(typed_dilution="1+4", volume="2.5 L", line_id=line_id, place="fixer", capacity="3 L")
    manager.send(**{"bottles-0-amount": "500", "water": "2000"})  # 1+4 in 2.5 L: common practice, no source
    assert manager.path.startswith("/baths/")

    manager.open("/people/invite")
    page = manager.send(name="Sol Haddad", email="sol@example.org", roles=["technician"])
    manager.open(mixing)  # until the technician comes
    technician = Visitor(manager.client.application)
    technician.open("/welcome/" + page.split("/welcome/")[1].split("<")[0].split('"')[0])
    technician.send(password="four plain words together", again="four plain words together")
    technician.open(mixing)
    assert "Today Μαρία Ιωάννου holds it. Μαρία Ιωάννου can grant it." in technician.page
    manager.open("/competences/people/2/grant")  # in a lab of two nobody else is there to see it
    manager.send(competence="mixing out of hours", because="Nobody else is in the lab")
    technician.open(mixing)
    assert "Work it out" in technician.page
    refused = manager.client.get(mixing)
    assert refused.status_code == 403
    assert "It is open to technician. Ask Sol Haddad." in source(refused)
    manager.open("/")
    assert "You stand in for the safety adviser until" in manager.page
