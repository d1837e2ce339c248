"""A pour is corrected by a new row: the ledger is never rewritten; contents, label, log and register follow."""

import pytest
from sqlalchemy import func, select

from labsys.ledger.models import Movement, Posting, Vessel
from labsys.people.permissions import NotPermitted
from labsys.waste import queries
from labsys.waste.correcting import correct_pour
from labsys.waste.models import Pour, PourCorrection
from labsys.waste.rules import WasteRefused
from tests.documents.issuing import log_data
from tests.support.pages import fill_in, links, page_at, send, text
from tests.waste.sending import NOTE, RIGHT, UNKNOWN, WRONG, pour_path

WHY = {"reason": "misread the jug"}


def path_of(pour):
    return f"/waste/pours/{pour.id}/correct"


def counted(lab, container):
    return [pour for pour in queries.pours_into(lab.session, container.id) if pour.counts]


def levels_are_sums(lab):
    sums = select(Posting.vessel_id, func.sum(Posting.amount)).group_by(Posting.vessel_id)
    return all(
        vessel_id is None or lab.session.get_one(Vessel, vessel_id).level == total
        for vessel_id, total in lab.session.execute(sums)
    )


def test_a_wrong_volume_is_put_right_and_everything_follows(lab, member, technician):
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    (first,) = lab.session.query(Pour)
    assert path_of(first) in links(page_at(member, f"/waste/containers/{container.id}"))
    before = lab.count(Movement)
    assert fill_in(member, path_of(first), volume="60 mL", **WHY).status_code == 303
    lab.session.expire_all()
    assert container.vessel.level == 60_000
    assert levels_are_sums(lab)
    assert lab.count(Movement) == before + 2
    (made,) = counted(lab, container)
    assert (made.volume_ul, first.volume_ul, first.correction.right_pour_id) == (60_000, 600_000, made.id)
    page = text(technician.get(f"/waste/containers/{container.id}"))
    assert "corrected Does not count. misread the jug" in page
    assert "Contents fixer 60 mL" in page
    assert "fixer 60 mL" in text(
        technician.get(f"/documents/labels?label=container-{container.id}&size=2+%C3%97+2&first=1")
    )


def test_what_was_never_poured_is_taken_back(lab, member):
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    (first,) = lab.session.query(Pour)
    assert fill_in(member, path_of(first), nothing="y", **WHY).status_code == 303
    lab.session.expire_all()
    assert container.vessel.level == 0
    assert counted(lab, container) == []
    assert levels_are_sums(lab)
    answer = fill_in(member, path_of(first), volume="1 L", **WHY)
    assert answer.status_code == 422
    assert "This was corrected already." in text(answer)
    assert lab.count(PourCorrection) == 1


def test_the_volume_of_a_dumped_bath_is_corrected_and_the_log_agrees(lab, technician):
    line = lab.mix_film_line()
    lab.log(10)
    (fixer,) = [bath for place, bath in line.items() if place == "fixer"]
    container = lab.open_container()
    lab.dump(fixer, container, volume_ml=2_400)
    (first,) = lab.session.query(Pour)
    assert fill_in(technician, path_of(first), volume="2.3 L", **WHY).status_code == 303
    lab.session.expire_all()
    assert (container.vessel.level, fixer.vessel.level) == (2_300_000, 0)
    assert levels_are_sums(lab)
    (made,) = counted(lab, container)
    assert (made.product_id, made.silver_high_mg, made.what) == (first.product_id, first.silver_high_mg, first.what)
    data = log_data(lab)
    assert data.balance.in_ul == data.balance.accounted_ul
    (logged,) = data.containers
    assert [pour.volume_ul for pour in logged.pours] == [2_300_000]
    answer = fill_in(technician, path_of(made), nothing="y", **WHY)
    assert "It came out of a bath or a bottle here." in text(answer)


def test_a_correction_does_not_lift_a_quarantine_but_lets_somebody_else_release_it(lab, member, technician):
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    send(member, pour_path(container), **UNKNOWN, record_done="y")
    unknown = counted(lab, container)[-1]
    assert fill_in(member, path_of(unknown), of="kind:fixer", **WHY).status_code == 303
    lab.session.expire_all()
    assert queries.container_or_raise(lab.session, container.id).quarantine is not None
    page = page_at(technician, f"/waste/containers/{container.id}/release")
    assert "trivial carry-over" not in page or "the entry was wrong" in page


def test_what_went_in_before_the_quarantine_is_not_put_right_into_a_wrong_pour(lab, member, technician):
    """Fixer typed as developer: put right, only fixer is in it; what went in before it is put right too."""
    container = lab.open_container()
    send(member, pour_path(container), **{**RIGHT, "volume": "10 L"})
    send(member, pour_path(container), **WRONG)
    first, mistaken = counted(lab, container)
    release = f"/waste/containers/{container.id}/release"
    assert fill_in(technician, path_of(first), volume="9 L", **WHY).status_code == 303
    assert "somebody else has to release it" not in text(technician.get(release))
    assert "the entry was wrong" not in page_at(technician, release)
    as_fixer = {"of": "kind:fixer", "waste_code": "09 01 04*"}
    assert fill_in(member, path_of(mistaken), **as_fixer, **WHY).status_code == 303
    lab.session.expire_all()
    assert [(pour.volume_ul, pour.wrong_because) for pour in counted(lab, container)] == [
        (9_000_000, ""),
        (600_000, ""),
    ]
    answer = send(technician, release, kind="the entry was wrong", note="Asked her: it was fixer")
    assert answer.status_code == 303
    assert send(member, pour_path(container), **RIGHT).status_code == 303


def test_what_went_in_while_it_was_in_quarantine_stays_wrong(lab, member, technician):
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    send(member, pour_path(container), **WRONG)
    send(member, pour_path(container), **RIGHT, record_done="y")
    late = counted(lab, container)[-1]
    assert fill_in(technician, path_of(late), volume="500 mL", **WHY).status_code == 303
    assert counted(lab, container)[-1].wrong_because == "The container was in quarantine when this was poured."


def test_a_mistaken_entry_is_released_as_that_by_another(lab, member, technician):
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    send(member, pour_path(container), **WRONG)
    wrong = counted(lab, container)[-1]
    assert fill_in(member, path_of(wrong), nothing="y", **WHY).status_code == 303
    release = f"/waste/containers/{container.id}/release"
    assert 'value="the entry was wrong" checked' in page_at(technician, release)
    answer = send(technician, release, kind="the entry was wrong", note="Asked her; it went next door")
    assert answer.status_code == 303
    assert send(member, pour_path(container), **RIGHT).status_code == 303


def test_after_the_container_left_it_says_what_to_do_instead(lab, member, technician):
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    (first,) = lab.session.query(Pour)
    lab.state(container)
    assert send(technician, "/waste/collect", containers=[container.id], **NOTE).status_code == 303
    answer = fill_in(technician, path_of(first), volume="60 mL", **WHY)
    assert answer.status_code == 422
    assert "has left. Tell carrier and consignee in writing what was really in it" in text(answer)
    assert lab.count(PourCorrection) == 0


def test_nobody_corrects_what_another_member_poured(lab, member, client_as):
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    (first,) = lab.session.query(Pour)
    assert client_as("instructor").get(path_of(first)).status_code == 403
    with pytest.raises(NotPermitted):
        correct_pour(lab.act("instructor"), pour_id=first.id, poured=None, reason="x")
    with pytest.raises(WasteRefused, match="Write why"):
        correct_pour(lab.act("member"), pour_id=first.id, poured=None, reason=" ")


def test_an_overfull_pour_says_where_else_it_goes_to_whoever_stands_there(lab, member, technician):
    full = lab.open_container(capacity_ml=1_000)
    send(member, pour_path(full), **{**RIGHT, "volume": "900 mL"})
    asked = text(send(member, pour_path(full), **RIGHT))
    assert "has room for 100 mL by the book. No other container of Used fixer has room." in asked
    assert "ask Sol Haddad, Μαρία Ιωάννου to open one." in asked
    assert "open a new one." in text(send(technician, pour_path(full), **RIGHT))
    other = lab.open_container()
    assert f"Pour it into {other.label} (under the wet side): there it fits." in text(
        send(member, pour_path(full), **RIGHT)
    )
    assert lab.count(Pour) == 1
