"""The spine through HTTP, from an empty database to the papers: from bottle to consignment, on both databases."""

from collections.abc import Callable
from datetime import date

import pytest
from click.testing import CliRunner
from flask import Flask
from sqlalchemy import text

from labsys import clock
from labsys.cli import main
from labsys.config import Config
from labsys.database import db
from labsys.lab.rules import Settings
from labsys.lab.service import set_up_lab
from labsys.people.acts import Act
from tests.conftest import Content
from tests.support.visitor import Visitor

PASSWORD = "four plain words together"
MANAGER = "Μαρία Ιωάννου"
FIRST_HELD = ("mixing out of hours", "signing waste away")  # no opening hours are set, so any hour is out of hours
HYDROQUINONE = "Skin Sens. 1 H317; Eye Dam. 1 H318; Muta. 2 H341; Carc. 2 H351"


@pytest.fixture
def empty_lab(new_app: Callable[..., Flask]) -> tuple[Flask, str]:
    """A lab that was just set up, and the token of its first manager."""
    app = new_app(Content.TABLES)
    with app.app_context():
        invitation = set_up_lab(
            Act(db.session, by=None, now=clock.now()),
            settings=Settings(
                name="Alder Street Darkroom",
                timezone="Europe/London",
                nation="England",
                emergency="Front desk 01632 960000",
            ),
            code_prefix="AS",
            manager_name="Μαρία Ιωάννου",
            manager_email="maria@example.org",
        )
        db.session.remove()
    return app, invitation.token


def arrive(app: Flask, token_path: str, email: str) -> Visitor:
    """Somebody follows their link, chooses a password and signs in."""
    visitor = Visitor(app)
    visitor.open(token_path)
    visitor.send(password=PASSWORD, again=PASSWORD)
    if "Sign out" not in visitor.page:
        visitor.sign_in(email, PASSWORD)
    return visitor


def invite(app: Flask, manager: Visitor, *, name: str, email: str, role: str) -> Visitor:
    manager.open("/people/invite")
    page = manager.send(name=name, email=email, roles=[role])
    token = page.split("/welcome/")[1].split("<")[0].split('"')[0]
    return arrive(app, f"/welcome/{token}", email)


def name_first(manager: Visitor, name: str, *competences: str) -> None:
    for competence in competences:
        manager.open(f"/competences?find={name.partition(' ')[0]}")
        manager.follow(name)
        manager.follow("Grant a competence")
        manager.send(competence=competence, may_grant="y", because="Nobody here held it before")
        assert f"granted by {MANAGER} alone, unwitnessed" in manager.page


def register(technician: Visitor, adviser: Visitor, **fields: str) -> str:
    """Register a product from its sheet and have it confirmed; return its page."""
    technician.open("/store/products/add")
    technician.send(supplier="Made-up Supplies", sds_date="2025-05-01", **fields)
    path = technician.path
    adviser.open(path)
    adviser.press("Confirm: they agree with the SDS")
    assert "Πέτρα" in adviser.page
    return path


def receive(technician: Visitor, product: str, litres: str) -> str:
    technician.open(f"/store/bottles/receive?product_id={product.rsplit('/', 1)[1]}")
    technician.send(amount=litres, lot="7714")
    return technician.path


def mix(technician: Visitor, *, product: str, line: str, dilution: str, place: str, measured: str, water: str) -> str:
    """Plan 2.5 L, then enter what was measured out; return the bath's page."""
    product_id, line_id = product.rsplit("/", 1)[1], line.rsplit("/", 1)[1]
    technician.open(f"/baths/mix?product_id={product_id}&line_id={line_id}")
    technician.send(typed_dilution=dilution, volume="2.5 L", line_id=line_id, place=place, capacity="3 L")
    technician.send(**{"bottles-0-amount": measured, "water": water})
    return technician.path


def test_from_bottle_to_consignment(empty_lab: tuple[Flask, str], monkeypatch: pytest.MonkeyPatch, tmp_path):
    app, token = empty_lab
    manager = arrive(app, f"/welcome/{token}", "maria@example.org")
    technician = invite(app, manager, name="Sol Haddad", email="sol@example.org", role="technician")
    adviser = invite(app, manager, name="Πέτρα Орлова", email="petra@example.org", role="safety adviser")
    member = invite(app, manager, name="Łukasz Żak", email="lukasz@example.org", role="member")

    # Nobody holds a competence in a new lab: the manager names the technician the first, alone and with a reason.
    name_first(manager, "Sol Haddad", *FIRST_HELD)

    # The chemical store: two products from their sheets, confirmed, and a bottle of each.
    fixer = register(
        technician,
        adviser,
        name="Rapid fixer concentrate",
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
            "capacities-0-dilution": "1+4",
            "capacities-0-material": "film",
            "capacities-0-per_litre": "20",
            "capacities-0-source": "data sheet, made up",
            "ages-0-holding": "tank",
            "ages-0-keeps": "60",
            "ages-0-source": "data sheet, made up",
        },
    )
    developer = register(
        technician,
        adviser,
        name="PQ liquid concentrate",
        kind="developer",
        waste_code="09 01 01*",
        h_codes="H317 H318 H341 H351",
        density="1.2",
        **{
            "ingredients-0-name": "hydroquinone",
            "ingredients-0-cas": "123-31-9",
            "ingredients-0-content": "3-5 %",
            "ingredients-0-classification": HYDROQUINONE,
            "dilutions-0-dilution": "1+6",
            "dilutions-0-use": "film",
        },
    )
    receive(technician, fixer, "1 L")
    receive(technician, developer, "1 L")

    # Waste streams with a container each, and a line of baths.
    containers = {}
    for code, name in (("09 01 01*", "Used developer"), ("09 01 04*", "Used fixer")):
        technician.open("/waste/streams/add")
        technician.send(code=code, name=name)
        technician.open("/waste/containers/open")
        technician.send(stream=technician.option("stream", name), capacity="25 L")
        containers[code] = technician.path.rsplit("/", 1)[1]
    technician.open("/baths/lines/add")
    technician.send(name="Film sink", work="film", holding="tank")
    line = technician.path

    # Common practice, no source: 1+6 in 2.5 L takes 357 mL, 1+4 takes 500 mL.
    developer_bath = mix(
        technician, product=developer, line=line, dilution="1+6", place="developer", measured="357", water="2143"
    )
    fixer_bath = mix(technician, product=fixer, line=line, dilution="1+4", place="fixer", measured="500", water="2000")
    code = technician.page.split('class="code">')[1].split("<")[0]

    # The label of the developer hangs on the tank: a sensitiser keeps gloves though the dilution is weak.
    technician.open(f"/documents/bath-label/{developer_bath.rsplit('/', 1)[1]}")
    technician.press("Issue the label as PDF")
    label = technician.pdf()
    for words in ("PQ liquid concentrate", "1+6", "hydroquinone", "loves", "09 01 01*", "Front desk 01632 960000"):
        assert words in label, words

    # Scan, log, and the life of both baths moves.
    member.open(f"/c/{code}")
    assert member.path == fixer_bath
    member.open(line)
    member.follow("Log a use")
    member.send(**{"went-film-120": "5"})
    member.open(fixer_bath)
    assert "about 45 rolls" in member.page

    # The fixer test fails at twice the fresh clearing time; new work is refused, finished work written down.
    for seconds, fresh in (("40", True), ("85", False)):
        technician.open(f"{fixer_bath}/check")
        technician.send(seconds=seconds, **({"is_fresh": "y"} if fresh else {}))
    assert "Exhausted" in technician.page
    member.open(f"{line}/log")
    member.send(**{"went-film-120": "1"}, started="before", expect=422)
    assert "is exhausted" in member.page
    member.send(**{"went-film-120": "1"}, started="done")

    # Dumped, collected, and every litre on the log.
    technician.open(f"{fixer_bath}/dump")
    technician.send(container_id=containers["09 01 04*"], volume="2.47 L")
    technician.open("/waste/collect")
    fixer_container = containers["09 01 04*"]
    technician.send(
        containers=[fixer_container],
        note_code="ALDERS/00001",
        carrier="Invented Carriers",
        **{f"volume_{fixer_container}": "2.4 L", f"weight_{fixer_container}": "2.6 kg"},
    )
    assert "70 mL" in technician.page
    today = date.today().isoformat()  # noqa: DTZ011 - the lab's own calendar, as a person would choose it
    manager.open(f"/documents/waste-log?from={today}&to={today}")
    manager.press("Issue the waste log as PDF")
    log = manager.pdf()
    for words in ("Waste log", "09 01 04*", code, "2,470", "ALDERS/00001", "Invented Carriers"):
        assert words in log, words

    # The record holds; the head printed on the log is the record's own.
    with app.app_context():
        config: Config = app.config["LABSYS"]
        printed = next(
            word for word in log.replace("…", " ").split() if len(word) == 12 and set(word) <= set("0123456789abcdef")
        )
        number = db.session.execute(
            text("SELECT number FROM record_entries WHERE hash LIKE :start"), {"start": f"{printed}%"}
        ).scalar_one()
        db.session.remove()
    (tmp_path / "secret_key").write_text(config.secret_key)
    monkeypatch.setenv("LABSYS_INSTANCE", str(tmp_path))
    monkeypatch.setenv("LABSYS_DATABASE_URL", config.database_url)
    verified = CliRunner().invoke(main, ["verify", "--head", f"{number}:{printed}"])
    assert verified.exit_code == 0, verified.output
    assert "is the one noted on paper" in verified.output
