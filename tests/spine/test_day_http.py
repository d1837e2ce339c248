"""The main job with people and time in it, step by step through HTTP, on both databases; the papers are read back."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from flask import Flask

from labsys.baths.models import Place
from labsys.chemistry.care import SolutionKind
from labsys.inductions.models import Hazard
from labsys.processes import service as processes
from labsys.processes.models import Process
from labsys.records import queries as records
from tests.support.lab import SmallLab
from tests.support.visitor import Visitor


@pytest.fixture
def clock_of_the_lab(lab: SmallLab, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("labsys.clock.now", lambda: lab.tick(seconds=1))


@pytest.fixture
def visit(app: Flask, lab: SmallLab, clock_of_the_lab: None) -> Callable[[str], Visitor]:
    """Give the browser of the person of a role."""

    def as_role(role: str) -> Visitor:
        visitor = Visitor(app)
        with visitor.client.session_transaction() as cookies:
            cookies["_user_id"] = lab.person(role).get_id()
        return visitor

    return as_role


def film_process(lab: SmallLab) -> Process:
    steps = [
        processes.StepEntry(
            name="Develop", product_id=lab.ids["product developer"], water_parts_milli=6_000, seconds=480
        ),
        processes.StepEntry(name="Stop", product_id=lab.ids["product stop"], water_parts_milli=19_000, seconds=60),
        processes.StepEntry(name="Fix", product_id=lab.ids["product fixer"], water_parts_milli=4_000, seconds=300),
        processes.StepEntry(name="Wash", seconds=480, changes=8),  # common practice, no source: a change each minute
    ]
    return processes.add_process(lab.act("technician"), name="Film in the sink", material="film", note="", steps=steps)


def book_the_film_sink(member: Visitor, at: datetime, *, expect: int) -> None:
    member.open(f"/bookings/book?day={at:%Y-%m-%d}")
    member.send(
        station=member.option("station", "Film sink"),
        starts=member.option("starts", f"{at:%H:%M}"),
        ends=member.option("ends", f"{at + timedelta(hours=2):%H:%M}"),
        process_id=member.option("process_id", "Film in the sink"),
        size="120",
        count="2",
        expect=expect,
    )


def test_the_seven_steps_of_the_main_job(lab: SmallLab, visit: Callable[[str], Visitor]):
    # 1. The technician's baths are mixed and in service.
    line = lab.mix_film_line()
    lab.add_places()
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, in_service=False)
    film_process(lab)
    member, instructor, technician = visit("member"), visit("instructor"), visit("technician")

    # 2. A booking without the induction is refused and says how to get it; with it, the place is theirs.
    skin_care = lab.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER}))
    lab.appoint(skin_care)
    start = lab.now.replace(hour=14, minute=0, second=0, microsecond=0)
    book_the_film_sink(member, start, expect=422)
    assert "Skin care" in member.page
    assert "Come to the induction on Mondays at six." in member.page
    instructor.open("/inductions/sign-off")
    instructor.send(
        inductions=[instructor.option("inductions", "Skin care")], people=[instructor.option("people", "Łukasz Żak")]
    )
    member.open("/inductions")
    member.press("Yes, I was taught this")
    book_the_film_sink(member, start, expect=200)
    booking = member.path

    # 3. The session sheet: one page, the steps in working order, which bath with its state, what to wear.
    member.follow("Session plan")
    member.press("Issue the session sheet as PDF")
    sheet = member.pdf()
    places = [sheet.index(step) for step in ("1. Develop", "2. Stop", "3. Fix", "4. Wash")]
    assert places == sorted(places)
    for words in (line[Place.FIXER].code, "8 changes", "loves", "Łukasz Żak", "Skin care: held"):
        assert words in sheet, words

        # 4. Arrive, scan, log with clean hands; the bath's life moves.
    lab.now = start
    member.open(booking)
    member.press("Arrive")
    member.open(f"/c/{line[Place.FIXER].code}")
    member.follow("Log a use")
    member.send(**{"went-film-120": "2"})
    member.open(f"/c/{line[Place.FIXER].code}")
    assert "about 48 rolls" in member.page
    member.open(booking)
    member.press("Leave")

    # 5. The fixer test fails; new work is refused and the spare named; the bath is dumped into its container.
    container = lab.open_container()
    fixer = f"/baths/{line[Place.FIXER].id}"
    for seconds, fresh in (("40", {"is_fresh": "y"}), ("82", {})):
        technician.open(f"{fixer}/check")
        technician.send(seconds=seconds, **fresh)
    member.open(f"/baths/lines/{lab.film_line_id}/log")
    member.send(**{"went-film-120": "1"}, started="before", expect=422)
    assert "Use the spare AS-T" in member.page
    technician.open(f"{fixer}/dump")
    technician.send(container_id=str(container.id), volume="2.48 L")

    # 6. Its hazardous properties are stated, it is collected under a note code; the waste log shows it.
    technician.open("/waste/collect")
    assert "State its hazardous properties first" in technician.page
    technician.open(f"/waste/containers/{container.id}/properties")
    technician.send(properties="HP 14", reason="Assessed by the consignee, 2 March 2026")
    technician.open("/waste/collect")
    technician.send(containers=[str(container.id)], note_code="ALDERS/00001", carrier="Invented Carriers")
    technician.open(f"/documents/waste-log?from={lab.now:%Y-%m-%d}&to={lab.now:%Y-%m-%d}")
    technician.press("Issue the waste log as PDF")
    log = technician.pdf()
    for words in (line[Place.FIXER].code, "2,480", "ALDERS/00001"):
        assert words in log, words

        # 7. The proof that no record was altered.
    assert records.find_fault(lab.session) is None
