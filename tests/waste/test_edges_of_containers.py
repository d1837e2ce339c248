"""The neighbours of the rules about containers: times, emptiness, corrections after a release, the database."""

from datetime import timedelta

import pytest
from sqlalchemy import text as sql
from sqlalchemy.exc import DBAPIError

from labsys.waste import sewer
from labsys.waste.models import Discharge, Pour
from tests.support.by_hand import change_by_hand
from tests.support.pages import fill_in, page_at, pdf_text, send, text
from tests.waste.sending import NOTE, RESTATED, RIGHT, WRONG, pour_path
from tests.waste.test_sewer import LOST, MEASURED, PAPER


@pytest.fixture
def adviser(client_as):
    return client_as("safety adviser")


def path_of(container, what=""):
    return f"/waste/containers/{container.id}{what and '/' + what}"


def label_of(container, size="2 × 4"):
    return f"/documents/labels?label=container-{container.id}&size={size}&first=1"


def test_nothing_was_poured_into_a_container_before_it_stood_there(lab, member, technician):
    container = lab.open_container()
    before = (container.opened_at - timedelta(hours=1)).strftime("%Y-%m-%dT%H:%M")
    answer = send(member, pour_path(container), **RIGHT, poured_at=before)
    assert answer.status_code == 422
    assert f"{container.label} was not in use yet then." in text(answer)
    assert send(member, pour_path(container), **RIGHT, poured_at=before, record_done="y").status_code == 422
    assert lab.count(Pour) == 0
    just = container.opened_at.strftime("%Y-%m-%dT%H:%M")  # typed to the minute
    assert send(member, pour_path(container), **RIGHT, poured_at=just).status_code == 303
    found = {"found": "1 L", "found_at": before}
    assert "was not in use yet" in text(send(technician, path_of(container, "level"), **found))


def test_a_container_found_empty_names_nothing_but_still_takes_only_its_kind(lab, member, technician):
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    assert send(technician, path_of(container, "level"), found="0").status_code == 303
    for path in (path_of(container), label_of(container)):
        told = text(technician.get(path))
        assert "nothing: it was found empty" in told
        assert "fixer 600 mL" not in told
    developer = {**RIGHT, "of": "kind:developer", "waste_code": "09 01 04*"}
    assert send(member, pour_path(container), **developer).status_code == 422  # a rest of fixer is in it
    assert send(member, pour_path(container), **{**RIGHT, "volume": "200 mL"}).status_code == 303
    told = text(technician.get(path_of(container)))
    assert "Contents fixer 200 mL" in told
    lab.state(container)
    assert send(technician, "/waste/collect", containers=[container.id], **NOTE).status_code == 303


def test_the_register_does_not_look_for_a_substance_in_a_container_found_empty(lab, technician):
    lab.stream("09 01 01*")
    container = lab.open_container("09 01 01*")
    neat = {"of": f"product:{lab.ids['product developer']}", "what": "PQ developer", "volume": "5 L", "waste_code": ""}
    assert send(technician, pour_path(container), **neat).status_code == 303
    assert container.label in text(technician.get("/register/substances/123-31-9"))
    assert send(technician, path_of(container, "level"), found="0").status_code == 303
    assert container.label not in text(technician.get("/register/substances/123-31-9"))


def test_a_correction_of_what_a_release_spoke_of_asks_for_a_new_one_and_says_why(lab, member, technician, adviser):
    container = lab.open_container()
    send(member, pour_path(container), **{**RIGHT, "volume": "10 L"})
    send(member, pour_path(container), **WRONG)
    assert send(adviser, path_of(container, "release"), **RESTATED).status_code == 303
    first = lab.session.query(Pour).order_by(Pour.id).first()
    assert fill_in(technician, f"/waste/pours/{first.id}/correct", volume="9 L", reason="misread").status_code == 303
    told = text(technician.get(path_of(container)))
    assert "A pour was corrected that went into" in told
    assert "what was stated then may be wrong" in told
    assert "waiting to leave" not in told
    assert "In quarantine" in told
    assert send(adviser, path_of(container, "release"), **RESTATED).status_code == 303
    assert "poured in since" not in text(technician.get(path_of(container)))


def test_what_is_known_by_its_kind_alone_goes_into_an_empty_container_of_that_kind_only(lab, member, technician):
    container = lab.open_container()
    stabiliser = {**RIGHT, "of": "kind:stabiliser"}
    answer = send(member, pour_path(container), **stabiliser)
    assert answer.status_code == 422
    assert "What they do to each other is not known." in text(answer)
    assert send(member, pour_path(container), **{**RIGHT, "of": "kind:rinse"}).status_code == 303
    assert send(member, pour_path(container), **RIGHT).status_code == 303


def test_what_nobody_recorded_counts_towards_what_is_trivial(lab, member, technician):
    """60 mL wrong and 90 mL found besides, in 10.15 L: 1.5 %; the lab's figure is 1 %."""
    container = lab.open_container()
    send(member, pour_path(container), **{**RIGHT, "volume": "10 L"})
    send(member, pour_path(container), **{**WRONG, "volume": "60 mL"})
    release = path_of(container, "release")
    assert "trivial carry-over" in page_at(technician, release)
    assert send(technician, path_of(container, "level"), found="10.15 L").status_code == 303
    assert "trivial carry-over" not in page_at(technician, release)


def test_a_container_of_unknown_contents_says_so_over_the_code_to_stick_on_it(lab, member, technician):
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    change_by_hand(lab, "UPDATE pours SET kind = NULL", table="pours")
    stuck = text(technician.get(path_of(container))).partition("Code to stick on it")[2]
    assert "CONTENTS NOT KNOWN: nothing in, not to leave." in stuck
    assert "Never seal it" in stuck


def test_a_smaller_label_of_a_container_in_quarantine_leaves_nothing_out_that_fits(lab, member, technician):
    lab.stream("09 01 01*")
    container = lab.open_container("09 01 01*")
    product = lab.ids["product developer"]
    neat = {"of": f"product:{product}", "what": "PQ developer, undiluted", "volume": "5 L", "waste_code": ""}
    assert send(technician, pour_path(container), **neat).status_code == 303
    acid = {"of": "kind:stop", "what": "stop from a tray", "volume": "1 L", "waste_code": "09 01 01*"}
    assert send(member, pour_path(container), **acid, record_done="y").status_code == 303
    fields = {"label": [f"container-{container.id}"], "size": "2 × 4", "first": "1"}
    answer = send(technician, label_of(container), **fields)
    printed = pdf_text(technician.get(answer.location).data if answer.status_code == 303 else answer.data)
    printed = " ".join(printed.split())
    assert "QUARANTINE" in printed
    for note in ("Never seal it", "Keep away from: fixer", "Keep away from: toner"):
        assert note in printed
    assert "More to mind" not in printed


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"limits-0-high": "99"}, "pH goes from 0 to 14."),
        ({"limits-0-unit": "mg/L"}, "pH has no unit"),
        ({"limits-0-quantity": "pH value", "limits-0-low": "-1"}, "pH goes from 0 to 14."),
    ],
)
@pytest.mark.sqlite_only
def test_a_consent_limits_ph_within_its_scale(lab, adviser, technician, changes, said):
    lab.drain_to("foul sewer")
    answer = send(adviser, "/waste/sewer/consents/add", **{**PAPER, **changes})
    assert answer.status_code == 422
    assert said in text(answer)
    assert send(adviser, "/waste/sewer/consents/add", **PAPER).status_code == 303
    odd = send(technician, "/waste/drained", **LOST, **{**MEASURED, "limit_1": "72"})
    assert odd.status_code == 422
    assert lab.count(Discharge) == 0


REFUSED = [
    *(
        (f"UPDATE pours SET {change}", "pours_no_update")
        for change in ("volume_ul = 1", "wrong_because = ''", "kind = 'stop'", "container_id = container_id + 1")
    ),
    ("UPDATE discharges SET wrong_because = ''", "discharges_no_update"),
    ("UPDATE sewer_consents SET valid_until = '2199-12-31'", "sewer_consents_no_update"),
    ("UPDATE sewer_consents SET most_ul_a_day = NULL", "sewer_consents_no_update"),
    ("UPDATE sewer_consent_names SET waste_code = '09 01 04*'", "sewer_consent_names_no_update"),
    ("UPDATE collections SET note_code = 'OTHER'", "collections_no_update"),
    ("UPDATE collection_lines SET properties = 'none'", "collection_lines_(no|held)_update"),
    ("UPDATE waste_containers SET collected_at = NULL", "waste_containers_no_update"),
    ("UPDATE waste_containers SET stream_id = stream_id + 1", "waste_containers_no_update"),
    ("UPDATE waste_containers SET found_empty_at = opened_at WHERE collected_at IS NULL", "found_empty"),
    ("UPDATE pour_corrections SET reason = 'another'", "pour_corrections_no_update"),
    *(
        (f"DELETE FROM {table}", f"{table}_no_delete")
        for table in ("collections", "collection_lines", "waste_containers", "pour_corrections", "discharge_answers")
    ),
]


def test_what_was_recorded_of_waste_stays_whoever_writes(lab, member, technician, adviser):
    """A drum that left, one that stands here with a corrected pour, and a discharge somebody answered for."""
    gone, here = lab.open_container(), lab.open_container()
    send(member, pour_path(gone), **RIGHT)
    lab.state(gone)
    assert send(technician, "/waste/collect", containers=[gone.id], **NOTE).status_code == 303
    send(member, pour_path(here), **RIGHT)
    newest = lab.session.query(Pour).order_by(Pour.id.desc()).first()
    corrected = fill_in(member, f"/waste/pours/{newest.id}/correct", volume="500 mL", reason="misread")
    assert corrected.status_code == 303
    lab.drain_to("foul sewer")
    assert send(adviser, "/waste/sewer/consents/add", **PAPER).status_code == 303
    assert send(technician, "/waste/drained", **LOST).status_code == 303
    (made,) = lab.session.query(Discharge)
    sewer.answer_discharge(lab.act("safety adviser"), discharge_id=made.id, answer="Rang the undertaker")
    for statement, name in REFUSED:
        with pytest.raises(DBAPIError, match=name):
            lab.session.execute(sql(statement))
        lab.session.rollback()
    lab.session.execute(sql("UPDATE sewer_consents SET valid_until = '2030-12-31'"))  # sooner is an act's
    lab.session.rollback()
