"""The session sheet on paper: one page, read back, and issued from the page of its plan."""

import json
import re
from dataclasses import replace

import pytest
from sqlalchemy import select

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import size_of
from labsys.documents.page import Paper
from labsys.documents.rules import DoesNotFit
from labsys.documents.service import issue_document
from labsys.documents.session_sheet import SESSION_SHEET
from labsys.documents.session_sheet.drawn import SessionSheetData, draw
from labsys.inductions.models import Hazard
from labsys.planning.asked import AskedPlan
from labsys.planning.facts import Conditions
from labsys.planning.plan import IN_THE_DARK
from labsys.records import queries as records
from labsys.records.errors import NotFound
from labsys.records.models import IssuedDocument, RecordEntry
from tests.documents.issuing import PUBLIC, documents, occasion
from tests.planning.furnishing import add_film_process, add_paper_process
from tests.planning.making import DEVELOP, FILM, FIX, LOADING, RINSE, STOP, WASH, fixer, plan, today
from tests.support.pages import hidden_field, source


def sheet(issue, made=None, **fields):
    told = {"issue": issue, "plan": made or plan(), "person": "Łukasz Żak", "date": "3 March 2026"}
    return SessionSheetData(**{**told, **fields})


def asked_for(process, *, size="120", count=5, **changes):
    return AskedPlan(process.id, size_of(key=size), count, **changes)


def collected(lab, process, **changes):
    return SESSION_SHEET.collect(lab.session, asked_for(process, **changes), occasion(lab, "member"))


# Drawn


def test_the_sheet_reads_back_with_amounts_times_and_temperatures_in_working_order(issue, read_back):
    made = plan(conditions=today(20.5, room_celsius=19, cold_celsius=4, hot_celsius=50))
    printed = read_back(draw(sheet(issue, made, where="Film sink, Tue 3 Mar 2026, 12:00–14:00")))
    assert len(printed.pages) == 1
    assert printed.title == "Session sheet: Black-and-white film"
    assert printed.language == "en-GB"
    for words in (
        "Łukasz Żak · 3 March 2026",
        "Film sink, Tue 3 Mar 2026",
        "5 of 120 in 2.5 L",
        "357 mL concentrate",
        "2143 mL water",
        "500 mL cylinder, mark 355",
        "Exactly: eye level",
        "20.5 °C",
        "8 changes, one each minute",
        "Mains water at 4 °C does not wash well",
        "Tap the tank to free air bells.",
        IN_THE_DARK,
        "Nitrile gloves of 0.1 mm or more, new after a splash or 30 minutes",
        "Done by",
        "Checked by",
        "The supplier's safety data sheet comes first",
        "Page 1 of 1",
    ):
        assert words in printed.text.replace("\u00a0", " "), words
    order = [printed.text.index(f"{number}. {one.name}") for number, one in enumerate(FILM.steps, start=1)]
    assert order == sorted(order)


def test_amounts_and_times_are_the_largest_type_of_the_table(issue, read_back):
    sizes = {}
    for size, text in read_back(draw(sheet(issue))).texts():
        sizes.setdefault(text.replace("\u00a0", " "), size)
    assert sizes["357 mL concentrate"] == sizes["20 °C"] == sizes["8 min"]
    assert sizes["8 min"] > 1.4 * sizes["Roughly is good enough."]


@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("baths", [[], [fixer(used_rolls=10)], [fixer(1, used_rolls=50), fixer(2, in_service=False)]])
def test_every_sheet_keeps_to_one_page_and_a_type_that_reads(issue, read_back, paper, baths):
    made = plan(baths=baths, conditions=today(22, cold_celsius=4, hot_celsius=50))
    printed = read_back(draw(sheet(replace(issue, paper=paper), made, missing=("Ask Ines.",) * 2)))
    assert len(printed.pages) == 1
    assert printed.sizes == {tuple(round(side) for side in paper.size())}
    in_the_scale_of_a_graduate = {"L", "0.5", "1.0", "1.5", "2.0", "2.5", "3.0"}
    assert min(size for size, text in printed.texts() if text not in in_the_scale_of_a_graduate) >= 6.5


def test_a_shared_bath_is_named_by_code_and_state(issue, read_back):
    printed = read_back(draw(sheet(issue, plan(baths=[fixer(used_rolls=10, state="Plenty: about 40")]))))
    assert "AS-F1" in printed.text
    assert "Plenty: about 40. Takes this load; then 35 more of 120." in printed.text


def test_errors_in_per_cent_stay_off_the_sheet(issue, read_back):
    assert "%" not in read_back(draw(sheet(issue))).text


def test_a_sheet_without_a_name_has_a_line_to_write_it_on(issue, read_back):
    assert "Name ______" in read_back(draw(sheet(issue, person=""))).text


def test_only_steps_in_the_dark_are_marked_so(issue, read_back):
    lit = plan(replace(FILM, steps=(DEVELOP, STOP, FIX, WASH, RINSE)))
    assert IN_THE_DARK not in read_back(draw(sheet(issue, lit))).text
    twice = plan(replace(FILM, steps=(LOADING, replace(DEVELOP, in_the_dark=True))))
    assert read_back(draw(sheet(issue, twice))).text.count(IN_THE_DARK) == 2


def test_a_process_that_has_too_much_to_say_is_refused_not_squeezed(issue):
    endless = plan(replace(FILM, steps=(*FILM.steps, *(replace(WASH, name=f"Wash {n}") for n in range(30)))))
    with pytest.raises(DoesNotFit):
        draw(sheet(issue, endless))


def test_equal_sheets_have_equal_bytes(issue):
    assert draw(sheet(issue)) == draw(sheet(issue))


# Collected


def test_the_sheet_of_a_small_lab_carries_its_baths_hazards_and_inductions(lab, read_back):
    lab.mix_film_line()
    lab.appoint(lab.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER})))
    data = collected(lab, add_film_process(lab))
    assert data.needs == ("Skin care: never signed off",)
    assert data.missing[0].startswith("Skin care is needed because a chemical in use is a sensitiser")
    printed = read_back(draw(data))
    assert "Contains hydroquinone. May produce an allergic reaction." in printed.text
    assert "Skin care: never signed off" in printed.text
    assert "While mixing" not in printed.text
    fresh = collected(lab, add_film_process(lab, name="At half strength"), water_parts_milli=12_000)
    assert "Danger: PQ liquid concentrate" in read_back(draw(fresh)).text
    assert fresh.issue.scan_address.startswith(f"{PUBLIC}/plan?process_id=")


@pytest.mark.sqlite_only
def test_the_code_on_the_sheet_leads_back_to_the_same_plan(lab, client_as):
    asked = {"volume_ul": 3_000_000, "conditions": Conditions(22, 19.5, 8, 50), "is_blank": True}
    data = collected(lab, add_film_process(lab), **asked)
    page_of_plan = source(client_as("member").get(data.issue.scan_address.removeprefix(PUBLIC)))
    assert "5 of 120 in 3 L" in page_of_plan
    assert "6:40 min" in page_of_plan
    assert 'name="room" value="19.5"' in page_of_plan
    assert "the name is left open" in page_of_plan


# Issued


def path(process, **told):
    return f"/plan?process_id={process.id}&size=120&count=5" + "".join(f"&{key}={value}" for key, value in told.items())


def issue_from(client, where, *, key=None, **changes):
    """Press the button of the plan's page."""
    shown = source(client.get(where))
    form = re.search(r'<form class="issue.*?</form>', shown, re.DOTALL)[0]
    sent = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form))
    if key is not None:
        sent["submission_key"] = key
    return client.post("/documents/session-sheet", data={**sent, **changes})


def test_the_sheet_is_issued_from_the_plan_and_kept_on_the_record(lab, client_as, read_back):
    lab.mix_film_line()
    member = client_as("member")
    answer = issue_from(member, path(add_film_process(lab), celsius=22))
    assert answer.status_code == 303
    pdf = member.get(answer.headers["Location"])
    assert pdf.mimetype == "application/pdf"
    printed = read_back(pdf.data)
    assert "6:40 min" in printed.text.replace("\u00a0", " ")
    assert "Łukasz Żak" in printed.text
    document = lab.session.execute(select(IssuedDocument)).scalar_one()
    assert json.loads(document.parameters)["celsius"] == "22"
    newest = lab.session.query(RecordEntry).order_by(RecordEntry.number.desc()).first()
    assert json.loads(newest.payload)["facts"]["digest"] == document.digest
    assert records.find_fault(lab.session) is None
    assert "Session sheet" in source(member.get("/documents"))


def test_a_double_tap_issues_one_sheet(lab, client_as):
    member, process = client_as("member"), add_film_process(lab)
    first, second = (issue_from(member, path(process), key="one-and-the-same-key") for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    assert documents(lab) == 1


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"count": "0"}, "The plan is not complete, so no sheet was issued."),
        ({"size": "8x10 cm"}, "The plan is not complete, so no sheet was issued."),
        ({"volume": "1 L"}, "5 of 120 need at least 2.25 L; 1 L covers 2."),
    ],
)
def test_a_plan_that_does_not_hold_issues_nothing_and_says_why(lab, client_as, changes, message):
    member, process = client_as("member"), add_film_process(lab)
    answer = issue_from(member, path(process), **changes)
    assert answer.status_code == 303
    assert answer.headers["Location"].startswith("/plan?")
    assert message in source(member.get(f"/plan?process_id={process.id}")).replace("&#39;", "'")
    assert documents(lab) == 0


@pytest.mark.sqlite_only
def test_an_unknown_process_or_a_missing_token_issues_nothing(lab, client_as):
    member = client_as("member")
    token = hidden_field(source(member.get(path(add_film_process(lab)))), "csrf_token")
    sent = {"csrf_token": token, "size": "120", "count": "1"}
    assert member.post("/documents/session-sheet", data={**sent, "process_id": "999"}).status_code == 404
    assert member.post("/documents/session-sheet", data={**sent, "process_id": "9" * 40}).status_code == 404
    assert member.post("/documents/session-sheet", data={"process_id": "1"}).status_code == 400
    assert documents(lab) == 0
    with pytest.raises(NotFound):
        issue_document(lab.act("member"), SESSION_SHEET, AskedPlan(999, size_of(key="120"), 1), public_url=PUBLIC)


@pytest.mark.sqlite_only
def test_sheets_of_paper_have_a_sheet_too(lab, read_back):
    tray = lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=2_000, paper=True)
    data = collected(lab, add_paper_process(lab), size="8x10 in", count=12)
    printed = read_back(draw(data))
    assert "12 of 8x10 in on RC paper in 1 L" in printed.text
    assert tray.code in printed.text
