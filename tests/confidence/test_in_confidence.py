"""What is told in confidence: the person and the safety adviser read it, and nobody else can guess it from anything."""

import csv
import json
import logging
from collections.abc import Callable
from html import unescape
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from pypdf.errors import PdfReadError
from sqlalchemy import inspect, select
from sqlalchemy import text as sql
from werkzeug.test import TestResponse

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.database import db
from labsys.devices import service as devices
from labsys.hazards.personal import PersonalFamily
from labsys.people import service as people
from labsys.processes import service as processes
from labsys.products.sheet import StatedIngredient
from labsys.records.models import RecordEntry
from labsys.restrictions import rules
from labsys.restrictions.models import Restriction, SkinChecks, Talk
from tests.support.everything import furnish
from tests.support.lab import HYDROQUINONE, SmallLab
from tests.support.pages import pdf_text, press, send, source, text, tree, words

ClientAs = Callable[..., FlaskClient]
METOL = StatedIngredient("metol", "55-55-0", 10_000, 20_000, "Acute Tox. 4 H302; Skin Sens. 1 H317; STOT RE 2 H373")
FAMILY = PersonalFamily.PARA_AMINO
NOTE = "Blistered hands in January"
AGREED = "Sits down every hour, mixes no powder"
SECRETS = (FAMILY.value, NOTE, AGREED)
OTHERS = ("instructor", "technician", "manager")
KEPT_TABLES = {table.__tablename__ for table in (Restriction, Talk, SkinChecks)}
READ = [
    row
    for row in csv.DictReader((Path(__file__).parents[1] / "access.csv").read_text("utf-8").splitlines())
    if row["method"] == "GET"
]


@pytest.fixture
def scene(lab: SmallLab, monkeypatch: pytest.MonkeyPatch) -> SmallLab:
    """Places, and two ways with film; pages see the time of the lab."""
    lab.add_places()
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    add_two_ways(lab)
    return lab


def add_two_ways(lab: SmallLab) -> None:
    """Two ways with film, one of which has metol in its developer."""
    metol = lab.add_product(SolutionKind.DEVELOPER, name="MQ liquid concentrate", ingredients=[METOL, HYDROQUINONE])
    for name, product_id in (("Soft film", metol.id), ("Quick film", lab.ids["product developer"])):
        made = processes.add_process(
            lab.act("technician"),
            name=name,
            material=Material.FILM,
            note="",
            steps=[processes.StepEntry(name="Develop", product_id=product_id, water_parts_milli=6_000)],
        )
        lab.ids[name] = made.id


def booked(lab: SmallLab, client: FlaskClient, process: str | None, *, hour: int = 12, **changes: object):
    """What comes of the form that books the film sink tomorrow."""
    fields = {"station": lab.ids["Film sink"], "day": "2026-03-03", "starts": hour * 60, "ends": hour * 60 + 60}
    fields |= {"process_id": lab.ids[process] if process else 0, "size": "", "count": 0, "note": ""}
    return send(client, "/bookings/book", {**fields, **changes})


def tell(client: FlaskClient, family: str = FAMILY.value, path: str = "/account/confidence", **fields: str) -> None:
    answer = send(client, path, {"family": family, "note": NOTE, "ends_on": "", **fields})
    assert answer.status_code == 303, text(answer)


def test_a_student_allergic_to_metol_is_not_booked_and_finds_the_other(scene: SmallLab, client_as: ClientAs) -> None:
    member = client_as("member")
    tell(member)
    own = text(member.get("/account/confidence"))
    assert f"Keeps away from {FAMILY}" in own
    assert NOTE in own
    assert "Soft film : not open. MQ liquid concentrate contains metol." in own
    assert "Quick film : open" in own
    refused = booked(scene, member, "Soft film")
    assert refused.status_code == 422
    assert "Soft film is not open to you. Open to you instead: Quick film." in text(refused)
    assert not any(secret in text(refused) for secret in (*SECRETS, "metol"))
    assert booked(scene, member, "Quick film").status_code == 303
    plan = f"/plan?process_id={scene.ids['Soft film']}&size=120&count=1"
    assert "Soft film is not open to you" in text(member.get(plan))
    assert "not open to you" not in text(client_as("instructor").get(plan))


def test_what_else_stands_in_the_lab_is_named(scene: SmallLab, client_as: ClientAs) -> None:
    scene.ids["product developer"] = scene.session.execute(
        sql("SELECT id FROM products WHERE name = 'MQ liquid concentrate'")
    ).scalar_one()
    scene.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=1_000)
    member = client_as("member")
    tell(member)
    own = text(member.get("/account/confidence"))
    assert "Film developer (MQ liquid concentrate contains metol)" in own


def test_whoever_books_for_them_reads_the_same_of_every_process_and_every_reason(
    scene: SmallLab, client_as: ClientAs
) -> None:
    instructor, member = client_as("instructor"), client_as("member")
    said = set()
    for family in (FAMILY.value, PersonalFamily.SULFITE.value, ""):
        tell(member, family)
        for process in ("Soft film", "Quick film"):
            answer = booked(scene, instructor, process, person=scene.ids["member"])
            assert answer.status_code == 422
            alert = next(each for each in tree(source(answer)).iter() if each.get("role") == "alert")
            said.add(words(alert))
            assert not any(secret in text(answer) for secret in SECRETS)
        erase(member, scene)
    assert said == {
        "Not saved yet What you typed is still here. Put this right and send it again: " + rules.NOT_BOOKED_HERE
    }
    tell(member)
    assert booked(scene, instructor, None, person=scene.ids["member"]).status_code == 303  # a place, left open


def erase(client: FlaskClient, lab: SmallLab) -> None:
    row_id = lab.session.execute(select(Restriction.id)).scalar_one()
    lab.session.rollback()
    fields = {"row": f"personal_restrictions {row_id}"}
    assert send(client, "/account/confidence/erase", fields, at="/account/confidence").status_code == 303


def test_a_shared_tablet_shows_nothing_of_it(scene: SmallLab, client_as: ClientAs) -> None:
    tell(client_as("member"))
    tell(client_as("member"), PersonalFamily.HYDROQUINONE.value)
    tablet = client_as("manager")
    send(tablet, "/devices/enrol", name="Dry side, by the door")
    card = devices.issue_card(scene.act("manager"), person_id=scene.ids["member"])
    send(tablet, "/tablet", code=card.code)
    assert tablet.get("/account/confidence").status_code == 403
    told = text(booked(scene, tablet, "Soft film"))
    assert rules.NOT_ON_A_SHARED_SCREEN in told
    assert "Soft film is not open" not in told
    plan = text(tablet.get(f"/plan?process_id={scene.ids['Soft film']}&size=120&count=1"))
    assert "not open to you" not in plan.lower()


def test_at_a_tablet_the_adviser_is_no_adviser(scene: SmallLab, client_as: ClientAs) -> None:
    tell(client_as("member"))
    press(client_as("member"), "/account/confidence/talk", at="/account/confidence")
    tablet = client_as("manager")
    send(tablet, "/devices/enrol", name="Dry side, by the door")
    card = devices.issue_card(scene.act("manager"), person_id=scene.ids["safety adviser"])
    send(tablet, "/tablet", code=card.code)
    assert tablet.get(f"/confidence/{scene.ids['member']}").status_code == 403
    assert "asks for a talk" not in text(tablet.get("/"))


def test_a_process_chosen_earlier_is_stopped_by_the_person_and_told_to_nobody_else(
    scene: SmallLab, client_as: ClientAs
) -> None:
    member, instructor = client_as("member"), client_as("instructor")
    assert booked(scene, member, "Soft film", hour=12).status_code == 303
    tell(member)
    assert "Booked, and not open" in text(member.get("/account/confidence"))
    scene.now = scene.now.replace(day=3, hour=12, minute=5)
    refused = press(member, "/bookings/1/arrive", at="/bookings/1")
    assert "Soft film is not open to you" in text(member.get(refused.location))
    assert not any(secret in text(member.get("/bookings/1")) for secret in SECRETS)
    assert press(instructor, "/bookings/1/arrive", at="/bookings/1").status_code == 303  # who is here is a fact
    assert "Arrived" in text(instructor.get("/bookings/1"))


def test_a_restriction_ends_by_its_day(scene: SmallLab, client_as: ClientAs) -> None:
    member = client_as("member")
    tell(member, ends_on="2026-03-02")
    assert booked(scene, member, "Soft film").status_code == 303  # tomorrow: it holds today alone
    past = send(member, "/account/confidence", {"family": FAMILY.value, "note": "", "ends_on": "2026-03-01"})
    assert "That day is past." in text(past)


def test_what_nobody_stated_is_not_open(scene: SmallLab, client_as: ClientAs) -> None:
    """An unconfirmed product, one whose sensitiser nobody names, and, for what is breathed in, one without a list."""
    lab, member = scene, client_as("member")
    unknown = StatedIngredient("secret agent", "1310-58-3", 1_000, 2_000, "Skin Corr. 1A H314")
    for name, changes in (
        ("Unread", {"confirmed": False, "h_codes": "", "ingredients": [unknown]}),
        ("Unnamed", {"h_codes": "H317", "ingredients": [unknown]}),
        ("Bare", {"h_codes": "not classified", "ingredients": []}),
    ):
        product = lab.add_product(SolutionKind.DEVELOPER, name=name, **changes)
        processes.add_process(
            lab.act("technician"),
            name=f"With {name}",
            material=Material.FILM,
            note="",
            steps=[processes.StepEntry(name="Develop", product_id=product.id, water_parts_milli=6_000)],
        )
    tell(member)
    own = text(member.get("/account/confidence"))
    assert "With Unread : not open. Unread: nobody has confirmed what its SDS says." in own
    assert "With Unnamed : not open. Unnamed: a sensitiser that is not named among its ingredients." in own
    assert "With Bare : open" in own  # confirmed: an SDS has to say it of a sensitiser
    tell(member, PersonalFamily.SULFITE.value)
    assert "With Bare : not open. Bare: no ingredients are stated." in text(member.get("/account/confidence"))


def test_a_talk_is_due_for_the_adviser_without_a_name_and_ends_by_a_day(scene: SmallLab, client_as: ClientAs) -> None:
    member, adviser = client_as("member"), client_as("safety adviser")
    assert press(member, "/account/confidence/talk", at="/account/confidence").status_code == 303
    assert "Somebody asks for a talk" in text(adviser.get("/"))
    for role in OTHERS:
        assert "asks for a talk" not in text(client_as(role).get("/")), role
    assert "Łukasz Żak" in text(adviser.get("/confidence"))
    path = f"/confidence/{scene.ids['member']}"
    endless = send(adviser, f"{path}/talk", {"agreed": AGREED, "ends_on": ""})
    assert "What is agreed ends by a date." in text(endless)
    assert send(adviser, f"{path}/talk", {"agreed": AGREED, "ends_on": "2026-09-01"}).status_code == 303
    assert "Somebody asks for a talk" not in text(adviser.get("/"))
    assert f"Agreed: {AGREED} Until 1 Sep 2026." in text(member.get("/account/confidence"))
    assert booked(scene, member, "Soft film").status_code == 303  # never a refusal by itself
    assert booked(scene, client_as("instructor"), "Soft film", hour=15, person=scene.ids["member"]).status_code == 303
    assert send(adviser, f"{path}/skin-check", {"last_on": "2026-02-20"}).status_code == 303
    assert "Under health surveillance Last skin check 20 Feb 2026." in text(member.get("/account/confidence"))


def test_nobody_but_the_adviser_can_read_it_anywhere(
    lab: SmallLab, client_as: ClientAs, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every page, list, CSV and PDF of each other role; every other table; the log."""
    caplog.set_level(logging.DEBUG)
    arguments = furnish(lab)
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    add_two_ways(lab)
    adviser = client_as("safety adviser")
    path = f"/confidence/{lab.ids['member']}"
    tell(adviser, path=path)
    send(adviser, f"{path}/talk", {"agreed": AGREED, "ends_on": "2026-09-01"})
    send(adviser, f"{path}/skin-check", {"last_on": "2026-02-20"})
    assert all(secret in text(adviser.get(path)) for secret in SECRETS)
    booked(lab, client_as("instructor"), "Soft film", person=lab.ids["member"])
    booked(lab, client_as("member"), "Soft film")
    for role in OTHERS:
        client = client_as(role)
        client.inspects = False
        read = 0
        for row in READ:
            address = filled(row["rule"], arguments("another's" if row["whose"] == "another's" else "own", role))
            with client.get(address) as answer:
                shown = shown_by(answer)
            if row["rule"] == "/account/confidence":  # their own form offers every family to everybody
                shown = shown.replace(f">{FAMILY}</option>", "").replace(f'value="{FAMILY}"', "")
            assert not any(secret in shown for secret in SECRETS), f"{address} as {role}"
            assert "Under health surveillance" not in shown, f"{address} as {role}"
            read += answer.status_code == 200
        assert read > 60, f"{role} read {read} pages"
        assert client.get(path).status_code == 403
        found = text(client.get("/find?q=para-amino"))
        assert not any(secret in found for secret in SECRETS)
    assert not any(secret in caplog.text for secret in SECRETS)
    lab.session.rollback()
    for table in inspect(db.engine).get_table_names():
        rows = str(lab.session.execute(sql(f"SELECT * FROM {table}")).all())
        holds = [secret for secret in SECRETS if secret in rows]
        assert holds == [] or table in KEPT_TABLES, table
    stored = str(lab.session.execute(sql("SELECT family, note FROM personal_restrictions")).all())
    assert FAMILY.value in stored  # whoever hosts the database reads it, as the page says


def shown_by(answer: TestResponse) -> str:
    """The words of a page or a paper; an SDS or a picture somebody put in, as it is."""
    if answer.mimetype.startswith("image/"):
        return answer.data.decode("latin-1")
    if answer.mimetype != "application/pdf":
        return unescape(answer.text)
    try:
        return pdf_text(answer.data)
    except PdfReadError:
        return answer.data.decode("latin-1")


def filled(rule: str, values: dict) -> str:
    return "/".join(
        str(values[part.strip("<>").rpartition(":")[2]]) if part.startswith("<") else part for part in rule.split("/")
    )


def test_the_record_names_who_acted_and_neither_whom_nor_what(scene: SmallLab, client_as: ClientAs) -> None:
    tell(client_as("safety adviser"), path=f"/confidence/{scene.ids['member']}")
    scene.session.rollback()
    newest = scene.session.query(RecordEntry).order_by(RecordEntry.number.desc()).first()
    adviser = scene.ids["safety adviser"]
    told = json.loads(newest.payload)
    assert (told["act"], told["about"], told["facts"]) == ("person.kept_own_matter", ["people", adviser], {})
    assert str(scene.ids["member"]) not in newest.payload.replace(str(adviser), "")


def test_a_manager_does_not_stand_in_for_the_adviser_here(scene: SmallLab, client_as: ClientAs) -> None:
    tell(client_as("member"))
    people.close_account(scene.act("manager"), person_id=scene.ids["safety adviser"])
    manager = client_as("manager")
    assert manager.get(f"/confidence/{scene.ids['member']}").status_code == 403
    assert manager.get("/confidence").status_code == 403


def test_nobody_erases_what_is_another_s(scene: SmallLab, client_as: ClientAs) -> None:
    tell(client_as("member"))
    for role in OTHERS:
        answer = send(
            client_as(role), "/account/confidence/erase", {"row": "personal_restrictions 1"}, at="/account/confidence"
        )
        assert answer.status_code == 404
    assert scene.count(Restriction) == 1
