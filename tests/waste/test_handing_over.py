from datetime import timedelta

import pytest

from labsys.ledger import queries as ledger
from labsys.ledger.models import Account, Unit
from labsys.waste.models import Collection
from tests.support.pages import send, source, text
from tests.waste.sending import NOTE, RIGHT, L, pour_path

pytestmark = pytest.mark.sqlite_only


@pytest.fixture
def full(lab, technician):
    container = lab.open_container()
    send(technician, pour_path(container), **{**RIGHT, "volume": "20 L"})
    lab.state(container)
    return container


def hand_over(client, *containers, **fields):
    return send(client, "/waste/collect", containers=[one.id for one in containers], **{**NOTE, **fields})


def test_the_next_note_code_of_the_lab_is_suggested(lab, technician, full):
    """Six characters of the name, a slash, five more: Environment Agency rule since April 2016 (read in the press)."""
    assert "would be ALDERS/00001" in source(technician.get("/waste/collect"))
    hand_over(technician, full, note_code="ALDERS/00041")
    lab.open_container()
    assert "would be ALDERS/00042" in source(technician.get("/waste/collect"))


def test_what_the_carrier_read_is_kept_beside_the_book(lab, technician, full):
    answer = hand_over(technician, full, **{f"volume_{full.id}": "19.6", f"weight_{full.id}": "21.4"})
    made = lab.session.query(Collection).one()
    assert answer.headers["Location"] == f"/waste/collections/{made.id}"
    (line,) = made.lines
    assert (line.book_ul, line.carrier_ul, line.difference_ul, line.weight_mg) == (
        20 * L,
        19_600_000,
        -400_000,
        21_400_000,
    )
    page = source(technician.get(answer.headers["Location"]))
    assert "400 mL less than the book" in page
    assert "1.09" in page  # 21.4 / 19.6
    assert "Ωmega Перевозки" in page
    assert "do not fit" not in page
    assert "Compare the note code" not in page
    start, end = lab.now.replace(year=2025), lab.now.replace(year=2099)
    balance = ledger.balances(lab.session, start=start, end=end)[Unit.UL]
    assert (balance.accounts[Account.CARRIER], balance.unexplained, balance.difference) == (19_600_000, 400_000, 0)


def test_a_carrier_who_gave_no_figures_took_what_the_book_says(lab, technician, full):
    page = source(technician.get(hand_over(technician, full).headers["Location"]))
    assert "not given" in page
    assert "not known" in page
    assert lab.session.query(Collection).one().lines[0].carrier_ul is None


def test_a_note_code_of_unknown_form_is_kept_with_a_warning(lab, technician, full):
    answer = hand_over(technician, full, note_code="whatever 12")
    assert answer.status_code == 303
    page = source(technician.get(answer.headers["Location"]))
    assert "WHATEVER 12" in page
    assert "In England the code is usually written as" in page


def test_an_impossible_weight_is_kept_with_a_warning(technician, full):
    answer = hand_over(technician, full, **{f"weight_{full.id}": "34"})
    page = source(technician.get(answer.headers["Location"]))
    assert "1.70 kg per litre is not what spent solutions weigh" in page


def test_one_note_code_serves_one_collection(lab, technician, full):
    hand_over(technician, full)
    second = lab.open_container()
    send(technician, pour_path(second), **RIGHT)
    lab.state(second)
    answer = hand_over(technician, second, note_code="alders/00001")
    assert answer.status_code == 422
    assert "ALDERS/00001 was used for an earlier collection." in source(answer)
    assert "Ωmega Перевозки" in source(answer)
    assert lab.count(Collection) == 1


def test_an_empty_container_is_not_handed_over(lab, technician, full):
    empty = lab.open_container()
    answer = hand_over(technician, full, empty)
    assert answer.status_code == 422
    assert f"{empty.label} is empty by the book. Correct its level first." in source(answer)
    assert lab.count(Collection) == 0


def test_a_collected_container_is_not_handed_over_again_nor_poured_into(lab, technician, full):
    hand_over(technician, full)
    lab.open_container()
    answer = hand_over(technician, full, note_code="ALDERS/00002")
    assert answer.status_code == 422
    assert f"{full.label} was collected." in source(answer)
    answer = send(technician, pour_path(full), **RIGHT)
    assert answer.status_code == 422
    assert "Choose the container that took its place." in source(answer)
    page = source(technician.get(f"/waste/containers/{full.id}"))
    assert "See the collection" in page
    assert "Pour into it" not in page


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"containers": []}, "Tick at least one container."),
        ({"note_code": ""}, "Copy the code from the consignment note."),
        ({"carrier": ""}, "Enter who took it."),
        ({"containers": [], "volume_1": "19"}, "Tick"),
        ({"weight_1": "heavy"}, "Write a number and its unit"),
        ({"note_code": "X" * 31}, "Use at most 30 characters."),
    ],
)
def test_a_collection_that_cannot_be_is_refused(lab, technician, full, fields, message):
    assert full.id == 1
    answer = send(technician, "/waste/collect", **{"containers": [full.id], **NOTE, **fields})
    assert answer.status_code == 422
    assert message in source(answer)
    assert lab.count(Collection) == 0


def test_a_figure_for_a_container_that_is_not_ticked_is_asked_about(lab, technician, full):
    other = lab.open_container()
    send(technician, pour_path(other), **RIGHT)
    lab.state(other)
    answer = hand_over(technician, full, **{f"volume_{other.id}": "0.5"})
    assert answer.status_code == 422
    assert "A figure is given for a container that is not ticked." in source(answer)


def test_handing_over_twice_with_one_key_is_one_collection(lab, technician, full):
    for _ in range(2):
        answer = hand_over(technician, full, key="one-and-the-same-key")
        assert answer.headers["Location"] == f"/waste/collections/{lab.session.query(Collection).one().id}"


def test_nothing_leaves_before_what_was_poured_into_it(lab, technician, member):
    container = lab.open_container()
    assert send(member, pour_path(container), **RIGHT).status_code == 303
    lab.state(container)
    early = container.opened_at + timedelta(hours=3)
    answer = send(
        technician, "/waste/collect", containers=[container.id], **NOTE, collected_at=f"{early:%Y-%m-%dT%H:%M}"
    )
    assert answer.status_code == 422
    assert f"“Fixer used once” was poured into {container.label} after that." in text(answer)
    assert lab.count(Collection) == 0
