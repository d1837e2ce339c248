"""Tests of baths: due by rule, judged, drawn; one that fails stops new work; another unit is asked back."""

import pytest
from sqlalchemy import text as sql
from sqlalchemy.exc import DBAPIError

from labsys.baths.due import kinds_of_check
from labsys.baths.models import Bath, Check, CheckKind, CheckRule, Place
from labsys.baths.strip_models import StripAim
from labsys.chemistry.care import SolutionKind
from tests.support.lab import SmallLab
from tests.support.pages import fill_in, page_at, send, source, text

# Base and fog, step 4 and step 17 as NAVEDTRA 14209, fig. 10-28 prints them; the steps between are made up.
REFERENCE = "0.12 0.15 0.19 0.23 0.40 0.60 0.65 0.70 0.75 0.80 0.85 0.90 0.95 1.00 1.05 1.10 1.20 1.30"


@pytest.fixture
def line(lab: SmallLab) -> dict[Place, Bath]:
    return lab.mix_film_line()


def state_rules(technician, bath: Bath, **rows: str):
    """Fill in the rows of the page that says when a bath is tested: `clearing_time_units="10"`."""
    path = f"/baths/{bath.id}/check-rules"
    kinds = kinds_of_check(bath)
    fields = {}
    for name, value in rows.items():
        kind, _, column = name.rpartition("_")
        fields[f"rules-{kinds.index(CheckKind(kind.replace('_', ' ')))}-{column}"] = value
    return fill_in(technician, path, **fields)


def may_start(lab: SmallLab, client) -> str:
    """What somebody reads who asks before one roll."""
    answer = send(client, f"/baths/lines/{lab.film_line_id}/log", {"went-film-120": "1"}, started="before")
    return "may start" if answer.status_code == 303 else text(answer)


def test_a_test_is_due_by_rolls_and_by_days_and_stands_on_today(lab, technician, member, line):
    fixer = line[Place.FIXER]
    assert "No rule says when it is tested." in text(technician.get(f"/baths/{fixer.id}"))
    answer = state_rules(technician, fixer, clearing_time_units="10", clearing_time_days="7", silver_strip_days="30")
    assert answer.status_code == 303
    assert "Test due: clearing time (none of the fresh bath is written down" in text(technician.get("/"))
    check = f"/baths/{fixer.id}/check?kind=clearing+time"
    send(technician, check, seconds="40", is_fresh="y")
    assert "Test due" not in text(technician.get("/"))
    lab.log(9)
    assert "Test due" not in text(technician.get("/"))
    lab.log(1)
    due = "clearing time (10 rolls since the last, at most 10)"
    today = source(technician.get("/"))
    assert f"Test due: {due}" in text(technician.get("/"))
    assert check.replace("+", "%20") in today or check in today
    assert f"test due {due}" in text(member.get(f"/baths/{fixer.id}"))
    assert "Test due" not in text(member.get("/"))
    send(technician, check, seconds="44 s")
    assert "Test due" not in text(technician.get("/"))
    lab.tick(days=7)
    assert "Test due: clearing time (7 days since the last, at most 7)" in text(technician.get("/"))
    lab.tick(days=23)
    assert "silver strip (30 days and it was never made, at most 30)" in text(technician.get("/"))
    lab.session.rollback()
    rules = lab.session.query(CheckRule).order_by(CheckRule.kind).all()
    assert [(rule.kind, rule.every_days) for rule in rules] == [("clearing time", 7), ("silver strip", 30)]


def test_two_control_strips_outside_stop_new_work_and_one_within_lets_it_go_on(lab, technician, member, line):
    """NAVEDTRA 14208: outside its limits, stop; a second strip is part of the search for why."""
    developer = line[Place.DEVELOPER]
    check = f"/baths/{developer.id}/check?kind=control+strip"
    unread = send(technician, check, fog="0.12", speed="0.23", middle="1.20")
    assert unread.status_code == 422
    assert "No reference strip of this line is read yet" in text(unread)
    aim = f"/baths/lines/{lab.film_line_id}/reference-strip"
    answer = fill_in(technician, aim, box="Box 3, exposed 2 March", densities=REFERENCE)
    assert "Read step 4 (speed point) and step 17 (middle) of each strip." in text(technician.get(answer.location))
    said = text(technician.get(send(technician, check, fog="0.12", speed="0.24", middle="1.40").location))
    assert "middle step 1.40, aim 1.20, 0.20 off, at most 0.15" in said
    assert "Run a second strip before the work stops." in said
    assert "Near its end" in said
    assert may_start(lab, member) == "may start"
    assert "control strip (the last lay outside its limits; a second one decides)" in text(technician.get("/"))
    said = text(technician.get(send(technician, check, fog="0.12", speed="0.24", middle="1.41").location))
    assert "Look in this order: the densitometer;" in said
    assert "Exhausted: do not use" in said
    assert "is exhausted. There is no spare: ask the technician." in may_start(lab, member)
    send(technician, check, fog="0.12", speed="0.23", middle="1.22")
    assert may_start(lab, member) == "may start"
    page = page_at(technician, f"/baths/{developer.id}")
    assert "Control strip, middle step: off its aim" in page
    assert page.count("drawing-trend") == 3
    lab.session.rollback()
    assert [len(strip.outside) for strip in lab.session.query(Check).order_by(Check.id)] == [2, 2, 0]


def test_silver_gravity_and_the_drop_stop_new_work_too(lab, technician, member, line):
    """Silver in a film fixer at 2 g/L: a US compliance guide for printers. The drop: from memory."""
    fixer = line[Place.FIXER]
    check = f"/baths/{fixer.id}/check?kind="
    for kind, good, bad, limit in (
        ("silver+strip", {"silver": "0.5"}, {"silver": "2"}, "Limit: silver in it. 2 of 2 g/L."),
        (
            "specific+gravity",
            {"gravity": "1.085", "celsius": "20"},
            {"gravity": "1.05", "celsius": "20"},
            "Limit: specific gravity. 1.050; it must lie between 1.080 and 1.090.",
        ),
        ("residual+silver", {"stain": "none"}, {"stain": "plain stain"}, "The drop left a plain stain."),
    ):
        if kind == "specific+gravity":
            limits = {"specific_gravity_low": "1.08", "specific_gravity_high": "1.09"}
            assert "Say where these limits are given" in text(state_rules(technician, fixer, **limits))
            assert state_rules(technician, fixer, **limits, specific_gravity_source="our own readings").location
        assert send(technician, check + kind, good).status_code == 303
        assert may_start(lab, member) == "may start"
        said = text(technician.get(send(technician, check + kind, bad).location))
        assert "Exhausted: do not use" in said
        assert limit in said
        assert "is exhausted" in may_start(lab, member)
        assert send(technician, check + kind, good).status_code == 303
    assert may_start(lab, member) == "may start"
    assert page_at(technician, f"/baths/{fixer.id}").count("drawing-trend") == 2


@pytest.mark.sqlite_only
def test_work_logged_between_a_test_and_its_writing_down_counts_after_it(lab, technician, line):
    """Calculated: 20 rolls of 50 went through after the test that showed 40 % gone, so 80 % are gone."""
    fixer = line[Place.FIXER]
    check = f"/baths/{fixer.id}/check?kind=clearing+time"
    send(technician, check, seconds="40", is_fresh="y")
    lab.log(5)
    tested = lab.tick(minutes=5)
    lab.tick(minutes=5)
    lab.log(20)
    send(technician, check, seconds="56", when=f"{tested:%Y-%m-%dT%H:%M}")
    assert "Near its end: about 10 rolls of 120" in text(technician.get(f"/baths/{fixer.id}"))


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("place", "kind", "fields", "message"),
    [
        (Place.FIXER, "clearing time", {"seconds": "1.5"}, "1.5 minutes would be 90 s"),
        (
            Place.FIXER,
            "clearing time",
            {"seconds": "2 min"},
            "“min” is another unit. Enter the clearing time in seconds",
        ),
        (Place.FIXER, "clearing time", {"seconds": "0:45"}, "“:45” is another unit"),
        (Place.FIXER, "pH", {"ph": "180 mV", "celsius": "20"}, "“mV” is another unit"),
        (Place.FIXER, "pH", {"ph": "4.6", "celsius": "68"}, "68 °F would be 20.0 °C"),
        (Place.FIXER, "pH", {"ph": "4.6"}, "Enter how warm the bath was"),
        (Place.FIXER, "specific gravity", {"gravity": "1085", "celsius": "20"}, "1085 g/L would be 1.085"),
        (Place.FIXER, "specific gravity", {"gravity": "0.2", "celsius": "20"}, "lies a little above 1"),
        (Place.FIXER, "silver strip", {"silver": "500"}, "500 mg/L would be 0.5 g/L"),
        (Place.FIXER, "silver strip", {"silver": "-1"}, "from 0 to 20"),
        (
            Place.DEVELOPER,
            "control strip",
            {"fog": "12", "speed": "0.23", "middle": "1.2"},
            "12 hundredths would be 0.12",
        ),
        (Place.DEVELOPER, "silver strip", {"silver": "1"}, "A developer is not tested by silver strip"),
        (Place.FIXER, "pH", {"ph": "4", "celsius": "20", "when": "2026-01-01T10:00"}, "was not mixed yet at that time"),
    ],
)
def test_a_figure_in_another_unit_or_that_cannot_be_is_asked_back(lab, technician, line, place, kind, fields, message):
    answer = send(technician, f"/baths/{line[place].id}/check?kind={kind.replace(' ', '+')}", **fields)
    assert answer.status_code == 422
    assert message in text(answer)
    assert lab.count(Check) == 0


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("densities", "message"),
    [
        ("", "Read off every step"),
        ("0.12 0.23", "at least three steps"),
        ("0.12 dark", "“dark” is no density"),
        ("1.20 0.60 0.12", "from clear to dark"),
        ("0.12 7.5 9", "No film is denser than 6"),
    ],
)
def test_a_reference_strip_that_cannot_be_is_asked_back(lab, technician, densities, message):
    answer = fill_in(technician, f"/baths/lines/{lab.film_line_id}/reference-strip", box="Box 1", densities=densities)
    assert answer.status_code == 422
    assert message in text(answer)
    assert lab.count(StripAim) == 0


@pytest.mark.sqlite_only
def test_paper_has_no_control_strip_and_its_fixer_a_limit_of_its_own(lab, technician):
    """0.5 g/L in a single bath: Archival Processing, a workshop hand-out."""
    paper = lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=1_000, paper=True)
    assert "At 0.5 g/L it is exhausted." in text(technician.get(f"/baths/{paper.id}/check"))
    answer = fill_in(technician, f"/baths/lines/{lab.paper_line_id}/reference-strip", box="1", densities=REFERENCE)
    assert "Control strips are of film" in text(answer)


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE checks SET stain = 'none'",
        "UPDATE checks SET value_milli = NULL",
        "UPDATE checks SET fog = 120",
        "UPDATE checks SET milli_c = 20000",
    ],
)
def test_the_database_keeps_one_result_a_test(lab, technician, line, change):
    send(technician, f"/baths/{line[Place.FIXER].id}/check?kind=clearing+time", seconds="40")
    with pytest.raises(DBAPIError):
        lab.session.execute(sql(change))
    lab.session.rollback()
