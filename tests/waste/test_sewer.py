"""Nothing goes down the sink without a consent that names it; what does all the same is answered for."""

from datetime import date

import pytest
from sqlalchemy import text as sql
from sqlalchemy.exc import DBAPIError

from labsys.chemistry.care import SolutionKind
from labsys.waste.models import Discharge, SewerConsent, WasteKind
from labsys.waste.sewer_rules import NotToSewer
from tests.desk.reading import duties
from tests.support.pages import page_at, press, send, text

LOST = {"of": "kind:stop", "what": "Stop from a tray", "waste_code": "09 01 99", "volume": "400 mL"}
PAPER = {
    "reference": "TE 4711",
    "issued_by": "Invented Water",
    "limits-0-quantity": "pH",
    "limits-0-low": "6",
    "limits-0-high": "10",
    "limits-1-quantity": "silver",
    "limits-1-high": "0.5",
    "limits-1-unit": "mg/L",
    "conditions": "Never at night",
    "most_a_day": "3 L",
    "valid_from": "2026-01-01",
    "valid_until": "2099-12-31",
    "kinds": ["stop"],
}

MEASURED = {"limit_1": "7.2", "limit_2": "0.1", "limit_3": "y"}


@pytest.fixture
def adviser(client_as):
    return client_as("safety adviser")


@pytest.fixture
def stop(lab):
    return lab.mix(SolutionKind.STOP, water_parts=19, working_ml=2_000)


def discharge(client, bath, **fields):
    return send(client, f"/baths/{bath.id}/dump", **{"container_id": "0", "volume": "2 L", **fields})


@pytest.mark.parametrize(
    ("drains_to", "said"),
    [
        ("", "It is not known where the sinks of this lab drain to"),
        ("septic tank or cesspit", "drain to septic tank or cesspit: no photographic solution ever goes there."),
        ("surface water", "drain to surface water: no photographic solution ever goes there."),
        ("foul sewer", "No sewer consent in force names stop bath (09 01 99). It goes into a container."),
    ],
)
def test_without_a_consent_nothing_goes_down_asterisk_or_not(lab, technician, adviser, stop, drains_to, said):
    if drains_to != "foul sewer":
        lab.add_consent("09 01 99")  # a consent does not help where the sinks lead elsewhere
    lab.drain_to(drains_to)
    assert said in text(technician.get(f"/baths/{stop.id}/dump"))
    answer = discharge(technician, stop)
    assert answer.status_code == 422
    assert said in text(answer)
    assert lab.count(Discharge) == 0
    assert stop.vessel.level == 2_000_000
    with pytest.raises(NotToSewer):
        lab.dump(stop, None, volume_ml=2_000)


def test_a_consent_is_entered_and_what_it_names_goes_down_within_its_limit(lab, technician, adviser, stop):
    lab.drain_to("foul sewer")
    assert send(adviser, "/waste/sewer/consents/add", **PAPER).status_code == 303
    page = text(technician.get("/waste/sewer"))
    assert "pH 6 to 10, silver at most 0.5 mg/L, Never at night, at most 3 L a day" in page
    assert discharge(technician, stop, **MEASURED).status_code == 303
    (made,) = lab.session.query(Discharge)
    assert (made.wrong_because, made.consent.reference) == ("", "TE 4711")
    assert "Under consent TE 4711." in text(technician.get(f"/waste/discharges/{made.id}"))
    more = lab.mix(SolutionKind.STOP, water_parts=19, working_ml=2_000)
    answer = discharge(technician, more, **MEASURED)
    assert answer.status_code == 422
    assert "Consent TE 4711 allows 3 L a day: 1 L are left today." in text(answer)


@pytest.mark.parametrize(
    "changes",
    [
        {"valid_from": date(2020, 1, 1), "valid_until": date(2020, 12, 31)},
        {"valid_from": date(2098, 1, 1), "valid_until": date(2099, 12, 31)},
        {"codes": ["09 01 04*"]},
        {"codes": [], "kinds": [WasteKind.FIXER]},
    ],
)
def test_a_consent_that_is_over_or_names_something_else_helps_nothing(lab, technician, stop, changes):
    lab.add_consent("09 01 99", **changes)
    assert discharge(technician, stop).status_code == 422
    assert lab.count(Discharge) == 0


@pytest.fixture
def limited(lab, adviser):
    """A consent that limits pH and silver, and asks for something in words."""
    lab.drain_to("foul sewer")
    assert send(adviser, "/waste/sewer/consents/add", **PAPER).status_code == 303


@pytest.mark.parametrize(
    ("measured", "said"),
    [
        ({}, "Consent TE 4711 limits pH 6 to 10: it was not measured."),
        ({**MEASURED, "limit_1": "4.1"}, "Consent TE 4711 limits pH 6 to 10: 4.1 was measured."),
        ({**MEASURED, "limit_1": "10,001"}, "Consent TE 4711 limits pH 6 to 10: 10.001 was measured."),
        ({**MEASURED, "limit_2": ""}, "Consent TE 4711 limits silver at most 0.5 mg/L: it was not measured."),
        ({**MEASURED, "limit_2": "0.6"}, "Consent TE 4711 limits silver at most 0.5 mg/L: 0.6 mg/L was measured."),
        ({"limit_1": "7.2", "limit_2": "0.1"}, "Consent TE 4711 asks: Never at night. Nobody said that it is kept to."),
    ],
)
def test_what_is_not_measured_or_breaks_a_limit_does_not_go_down(lab, technician, stop, limited, measured, said):
    page = text(technician.get(f"/baths/{stop.id}/dump"))
    for asked in ("pH, measured", "Consent TE 4711: 6 to 10.", "Silver, measured", "Kept to: Never at night"):
        assert asked in page
    answer = discharge(technician, stop, **measured)
    assert answer.status_code == 422
    assert f"Stop. {said}" in text(answer)
    assert lab.count(Discharge) == 0
    assert stop.vessel.level == 2_000_000


def test_what_was_measured_is_kept_and_shown_against_its_limit(lab, technician, stop, limited):
    assert discharge(technician, stop, **{**MEASURED, "limit_1": "6", "limit_2": "0.5"}).status_code == 303
    (made,) = lab.session.query(Discharge)
    assert [(reading.value_milli, reading.is_kept) for reading in made.readings] == [
        (6_000, None),
        (500, None),
        (None, True),
    ]
    page = text(technician.get(f"/waste/discharges/{made.id}"))
    assert "Under consent TE 4711." in page
    assert "silver at most 0.5 mg/L 0.5 mg/L yes" in page
    assert "pH 6 to 10: 6; silver at most 0.5 mg/L: 0.5 mg/L; Never at night: kept to" in text(
        technician.get("/documents/waste-log")
    )


def test_what_went_down_beyond_a_limit_is_recorded_as_wrong_with_what_was_measured(lab, technician, stop, limited):
    answer = discharge(technician, stop, **{**MEASURED, "limit_1": "4.1"}, record_done="y")
    assert answer.status_code == 303
    page = text(technician.get(answer.location))
    assert "Ring the sewerage undertaker now." in page
    assert "limits pH 6 to 10: 4.1 was measured." in page
    assert "pH 6 to 10 4.1 no" in page


def test_a_jug_down_the_sink_that_nobody_measured_is_not_called_right(lab, client_as, limited):
    member = client_as("member")
    assert "Silver, measured" in text(member.get("/waste/drained"))
    page = text(member.get(send(member, "/waste/drained", **LOST).location))
    assert "Consent TE 4711 limits pH 6 to 10: it was not measured." in page
    assert "pH 6 to 10 not measured no" in page
    page = text(member.get(send(member, "/waste/drained", **LOST, **MEASURED).location))
    assert "Under consent TE 4711." in page


@pytest.mark.parametrize("reading", ["4100, NULL", "NULL, NULL"])
def test_the_database_keeps_no_discharge_under_a_consent_beyond_its_limit(lab, technician, stop, limited, reading):
    assert discharge(technician, stop, **MEASURED).status_code == 303
    for change in ("UPDATE discharge_readings SET value_milli = 1", "UPDATE sewer_limits SET low_milli = NULL"):
        with pytest.raises(DBAPIError, match="_no_update"):
            lab.session.execute(sql(change))
        lab.session.rollback()
    movement = lab.session.query(Discharge).one().movement_id
    lab.session.execute(
        sql(
            "INSERT INTO discharges (movement_id, what, waste_code, volume_ul, wrong_because, consent_id, "
            f"discharged_at, recorded_at, recorded_by_id) SELECT {movement} - 1, what, waste_code, volume_ul, '', "
            "consent_id, discharged_at, recorded_at, recorded_by_id FROM discharges"
        )
    )
    with pytest.raises(DBAPIError, match="within_limit"):
        lab.session.execute(
            sql(
                "INSERT INTO discharge_readings (discharge_id, limit_id, value_milli, is_kept) "
                f"SELECT max(id), 1, {reading} FROM discharges"
            )
        )


def test_a_consent_can_be_ended(lab, technician, adviser, stop):
    consent = lab.add_consent("09 01 99")
    answer = press(adviser, f"/waste/sewer/consents/{consent.id}/end", at="/waste/sewer")
    assert answer.status_code == 303
    assert "not in force" in text(technician.get("/waste/sewer"))
    assert discharge(technician, stop).status_code == 422


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"kinds": []}, "Choose what it names: a code, a kind, or several."),
        ({"valid_until": "2025-01-01"}, "It ends before it begins."),
        ({"reference": ""}, "Copy the reference from the consent."),
        (
            {"limits-0-quantity": "", "limits-0-low": "", "limits-0-high": "", "conditions": ""}
            | {"limits-1-quantity": "", "limits-1-high": "", "limits-1-unit": ""},
            "Copy its limits: each figure into a row above, what has none here.",
        ),
        ({"limits-0-quantity": ""}, "Write what is limited, such as pH."),
        ({"limits-1-high": ""}, "Enter the figure: at least, at most, or both."),
        ({"limits-0-low": "12"}, "That is less than the least. Check the two."),
        ({"limits-1-quantity": "pH"}, "A row above says the same."),
        ({"limits-0-low": "acid"}, "At least: write a number, without a unit."),
        ({"most_a_day": "5"}, "5 of what: mL or L?"),
    ],
)
def test_a_consent_that_cannot_be_is_refused(lab, adviser, changes, message):
    answer = send(adviser, "/waste/sewer/consents/add", **{**PAPER, **changes})
    assert answer.status_code == 422
    assert message in text(answer)
    assert lab.count(SewerConsent) == 0


def test_what_went_down_all_the_same_shows_the_number_and_stands_on_today_until_answered(lab, client_as, adviser):
    lab.drain_to("foul sewer", undertaker="Invented Water 01632 960111")
    member, manager = client_as("member"), client_as("manager")
    answer = send(member, "/waste/drained", **LOST)
    assert answer.status_code == 303
    page = text(member.get(answer.location))
    assert "Ring the sewerage undertaker now. Invented Water 01632 960111" in page
    for client in (manager, adviser):
        (row,) = [row for row in duties(page_at(client, "/")) if row.what == "Stop from a tray"]
        assert row.why.startswith("now Went down the sink without a consent")
    assert not [row for row in duties(page_at(member, "/")) if row.what == "Stop from a tray"]
    to_answer = f"{answer.location}/answer"
    assert send(adviser, to_answer, at=answer.location, answer="").status_code == 422
    said = "Rang them at noon; they thanked us."
    assert send(adviser, to_answer, at=answer.location, answer=said).status_code == 303
    assert "Rang them at noon; they thanked us." in text(member.get(answer.location))
    for client in (manager, adviser):
        assert not [row for row in duties(page_at(client, "/")) if row.what == "Stop from a tray"]


@pytest.mark.sqlite_only
def test_what_went_down_under_a_consent_is_not_called_wrong(lab, client_as):
    lab.add_consent("09 01 99")
    member = client_as("member")
    page = text(member.get(send(member, "/waste/drained", **LOST).location))
    assert "Under consent TE 4711." in page
    assert "Why it should not have been" not in page


@pytest.mark.sqlite_only
def test_a_consent_by_kind_is_missed_by_kind(lab, client_as):
    """Wash aid and stop share a code; a consent that names the one kind says nothing of the other."""
    lab.add_consent(kinds=[WasteKind.STOP])
    member = client_as("member")
    page = text(member.get(send(member, "/waste/drained", **{**LOST, "of": "kind:wash_aid"}).location))
    assert "No sewer consent in force names wash aid (09 01 99)." in page
    assert "Why it should not have been" in page


@pytest.mark.sqlite_only
@pytest.mark.parametrize("drains_to", ["septic tank or cesspit", "surface water"])
def test_where_the_sinks_lead_elsewhere_nobody_is_sent_to_the_undertaker(lab, client_as, drains_to):
    lab.drain_to(drains_to)
    member = client_as("member")
    page = text(member.get(send(member, "/waste/drained", **LOST).location))
    assert f"Tell the manager now. The sinks drain to {drains_to}" in page
    assert "the environmental regulator have to hear of it" in page
    assert "Ring the sewerage undertaker" not in page
    assert "01632 960111" not in page


def test_the_database_keeps_no_discharge_that_nothing_allows_and_nothing_explains(lab):
    lab.add_consent("09 01 99")
    with pytest.raises(DBAPIError, match="consent_or_wrong"):
        lab.session.execute(
            sql(
                "INSERT INTO discharges (movement_id, what, waste_code, volume_ul, wrong_because, discharged_at, "
                "recorded_at, recorded_by_id) SELECT 1, 'x', '09 01 99', 1, '', recorded_at, recorded_at, 1 "
                "FROM sewer_consents"
            )
        )
