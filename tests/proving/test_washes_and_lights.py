"""Tests that belong to no bath: the wash of a line and the safelights, as records, due again and judged."""

import pytest
from sqlalchemy import text as sql
from sqlalchemy.exc import DBAPIError

from labsys.chemistry.care import SolutionKind
from labsys.proving.fog import StepsDisagree, safe_seconds
from labsys.proving.models import SafelightTest, WashTest
from tests.support.lab import SmallLab
from tests.support.pages import send, text


def test_a_wash_is_judged_by_its_drop_or_its_measure_and_is_due_again(lab: SmallLab, client_as):
    """Film at 0.014 g/m²: 36 CFR 1238.14 (c). Monthly: a maker's radiography manual, p. 49, on ISO 11699-2."""
    technician, member = client_as("technician"), client_as("member")
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000)
    wash = f"/baths/lines/{lab.film_line_id}/wash"
    assert "Never tested" in text(member.get(wash))
    fields = {"material": "film", "piece": "sheet film, 10 min running", "bath_id": fixer.id}
    lab.log(4)
    answer = send(technician, f"{wash}/test", fields, stain="plain stain")
    assert "Not washed enough: wash it again" in text(technician.get(answer.location))
    assert "Not washed enough by the test of 2 Mar 2026" in text(technician.get("/"))
    answer = send(technician, f"{wash}/test", fields, measured="0.014 g/m²")
    assert "0.014 g/m² of thiosulfate. Washed." in text(technician.get(answer.location))
    assert "Wash of Film line" not in text(technician.get("/"))
    answer = send(technician, f"{wash}/test", fields, measured="0.015")
    assert "Not washed enough" in text(technician.get(answer.location))
    send(technician, f"{wash}/test", fields, stain="faint tint")
    lab.tick(days=30)
    assert "Test of the wash due: the last was on 2 Mar 2026" in text(technician.get("/"))
    assert fixer.code in text(member.get(wash))
    lab.session.rollback()
    (first, *_) = lab.session.query(WashTest).order_by(WashTest.id)
    assert (first.bath_id, first.film_mm2 > 0, first.is_washed) == (fixer.id, True, False)


@pytest.mark.sqlite_only
def test_paper_that_a_laboratory_measured_is_not_judged(lab: SmallLab, client_as):
    """No limit is set for paper: D. Nishimura, Conservation DistList, 21 Sept 1997."""
    technician = client_as("technician")
    fields = {"material": "fibre", "piece": "matt, 60 min", "bath_id": "0", "measured": "0.01"}
    answer = send(technician, f"/baths/lines/{lab.paper_line_id}/wash/test", fields)
    said = text(technician.get(answer.location))
    assert "No limit is published for it: ask the technician." in said
    assert "not judged: no limit" in said


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({}, "one of the two"),
        ({"stain": "none", "measured": "0.01"}, "one of the two"),
        ({"measured": "14"}, "14 µg/cm² would be 0.14 g/m²"),
        ({"measured": "1.4 µg/cm²"}, "“µg/cm²” is another unit"),
        ({"stain": "none", "piece": ""}, "Say which"),
        ({"stain": "none", "when": "2026-01-01T10:00"}, "was not mixed yet at that time"),
    ],
)
def test_a_wash_test_that_cannot_be_is_asked_back(lab: SmallLab, client_as, fields, message):
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000)
    usual = {"material": "film", "piece": "sheet film", "bath_id": fixer.id}
    answer = send(client_as("technician"), f"/baths/lines/{lab.film_line_id}/wash/test", {**usual, **fields})
    assert answer.status_code == 422
    assert message in text(answer)
    assert lab.count(WashTest) == 0


def test_a_safelight_is_safe_for_as_long_as_paper_is_handled_there(lab: SmallLab, client_as):
    """Steps of 1, 3 and 7 minutes: a maker's guide to safelights. Film: 0.10 in two minutes, ARSD 44:03:01:10.04."""
    technician, member = client_as("technician"), client_as("member")
    station = lab.add_places()["Enlarger"]
    usual = {"station_id": station.id, "paper": "glossy RC", "lamp": "red, 15 W", "distance_cm": "120", "needed": "4"}
    path = "/places/safelights/test"
    said = text(technician.get(send(technician, path, usual, clean="1 3", changed="7").location))
    assert "3 min safe, 7 min fog it. Not safe there" in said
    assert "Not safe by the test of 2 Mar 2026" in text(technician.get("/"))
    said = text(technician.get(send(technician, path, usual, clean="1 3 7").location))
    assert "at least 7 min safe. Safe there." in said
    assert "yes, for the 4 min it is handled" in text(member.get("/places/safelights"))
    assert "Safelight at Enlarger" not in text(technician.get("/"))
    film = {**usual, "paper": "ortho film", "needed": ""}
    said = text(technician.get(send(technician, path, film, gain="0.11").location))
    assert "gains 0.11 in two minutes, at most 0.10. Not safe there" in said
    send(technician, path, film, gain="0.10")
    lab.tick(days=365)
    assert text(technician.get("/")).count("Test due: the last was on 2 Mar 2026") == 2
    assert lab.count(SafelightTest) == 4


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"clean": "", "changed": ""}, "one of the two"),
        ({"gain": "0.05"}, "one of the two"),
        ({"needed": ""}, "Enter how long paper is handled there"),
        ({"clean": "7", "changed": "3"}, "though a shorter one changed"),
        ({"clean": "1 1"}, "write each step once"),
        ({"clean": "long"}, "write each step once"),
        ({"clean": "99"}, "in minutes up to 60"),
        ({"distance_cm": "0"}, "from 1 to 1000"),
    ],
)
def test_a_safelight_test_that_cannot_be_is_asked_back(lab: SmallLab, client_as, fields, message):
    station = lab.add_places()["Enlarger"]
    usual = {"station_id": station.id, "paper": "RC", "lamp": "red", "distance_cm": "120", "needed": "4", "clean": "5"}
    answer = send(client_as("technician"), "/places/safelights/test", {**usual, **fields})
    assert answer.status_code == 422
    assert message in text(answer)
    assert lab.count(SafelightTest) == 0


def test_the_steps_of_a_maker_s_guide():
    """A maker's guide to safelights (2006): a change at 3 min limits handling to under that; 7 min clean is 7 safe."""
    assert safe_seconds({60: False, 180: True, 420: True}) == (60, 180)
    assert safe_seconds({60: False, 180: False, 420: False}) == (420, None)
    assert safe_seconds({60: True, 180: True}) == (0, 60)
    with pytest.raises(StepsDisagree):
        safe_seconds({60: True, 180: False})


@pytest.mark.parametrize(
    "change", ["UPDATE wash_tests SET ug_per_m2 = 1", "UPDATE wash_tests SET stain = NULL, ug_per_m2 = -1"]
)
def test_the_database_keeps_one_result_a_wash_test(lab: SmallLab, client_as, change):
    fields = {"material": "film", "piece": "x", "bath_id": "0", "stain": "none"}
    send(client_as("technician"), f"/baths/lines/{lab.film_line_id}/wash/test", fields)
    with pytest.raises(DBAPIError):
        lab.session.execute(sql(change))
    lab.session.rollback()
