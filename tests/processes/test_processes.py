"""Processes written down and changed, through services and pages."""

import json

import pytest
from sqlalchemy import func, select

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.people.permissions import NotPermitted
from labsys.processes import queries, service
from labsys.processes.models import Process
from labsys.processes.rules import read_duration
from labsys.products.rules import EntriesMoved, ProductRefused
from labsys.records.models import RecordEntry
from tests.support.lab import SmallLab
from tests.support.pages import hidden, links, queries_of, send, source
from tests.support.store import a_process


def change(lab: SmallLab, process: Process, **changes):
    fields = {"name": process.name, "note": "", "steps": [service.StepEntry(name="Wash", changes=6)], **changes}
    return service.change_process(lab.act("technician"), process_id=process.id, **fields)


def last_entry(lab: SmallLab) -> dict:
    newest = lab.session.execute(select(RecordEntry).order_by(RecordEntry.number.desc()).limit(1)).scalar_one()
    return json.loads(newest.payload)


def typed(lab: SmallLab, **changes) -> dict[str, str]:
    """What a technician types for a developing step and a wash; `__` stands for a hyphen."""
    fields = {
        "name": "Film, weak developer",
        "material": "film",
        "note": "",
        "steps-0-name": "Develop",
        "steps-0-product_id": str(lab.ids["product developer"]),
        "steps-0-dilution": "1+6",
        "steps-0-time": "8:30 min",
        "steps-0-celsius": "38",
        "steps-0-tolerance": "0,25",
        "steps-0-in_the_dark": "y",
        "steps-0-air": "Lid on.",
        "steps-0-source": "data sheet, page 1",
        "steps-1-name": "Wash",
        "steps-1-time": "8:00",
        "steps-1-changes": "8",
    }
    return fields | {name.replace("__", "-"): text for name, text in changes.items()}

    # Services


def test_a_change_raises_the_version_keeps_the_row_and_puts_the_old_steps_on_the_record(lab: SmallLab):
    process = lab.add_process()
    assert (process.version, process.changed_at) == (1, None)
    changed = change(lab, process, name="Film, washed longer")
    assert (changed.id, changed.version, changed.changed_at) == (process.id, 2, lab.now)
    assert [step.name for step in changed.steps] == ["Wash"]
    entry = last_entry(lab)
    assert entry["act"] == "process.changed"
    assert entry["facts"]["was"]["name"] == "Black-and-white film"
    assert entry["facts"]["was"]["steps"][0]["water_parts_milli"] == 4_000
    assert entry["facts"]["steps"][0]["changes"] == 6


def test_two_who_change_the_same_version_do_not_overwrite_each_other(lab: SmallLab):
    process = lab.add_process()
    change(lab, process, version=1)
    with pytest.raises(EntriesMoved):
        change(lab, process, version=1)
    assert queries.process_or_raise(lab.session, process.id).version == 2


def test_a_name_belongs_to_one_process(lab: SmallLab):
    process = lab.add_process()
    other = service.add_process(lab.act("technician"), name="Another", material=Material.RC, note="", steps=[])
    with pytest.raises(ProductRefused, match="There is a process called Another already"):
        change(lab, process, name="Another")
    assert change(lab, other, name="Another").version == 2  # its own name is no clash


def test_a_member_changes_no_process(lab: SmallLab):
    process = lab.add_process()
    with pytest.raises(NotPermitted):
        service.change_process(lab.act("member"), process_id=process.id, name="Mine", note="", steps=[])

        # Pages


def test_a_process_is_written_down_on_a_page_and_stands_as_typed(lab: SmallLab, client_as):
    technician = client_as("technician")
    answer = send(technician, "/processes/add", typed(lab))
    assert answer.status_code == 303
    page = source(technician.get(answer.location))
    for words in ("38 °C ± 0.25 °C", "8:30 min", "in the dark", "Lid on.", "data sheet, page 1", "version 1"):
        assert words in page, words
    process = queries.process_by_name(lab.session, "Film, weak developer")
    develop, wash = process.steps
    assert (develop.seconds, develop.tolerance_milli_c, develop.in_the_dark) == (510, 250, True)
    assert (wash.product_id, wash.seconds, wash.changes) == (None, 480, 8)


def test_a_change_begins_from_what_stands_and_is_saved(lab: SmallLab, client_as):
    technician = client_as("technician")
    send(technician, "/processes/add", typed(lab))
    process = queries.process_by_name(lab.session, "Film, weak developer")
    address = f"/processes/{process.id}/change"
    page = source(technician.get(address))
    for value in ('value="8:30 min"', 'value="0.25"', 'value="1+6"', 'value="8 min"', 'value="8"'):
        assert value in page, value
    answer = send(technician, address, typed(lab, steps__0__time="9 min"))
    assert answer.status_code == 303
    lab.session.expire_all()
    changed = queries.process_or_raise(lab.session, process.id)
    assert (changed.version, changed.steps[0].seconds) == (2, 540)
    assert "version 2" in source(technician.get(answer.location))


@pytest.mark.sqlite_only
def test_a_form_sent_twice_changes_once(lab: SmallLab, client_as):
    technician = client_as("technician")
    process_id = lab.add_process().id
    address = f"/processes/{process_id}/change"
    fields = {**hidden(source(technician.get(address))), **typed(lab)}
    assert [technician.post(address, data=fields).status_code for _ in range(2)] == [303, 303]
    lab.session.expire_all()
    assert queries.process_or_raise(lab.session, process_id).version == 2


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"name": ""}, "Name the process."),
        ({"material": ""}, "Choose what it is for."),
        ({"steps__1__name": ""}, "Name this step, or empty the row."),
        ({"steps__0__dilution": ""}, "Write the dilution, such as 1+4, or stock for undiluted."),
        ({"steps__0__dilution": "strong"}, "strong"),
        ({"steps__1__dilution": "1+9"}, "Choose the product that is diluted so"),
        ({"steps__0__time": "long"}, "“long” is not a time. Write it as 8:30, 8 min or 90 s."),
        ({"steps__0__celsius": ""}, "Enter the temperature that it may be off from."),
        ({"steps__0__celsius": "68"}, "at most 60"),
        ({"steps__1__changes": "many"}, "write a number above zero"),
        ({"steps__0__air": "x" * 301}, "Use at most 300 characters."),
    ],
)
def test_what_cannot_be_saved_is_said_kept_and_not_written(lab: SmallLab, client_as, changes, message):
    technician = client_as("technician")
    answer = send(technician, "/processes/add", typed(lab, **changes))
    assert answer.status_code == 422
    assert message in source(answer)
    assert 'value="data sheet, page 1"' in source(answer)
    assert lab.session.execute(select(func.count()).select_from(Process)).scalar_one() == 0


@pytest.mark.sqlite_only
def test_a_process_without_a_step_is_refused(lab: SmallLab, client_as):
    answer = send(client_as("technician"), "/processes/add", {"name": "Nothing", "material": "rc"})
    assert answer.status_code == 422
    assert "Enter the first step at least." in source(answer)


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("button", "order"),
    [
        ({"up": "1"}, ["Wash", "Develop"]),
        ({"insert": "1"}, ["Develop", "", "Wash"]),
        ({"remove": "0"}, ["Wash", ""]),
        ({"up": "99"}, ["Develop", "Wash"]),
    ],
)
def test_steps_are_rearranged_without_saving(lab: SmallLab, client_as, button, order):
    technician = client_as("technician")
    answer = send(technician, "/processes/add", typed(lab) | button)
    assert answer.status_code == 200
    page = source(answer)
    assert "not saved yet" in page
    for index, name in enumerate(order):
        assert f'id="steps-{index}-name" maxlength="60" name="steps-{index}-name" type="text" value="{name}"' in page
    assert 'value="8:30 min"' in page or "remove" in button
    assert lab.session.execute(select(func.count()).select_from(Process)).scalar_one() == 0


@pytest.mark.sqlite_only
def test_the_form_costs_the_same_queries_however_many_steps_and_products_there_are(lab: SmallLab, client_as):
    technician = client_as("technician")
    process = lab.add_process()
    address = f"/processes/{process.id}/change"
    first = queries_of(technician, address)
    lab.add_product(SolutionKind.STOP, name="Another stop concentrate")
    change(lab, process, steps=[service.StepEntry(name=f"Wash {number}", changes=2) for number in range(9)])
    assert queries_of(technician, address) == first <= 20

    # Times


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("8", 480), ("8.5 min", 510), ("0:45", 45), ("90 s", 90), ("1 h 30 min", 5_400), ("8 MIN 30 S", 510)],
)
def test_a_time_is_read_as_people_write_it(text, seconds):
    assert read_duration(text) == seconds


@pytest.mark.parametrize("text", ["0", "-3", "8:75", "8 30", "eight", "49 h", "1 day", "0.2 s"])
def test_what_is_no_time_is_refused(text):
    with pytest.raises(ProductRefused):
        read_duration(text)


@pytest.mark.sqlite_only
def test_a_process_is_shown_as_steps_in_working_order(lab: SmallLab, client_as):
    client = client_as("member")
    assert "No processes yet" in source(client.get("/processes"))
    process_id = a_process(lab)
    assert f"/processes/{process_id}" in links(source(client.get("/processes")))
    page = source(client.get(f"/processes/{process_id}"))
    assert "Плёнка 120" in page
    for words in ("1. Develop", "1+6", "20.5 °C", "5:30 min", "in the dark", "data sheet, page 1", "2. Wash", "water"):
        assert words in page, words
