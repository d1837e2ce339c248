"""The lab's settings: put right on one page, with what stood there before on the record."""

import json
from collections.abc import Callable

import pytest
from flask.testing import FlaskClient
from sqlalchemy import select
from werkzeug.test import TestResponse

from labsys.chemistry.care import SolutionKind
from labsys.database import DbSession
from labsys.hazards.nations import ELSEWHERE
from labsys.lab import service
from labsys.lab.rules import LabRefused, Settings, settings_of
from labsys.people.permissions import NotPermitted
from labsys.records import queries as records
from labsys.records.models import Lab, PaperSize, RecordEntry
from tests.support.lab import SmallLab
from tests.support.pages import hidden_field, links, source

ClientAs = Callable[..., FlaskClient]

TYPED = {
    "name": "Alder Street Darkroom",
    "address": "3 Alder Street, side door",
    "paper_size": "Letter",
    "nation": "Scotland",
    "timezone": "Europe/London",
    "emergency": "Front desk 01632 960000",
    "first_aider": "Sol Haddad, wet side",
    "eyewash": "left of the film sink",
    "hospital": "Ἀσκληπιεῖον, Nightjar Steps",
}


def send(client: FlaskClient, **fields: str) -> TestResponse:
    page = client.get("/lab").get_data(as_text=True)
    keys = {name: hidden_field(page, name) for name in ("csrf_token", "submission_key")}
    return client.post("/lab", data={**keys, **TYPED, **fields})


def newest(session: DbSession) -> dict[str, object]:
    session.rollback()
    entry = session.execute(select(RecordEntry).order_by(RecordEntry.number.desc()).limit(1)).scalar_one()
    assert entry.payload is not None
    return dict(json.loads(entry.payload))


def test_a_manager_puts_the_settings_right_and_the_record_keeps_what_was(client_as: ClientAs, lab: SmallLab):
    client = client_as("manager")
    assert "/lab" in links(source(client.get("/")))
    answer = send(client)
    assert (answer.status_code, answer.location) == (303, "/lab")
    page = source(client.get("/lab"))
    assert "The lab&#39;s settings are saved." in page
    assert 'value="left of the film sink"' in page
    told = newest(lab.session)
    assert told["act"] == "lab.changed"
    before, after = told["facts"]["before"], told["facts"]["after"]  # type: ignore[index]
    assert before["nation"] == "England"
    assert after["nation"] == "Scotland"
    assert (before["paper_size"], after["paper_size"]) == ("A4", "Letter")
    assert "emergency" not in after  # as it was
    assert records.the_lab(lab.session).hospital == TYPED["hospital"]


@pytest.mark.sqlite_only
def test_settings_sent_twice_or_unchanged_are_entered_once(client_as: ClientAs, lab: SmallLab):
    client = client_as("manager")
    page = client.get("/lab").get_data(as_text=True)
    keys = {name: hidden_field(page, name) for name in ("csrf_token", "submission_key")}
    answers = [client.post("/lab", data={**keys, **TYPED}) for _ in range(2)]
    assert [(answer.status_code, answer.location) for answer in answers] == [(303, "/lab")] * 2
    assert "Saved already" in source(client.get("/lab"))
    entered = records.head(lab.session).number
    send(client)
    lab.session.rollback()
    assert records.head(lab.session).number == entered


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"name": "  "}, "Give the lab its name"),
        ({"name": "x" * 121}, "Use at most 120 characters."),
        ({"address": "x" * 301}, "Use at most 300 characters."),
        ({"out_of_hours": "x" * 301}, "Use at most 300 characters."),
        ({"timezone": "Europe/Londn"}, "is not a time zone. Known and much alike: Europe/London."),
        ({"timezone": "Mars/Base"}, "is not a time zone. Known are names such as Europe/London."),
        ({"nation": "Ontario"}, "Northern Ireland. For a lab elsewhere: another nation."),
        ({"paper_size": "A5"}, "error"),
    ],
)
def test_a_setting_that_cannot_be_is_given_back_with_the_reason(client_as: ClientAs, lab: SmallLab, fields, message):
    entered = records.head(lab.session).number
    answer = send(client_as("manager"), **fields)
    assert answer.status_code == 422
    assert message in source(answer)
    assert "left of the film sink" in source(answer)
    lab.session.rollback()
    assert records.head(lab.session).number == entered


@pytest.mark.sqlite_only
def test_an_unknown_nation_is_refused_by_the_act_and_those_known_are_named(lab: SmallLab):
    settings = Settings(name="Alder Street", timezone="Europe/London", nation="Ontario")
    with pytest.raises(LabRefused, match="Known: England, Wales, Scotland, Northern Ireland"):
        service.change_lab(lab.act("manager"), settings=settings)
    with pytest.raises(NotPermitted):
        service.change_lab(lab.act("technician"), settings=settings_of(records.the_lab(lab.session)))


@pytest.mark.sqlite_only
def test_a_lab_elsewhere_is_told_what_is_not_known_for_it(client_as: ClientAs, lab: SmallLab):
    client = client_as("manager")
    page = source(client.get("/lab"))
    assert "Exposure limits are on file." in page
    assert "Exposure limits are not known here: ask the competent person." in page
    assert send(client, nation=ELSEWHERE).status_code == 303
    assert f"No exposure limits of {ELSEWHERE} are on file" in source(client.get("/register/substances/64-19-7"))


@pytest.mark.sqlite_only
def test_a_nation_entered_before_there_was_a_list_stays_until_another_is_chosen(client_as: ClientAs, lab: SmallLab):
    records.the_lab(lab.session).nation = "Finland"
    lab.session.commit()
    client = client_as("manager")
    assert send(client, nation="Finland", eyewash="by the door").status_code == 303
    assert records.the_lab(lab.session).nation == "Finland"
    send(client, nation="Wales")
    assert send(client, nation="Finland").status_code == 422


@pytest.mark.sqlite_only
def test_another_zone_moves_the_clock_and_no_instant(client_as: ClientAs, lab: SmallLab):
    bottle = lab.add_bottle(SolutionKind.FIXER)
    received_at, client = bottle.received_at, client_as("manager")
    page = f"/store/bottles/{bottle.id}/correct"
    assert 'value="2026-03-02T09:' in source(client.get(page))
    assert "Opening hours are times on the clock in the lab" in source(client.get("/lab"))
    assert send(client, timezone="Pacific/Auckland").status_code == 303
    assert 'value="2026-03-02T22:' in source(client.get(page))  # 13 hours on, in the southern summer
    lab.session.refresh(bottle)
    assert bottle.received_at == received_at


@pytest.mark.sqlite_only
def test_the_card_says_where_help_is_and_what_nobody_has_stated(client_as: ClientAs, lab: SmallLab):
    client = client_as("manager")
    assert "/lab" in links(source(client.get("/documents/first-aid")))
    assert source(client.get("/documents/first-aid")).count("not stated: ask the lab&#39;s manager") == 7
    send(client)
    card = source(client_as("member").get("/documents/first-aid"))
    assert "Sol Haddad, wet side" in card
    assert TYPED["hospital"] in card
    assert card.count("not stated: ask the lab&#39;s manager") == 3  # spill kit, telephone, out of hours
    assert "Put right what it says of the lab" not in card


@pytest.mark.sqlite_only
def test_the_settings_are_the_columns_of_the_lab(lab: SmallLab):
    kept = {column.name for column in Lab.__table__.columns} - {"id", "code_prefix", "is_demo"}
    kept -= {"free_after_minutes", "late_cancel_minutes", "offer_minutes"}  # set with fair use, on a page of its own
    kept -= {"admits_under_18", "safeguarding"}  # set with who comes here, likewise
    assert set(Settings.__dataclass_fields__) == kept
    assert settings_of(records.the_lab(lab.session)).paper_size is PaperSize.A4
