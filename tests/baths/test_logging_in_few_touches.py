"""Logging in few touches: what was booked, what somebody did before, a class as one tally, and undoing."""

import re
from datetime import timedelta

import pytest
from sqlalchemy import select

from labsys.baths.models import Place
from labsys.bookings import service as bookings
from labsys.bookings.rules import Plan
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.records import queries as records
from labsys.records.models import RecordHead
from tests.baths.counting import filled_in, film, uses
from tests.desk.the_day import at
from tests.support.lab import SmallLab
from tests.support.pages import HTML, links, send, source, text, tree


@pytest.fixture
def film_log(lab: SmallLab) -> str:
    lab.add_places()
    return f"/baths/lines/{lab.film_line_id}/log"


def test_what_was_booked_is_saved_from_a_scan_in_two_touches(lab, member, film_log):
    """Log a use, Save: the count is the booked one. What was logged is not asked again."""
    fixer = lab.mix_film_line()[Place.FIXER]
    lab.book("Film sink", at(12, 14), plan=Plan(size="120", count=3))
    lab.now = at(13, 14).start
    scanned = member.get(f"/baths/{fixer.id}").get_data(as_text=True)
    assert f'class="button primary" href="{film_log}"' in scanned
    page = source(member.get(film_log))
    assert "3 of 120: done?" in text(member.get(film_log))
    assert filled_in(page) == {"went-film-120": "3"}
    answer = send(member, film_log, opened=page, **filled_in(page))
    assert answer.status_code == 303
    (use,) = uses(lab)
    assert (use.size, use.count, use.person_id) == ("120", 3, lab.ids["member"])
    assert "Saved: 3 of 120" in text(member.get(answer.location))
    assert "about 47 rolls of 120" in text(member.get(answer.location))
    assert filled_in(source(member.get(film_log))) == {}


@pytest.mark.sqlite_only
def test_a_booking_for_paper_for_yesterday_or_of_somebody_else_fills_in_nothing(lab, member, film_log):
    lab.mix_film_line()
    lab.book("Film sink", at(12, 14), plan=Plan(size="120", count=3), role="technician")
    lab.now = at(13, 14).start
    assert filled_in(source(member.get(film_log))) == {}
    paper = f"/baths/lines/{lab.paper_line_id}/log"
    lab.book("Film sink", at(17, 19), plan=Plan(size="120", count=3))
    lab.now = at(17, 19).start
    assert filled_in(source(member.get(paper))) == {}
    assert filled_in(source(member.get(film_log))) == {"went-film-120": "3"}
    lab.now = at(17, 19).end + timedelta(hours=13)
    assert filled_in(source(member.get(film_log))) == {}


@pytest.mark.sqlite_only
def test_what_somebody_did_last_is_offered_again(lab, member, film_log):
    lab.mix_film_line()
    lab.log(1, size="4x5 in")
    lab.log(2, size="220")
    lab.log(9, role="technician")
    page = source(member.get(film_log))
    again = [filled_in(source(member.get(link))) for link in links(page) if "again=" in link]
    assert again == [{"went-film-220": "2"}, {"went-film-4x5 in": "1"}]
    assert filled_in(source(member.get(f"{film_log}?again=99"))) == {}


@pytest.mark.sqlite_only
def test_paper_is_counted_by_size_and_kind_in_one_form(lab, member, film_log):
    lab.mix_film_line()
    lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=1_000, paper=True)
    assert "went-rc" not in source(member.get(film_log))
    paper_log = f"/baths/lines/{lab.paper_line_id}/log"
    assert "went-film" not in source(member.get(paper_log))
    answer = send(member, paper_log, **{"went-fibre-8x10 in": 3, "went-rc-13x18 cm": 6, "went-rc-A4": ""})
    assert answer.status_code == 303
    logged = [(use.size, use.material, use.count) for use in uses(lab)]
    assert logged == [("13x18 cm", Material.RC, 6), ("8x10 in", Material.FIBRE, 3)]
    assert "Saved: 6 of 13x18 cm on RC paper, 3 of 8x10 in on fibre paper" in text(member.get(answer.location))


@pytest.mark.sqlite_only
def test_ten_kinds_of_a_class_are_one_entry_on_the_record(lab, client_as):
    lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=5_000, paper=True)
    instructor, log = client_as("instructor"), f"/baths/lines/{lab.paper_line_id}/log"
    cells = [field.get("name", "") for field in tree(source(instructor.get(log))).iter(HTML + "input")]
    ten = [name for name in cells if name.startswith("went-")][:10]
    before = lab.session.execute(select(RecordHead.number)).scalar_one()
    assert send(instructor, log, **dict.fromkeys(ten, 1), class_name="First prints").status_code == 303
    assert [use.class_name for use in uses(lab)] == ["First prints"] * 10
    assert lab.session.execute(select(RecordHead.number)).scalar_one() == before + 1


@pytest.mark.sqlite_only
def test_what_a_class_has_booked_is_asked_of_its_instructor_in_its_name(lab, client_as, film_log):
    lab.mix_film_line()
    span, plan = at(12, 14), Plan(size="120", count=11)
    bookings.book_class(
        lab.act("instructor"),
        person_id=lab.ids["instructor"],
        station_id=lab.ids["Film sink"],
        span=span,
        units=1,
        class_name="First films",
        plan=plan,
    )
    lab.now = at(13, 14).start
    page = source(client_as("instructor").get(film_log))
    assert filled_in(page) == {"went-film-120": "11"}
    assert re.search(r'name="class_name"[^>]*value="First films"|value="First films"[^>]*name="class_name"', page)


def test_a_class_logs_sixty_prints_in_one_entry_and_twenty_are_left(lab, client_as):
    """2 L of fixer that takes 40 sheets a litre: 80, less 60."""
    fixer = lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=2_000, paper=True)
    log = f"/baths/lines/{lab.paper_line_id}/log"
    answer = send(client_as("instructor"), log, **{"went-rc-8x10 in": 60}, class_name="Twelve beginners")
    assert "about 20 on RC" in text(client_as("instructor").get(answer.location))
    assert "about 20 on RC" in text(client_as("member").get(f"/baths/{fixer.id}"))


def test_three_more_than_a_fixer_takes_are_saved_and_new_work_is_sent_to_the_spare(lab, member, film_log):
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    lab.log(49)
    spare = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, in_service=False)
    answer = send(member, film_log, **film(3))
    assert answer.status_code == 303
    assert sum(use.count for use in uses(lab)) == 52
    refused = send(member, film_log, **film(1), started="before")
    assert refused.status_code == 422
    assert f"Use the spare {spare.code}" in text(refused)


def test_what_was_just_saved_is_undone_as_a_whole_by_rows_of_nothing(lab, member, film_log):
    fixer = lab.mix_film_line()[Place.FIXER]
    saved = send(member, film_log, **film(3), **film(2, "135-36")).location
    assert "about 45 rolls of 120" in text(member.get(saved))
    assert send(member, saved.replace("/saved", "/undo")).location == film_log
    assert [(use.count, use.corrects_id is None) for use in uses(lab)] == [(2, True), (3, True), (0, False), (0, False)]
    assert "about 50 rolls of 120" in text(member.get(f"/baths/{fixer.id}"))
    assert "nothing of it counts" in text(member.get(saved))
    assert records.find_fault(lab.session) is None
    send(member, saved.replace("/saved", "/undo"))
    assert "This was taken back already" in text(member.get(saved))
    assert len(uses(lab)) == 4


@pytest.mark.sqlite_only
def test_after_two_minutes_or_by_somebody_else_nothing_is_undone(lab, member, client_as, film_log):
    lab.mix_film_line()
    saved = send(member, film_log, **film(3)).location
    undo = saved.replace("/saved", "/undo")
    assert client_as("technician").get(saved).status_code == 403
    assert send(client_as("technician"), undo).status_code == 403
    lab.tick(seconds=121)
    assert "Undo until" not in text(member.get(saved))
    assert "Put it right" in text(member.get(saved))
    send(member, undo)
    assert "The time to undo is over" in text(member.get(saved))
    assert [use.count for use in uses(lab)] == [3]
