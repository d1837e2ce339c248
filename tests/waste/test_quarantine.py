"""Quarantine holds: nothing leaves, whoever asks and however, until somebody else releases it in full."""

from datetime import timedelta

import pytest
from sqlalchemy import text as sql
from sqlalchemy.exc import DBAPIError

from labsys.people.permissions import NotPermitted
from labsys.waste import quarantine, queries
from labsys.waste.models import Collection, Pour, Quarantine, ReleaseKind
from labsys.waste.rules import Restated, WasteRefused
from tests.desk.reading import duties, primary_acts
from tests.support.by_hand import change_by_hand
from tests.support.pages import form_of, links, page_at, pdf_text, send, source, text, words
from tests.waste.sending import NOTE, RESTATED, RIGHT, UNKNOWN, WRONG, pour_path


@pytest.fixture
def adviser(client_as):
    return client_as("safety adviser")


@pytest.fixture
def held(lab, member):
    """Ten litres of fixer into which a member poured 600 mL of developer."""
    container = lab.open_container()
    send(member, pour_path(container), **{**RIGHT, "volume": "10 L"})
    assert send(member, pour_path(container), **WRONG).status_code == 303
    return container


def path_of(container, what=""):
    return f"/waste/containers/{container.id}{what and '/' + what}"


def label_of(container):
    return f"/documents/labels?label=container-{container.id}&size=2+%C3%97+2&first=1"


def hand_over(client, container, **fields):
    return send(client, "/waste/collect", containers=[container.id], **NOTE, **fields)


def test_a_quarantined_container_is_not_handed_over_by_the_page_or_by_a_post_of_its_own(lab, technician, held):
    page = source(technician.get("/waste/collect"))
    assert "In quarantine: it stays." in page
    assert f'value="{held.id}" disabled' in page
    answer = hand_over(technician, held)
    assert answer.status_code == 422
    assert f"{held.label} is in quarantine and stays." in text(answer)
    assert path_of(held) not in links(source(answer)) or lab.count(Collection) == 0
    assert lab.count(Collection) == 0
    assert queries.container_or_raise(lab.session, held.id).collected_at is None


def test_the_database_lets_no_held_container_leave_whoever_writes(lab, held):
    line = (
        "INSERT INTO collection_lines (collection_id, container_id, movement_id, book_ul) "
        f"SELECT 1, {held.id}, min(id), 1 FROM movements"
    )
    for statement in (line, f"UPDATE waste_containers SET collected_at = opened_at WHERE id = {held.id}"):
        with pytest.raises(DBAPIError, match="held"):
            lab.session.execute(sql(statement))
        lab.session.rollback()


def test_a_wrong_pour_holds_its_container_though_its_quarantine_points_elsewhere(lab, technician, adviser, held):
    other = lab.open_container()
    change_by_hand(lab, f"UPDATE quarantines SET container_id = {other.id}", table="quarantines")
    said = "“PQ developer 1+9” was poured into it wrongly, and no release of that is on file."
    assert said in text(technician.get("/waste/collect"))
    assert said in text(technician.get(path_of(held)))
    answer = hand_over(technician, held)
    assert answer.status_code == 422
    assert f"{held.label} stays. {said}" in text(answer)
    assert lab.count(Collection) == 0
    assert send(technician, pour_path(held), **RIGHT).status_code == 422
    assert send(technician, path_of(held, "quarantine"), reason="developer in it").status_code == 303
    assert send(adviser, path_of(held, "release"), **RESTATED).status_code == 303
    assert hand_over(technician, held).status_code == 303


@pytest.mark.parametrize("table", ["quarantines", "pours", "discharges", "sewer_consents"])
def test_the_database_takes_out_nothing_that_holds_a_container_or_answers_for_a_sink(lab, technician, held, table):
    lab.drain_to("foul sewer")
    lab.add_consent("09 01 99")
    stop = {"of": "kind:stop", "what": "Stop from a tray", "waste_code": "09 01 99", "volume": "400 mL"}
    assert send(technician, "/waste/drained", **stop).status_code == 303
    with pytest.raises(DBAPIError, match="no_delete"):
        lab.session.execute(sql(f"DELETE FROM {table}"))
    lab.session.rollback()


@pytest.mark.parametrize("change", ["container_id = container_id + 1", "poured_by_id = NULL"])
def test_a_quarantine_stays_with_its_container_and_with_whoever_poured(lab, held, change):
    with pytest.raises(DBAPIError, match="quarantines_no_update"):
        lab.session.execute(sql(f"UPDATE quarantines SET {change}"))
    lab.session.rollback()


def test_a_quarantine_that_begins_while_the_carrier_waits_still_holds(lab, technician, client_as):
    """The page was open before the wrong pour: what counts is what is so when it is sent."""
    container = lab.open_container()
    send(technician, pour_path(container), **RIGHT)
    opened = source(technician.get("/waste/collect"))
    send(client_as("member"), pour_path(container), **WRONG)
    answer = send(technician, "/waste/collect", opened=opened, containers=[container.id], **NOTE)
    assert answer.status_code == 422
    assert lab.count(Collection) == 0


def test_its_label_says_quarantine_right_across_and_to_leave_it_vented(lab, technician, held):
    page = text(technician.get(label_of(held)))
    assert "QUARANTINE: nothing in, not to leave" in page
    assert "Never seal it" in page
    answer = send(technician, label_of(held), label=[f"container-{held.id}"], size="2 × 2", first="1")
    printed = pdf_text(technician.get(answer.location).data if answer.status_code == 303 else answer.data)
    assert "QUARANTINE: nothing in, not to leave" in printed
    assert "SDS" not in printed.replace("the SDS", "")


def test_its_page_says_what_comes_off_by_when_to_decide_and_does_not_urge_a_release(technician, held):
    page = source(technician.get(path_of(held)))
    assert "May give off ammonia." in text(technician.get(path_of(held)))
    assert "Never seal it" in page
    assert "somebody decides by" in page
    assert "Release from quarantine" in page
    assert primary_acts(page) == ["Quarantine label"]


def test_whoever_poured_it_does_not_release_it(lab, technician, client_as):
    container = lab.open_container()
    send(technician, pour_path(container), **RIGHT)
    send(technician, pour_path(container), **WRONG)
    assert "somebody else has to release it" in text(technician.get(path_of(container, "release")))
    answer = send(technician, path_of(container, "release"), **RESTATED)
    assert answer.status_code == 422
    assert "Somebody else has to release it." in text(answer)
    assert send(client_as("manager"), path_of(container, "release"), **RESTATED).status_code == 303


def test_nor_does_whoever_poured_into_it_later(lab, technician, held):
    send(technician, pour_path(held), **WRONG)
    assert send(technician, path_of(held, "release"), **RESTATED).status_code == 422
    with pytest.raises(NotPermitted):
        quarantine.release(lab.act("member"), container_id=held.id, kind=ReleaseKind.RESTATED, note="why")


def test_the_database_knows_who_may_not_release(lab, held):
    member, technician = lab.person("member").id, lab.person("technician").id
    trivial = "released_at = started_at, release_kind = 'trivial carry-over'"
    anew = "released_at = started_at, release_kind = 'classified anew'"
    for change, message in (
        (f"{trivial}, release_note = 'a drop', released_by_id = {member}", "released_by_another"),
        (f"{trivial}, release_note = 'a drop'", "released_by_somebody"),
        (f"{trivial}, released_by_id = {technician}", "released_by_somebody"),
        (f"{anew}, release_note = 'a drop', released_by_id = {technician}", "restated_in_full"),
    ):
        with pytest.raises(DBAPIError, match=message):
            lab.session.execute(sql(f"UPDATE quarantines SET {change}"))
        lab.session.rollback()


@pytest.mark.parametrize(
    ("left_out", "message"),
    [
        ("note", "Write what was found"),
        ("components", "Write what is in it, with the content of each."),
        ("properties", "Write its hazardous properties"),
        ("acceptance", "Write who takes it so, in writing"),
    ],
)
def test_a_release_that_leaves_something_out_is_refused(lab, adviser, held, left_out, message):
    answer = send(adviser, path_of(held, "release"), **{**RESTATED, left_out: ""})
    assert answer.status_code == 422
    assert message in text(answer)
    assert queries.container_or_raise(lab.session, held.id).quarantine is not None


@pytest.mark.parametrize(
    ("code", "properties", "message"),
    [
        ("09 01 99", "HP 5", "09 01 99 is for waste that has none. With HP 5 it is not that waste"),
        ("16 05 06*", "none", "16 05 06* is for waste that has at least one."),
    ],
)
def test_a_release_states_properties_that_its_code_has(lab, adviser, held, code, properties, message):
    answer = send(adviser, path_of(held, "release"), **{**RESTATED, "code": code, "properties": properties})
    assert answer.status_code == 422
    assert message in text(answer)
    assert queries.container_or_raise(lab.session, held.id).quarantine is not None


def test_waste_that_has_none_is_released_as_that(lab, adviser, technician, held):
    none = {**RESTATED, "code": "09 01 99", "properties": "none"}
    assert send(adviser, path_of(held, "release"), **none).status_code == 303
    assert "HP: none" in text(technician.get(label_of(held)))
    assert hand_over(technician, held).status_code == 303


def test_released_anew_it_has_a_new_label_takes_nothing_more_and_leaves(lab, adviser, technician, member, held):
    assert send(adviser, path_of(held, "release"), **RESTATED).status_code == 303
    page = text(technician.get(path_of(held)))
    assert "Waits to leave as 16 05 06*" in page
    assert "Invented Consignee, 2 March 2026, ref. Ж-77" in page
    label = text(technician.get(label_of(held)))
    for said in ("Contents: fixer 97 %, developer 3 %", "16 05 06*", "HP 5, HP 14", "WAITS TO LEAVE"):
        assert said in label
    assert "QUARANTINE" not in label
    stopped = send(member, pour_path(held), **{**RIGHT, "waste_code": "16 05 06*"})
    assert stopped.status_code == 422
    assert lab.count(Pour) == 2
    assert hand_over(technician, held).status_code == 303


def test_what_is_poured_in_after_it_was_classified_anew_is_said_beside_it(lab, adviser, technician, member, held):
    assert send(adviser, path_of(held, "release"), **RESTATED).status_code == 303
    late = {**WRONG, "volume": "60 mL"}
    assert send(member, pour_path(held), **late).status_code == 303
    contents = "fixer 97 %, developer 3 %; poured in since: developer 60 mL"
    stated = "HP 5, HP 14; as stated when released, 60 mL poured since"
    for path in (label_of(held), path_of(held)):
        told = text(technician.get(path))
        assert contents in told
        assert stated in told
    typed = {"kind": "trivial carry-over", "note": "Carried over on a reel"}
    assert send(technician, path_of(held, "release"), **typed).status_code == 303
    page = text(technician.get("/waste/collect"))
    assert contents in page
    assert stated in page
    assert "it leaves as stated when released, 60 mL poured since." in text(technician.get(path_of(held)))


def test_a_trivial_carry_over_is_released_in_two_touches_with_a_reason(lab, member, technician):
    """60 mL in 10 L are 0.6 %; the lab's figure is 1 % (common practice, no source)."""
    container = lab.open_container()
    send(member, pour_path(container), **{**RIGHT, "volume": "10 L"})
    send(member, pour_path(container), **{**WRONG, "volume": "60 mL"})
    assert path_of(container, "release") in links(page_at(technician, path_of(container)))
    page = page_at(technician, path_of(container, "release"))
    assert 'value="trivial carry-over" checked' in page
    typed = {"kind": "trivial carry-over", "note": "Carried over on a reel"}
    assert send(technician, path_of(container, "release"), **{**typed, "note": ""}).status_code == 422
    assert send(technician, path_of(container, "release"), **typed).status_code == 303
    assert send(member, pour_path(container), **RIGHT).status_code == 303  # it goes on in use
    assert queries.container_or_raise(lab.session, container.id).quarantine is None
    lab.state(container)
    assert hand_over(technician, container).status_code == 303


def test_what_was_let_pass_before_counts_towards_what_is_trivial(lab, member, technician):
    """60 mL and again 60 mL in 10 L are 1.2 %; the lab's figure is 1 %."""
    container = lab.open_container()
    send(member, pour_path(container), **{**RIGHT, "volume": "10 L"})
    typed = {"kind": "trivial carry-over", "note": "Carried over on a reel"}
    for status in (303, 422):
        assert send(member, pour_path(container), **{**WRONG, "volume": "60 mL"}).status_code == 303
        assert send(technician, path_of(container, "release"), **typed).status_code == status
    assert "trivial carry-over" not in page_at(technician, path_of(container, "release"))


def test_the_lab_says_what_is_trivial(lab, client_as, technician, held):
    """600 mL in 10.6 L are 5.7 %: not trivial by any figure that the lab may set."""
    assert "trivial carry-over" not in page_at(technician, path_of(held, "release"))
    typed = {"kind": "trivial carry-over", "note": "hardly anything"}
    assert send(technician, path_of(held, "release"), **typed).status_code == 422
    with pytest.raises(WasteRefused, match="cannot be released as trivial carry-over"):
        quarantine.release(
            lab.act("technician"), container_id=held.id, kind=ReleaseKind.CARRY_OVER, note="hardly anything"
        )
    manager = client_as("manager")
    assert "common practice, no source" in text(manager.get("/lab"))
    assert "Trivial carry-over into a waste container" in words(form_of(page_at(manager, "/lab")))


def test_what_is_not_known_goes_nowhere_and_comes_from_nowhere(lab, member, technician, adviser):
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    stopped = send(member, pour_path(container), **UNKNOWN)
    assert stopped.status_code == 422
    assert "It is not known what this is, so it goes into no container." in text(stopped)
    assert send(member, pour_path(container), **UNKNOWN, record_done="y").status_code == 303
    assert "What may come off is not known." in text(technician.get(path_of(container)))
    assert hand_over(technician, container).status_code == 422
    assert "not worked out (what is in it is not known)" in text(technician.get(path_of(container)))
    assert send(adviser, path_of(container, "release"), **RESTATED).status_code == 303
    assert hand_over(technician, container).status_code == 303


def test_an_older_pour_of_which_nobody_said_what_it_was_holds_its_container(lab, member, technician):
    """As after an upgrade: the pour is there, without a kind, and nobody quarantined it."""
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    change_by_hand(lab, "UPDATE pours SET kind = NULL", table="pours")
    assert "CONTENTS NOT KNOWN" in text(technician.get(label_of(container)))
    assert "Contents not known: pour nothing into it." in text(technician.get(path_of(container)))
    assert send(member, pour_path(container), **RIGHT).status_code == 422
    answer = hand_over(technician, container)
    assert answer.status_code == 422
    assert "What is in it is not known: nobody said what “Fixer used once” was." in text(answer)
    with pytest.raises(DBAPIError, match="held"):
        lab.session.execute(sql("UPDATE waste_containers SET collected_at = opened_at"))
    lab.session.rollback()
    assert send(technician, path_of(container, "quarantine"), reason="nobody knows").status_code == 303
    assert lab.count(Quarantine) == 1
    assert "In quarantine" in text(technician.get(path_of(container)))


def test_more_in_a_container_than_was_poured_is_not_known(lab, member, technician):
    container = lab.open_container()
    send(member, pour_path(container), **{**RIGHT, "volume": "10 L"})
    answer = send(technician, path_of(container, "level"), found="12 L")
    assert answer.status_code == 303
    page = text(technician.get(answer.location))
    assert "2 L more was found in it than was recorded. It is in quarantine now." in page
    assert hand_over(technician, container).status_code == 422


def test_more_in_a_container_than_its_release_stated_is_not_known(lab, technician, adviser, held):
    assert send(adviser, path_of(held, "release"), **RESTATED).status_code == 303
    assert (
        send(technician, path_of(held, "level"), found="10.65 L").status_code == 303
    )  # a reading can be wrong by that
    assert queries.container_or_raise(lab.session, held.id).quarantine is None
    answer = send(technician, path_of(held, "level"), found="12 L")
    assert "more was found in it after it was classified anew" in text(technician.get(answer.location))
    assert hand_over(technician, held).status_code == 422
    assert send(adviser, path_of(held, "release"), **RESTATED).status_code == 303
    assert hand_over(technician, held).status_code == 303


def test_a_quarantine_that_is_due_comes_first_on_today(lab, member, technician, adviser):
    """Rinse water in an empty container: nothing comes off, so only the day makes it urgent."""
    container = lab.open_container()
    rinse = {"of": "kind:rinse", "what": "rinse", "waste_code": "09 01 99", "record_done": "y"}
    send(member, pour_path(container), **{**RIGHT, **rinse})
    assert queries.container_or_raise(lab.session, container.id).quarantine.gas == ""
    for client in (technician, adviser):
        (row,) = [row for row in duties(page_at(client, "/")) if container.label in row.what]
        assert row.why.startswith("In quarantine, decide by")
    lab.session.execute(sql("UPDATE quarantines SET due_on = '2026-03-01'"))
    lab.session.commit()
    (row,) = [row for row in duties(page_at(technician, "/")) if container.label in row.what]
    assert row.why.startswith("now In quarantine, a decision was due on")


def test_restated_needs_all_of_it_in_the_act_too(lab, held):
    with pytest.raises(WasteRefused, match="Choose the code"):
        quarantine.release(
            lab.act("safety adviser"),
            container_id=held.id,
            kind=ReleaseKind.RESTATED,
            note="why",
            restated=Restated("", "fixer", "HP 5", "letter"),
        )
    lab.session.rollback()
    assert lab.now - queries.container_or_raise(lab.session, held.id).quarantine.started_at < timedelta(hours=1)
