"""Logging a use on the pages: three touches, exhausted baths, corrections, and bad input."""

import re

import pytest
from sqlalchemy import func, select

from labsys.baths import queries
from labsys.baths.models import Place, Use
from labsys.chemistry.care import SolutionKind
from tests.baths.counting import filled_in, film, uses
from tests.support.lab import SmallLab
from tests.support.pages import send, source, text


@pytest.fixture
def film_log(lab: SmallLab) -> str:
    return f"/baths/lines/{lab.film_line_id}/log"


@pytest.mark.sqlite_only
def test_the_baths_a_use_counts_in_stand_in_working_order_whenever_they_were_mixed(lab, member, film_log):
    for kind, parts in ((SolutionKind.FIXER, 4), (SolutionKind.STOP, 19), (SolutionKind.DEVELOPER, 6)):
        lab.mix(kind, water_parts=parts, working_ml=2_500)
    use = lab.log(1)
    for path in (film_log, f"/uses/{use.id}"):
        _, _, listed = text(member.get(path)).partition("Counts in")
        places = [listed.index(f"Film {kind}") for kind in ("developer", "stop", "fixer")]
        assert places == sorted(places)


@pytest.mark.sqlite_only
def test_the_page_says_to_take_gloves_off(lab, member, film_log):
    lab.mix_film_line()
    assert "Take your gloves off: clean, dry hands." in text(member.get(film_log))


def test_a_double_tap_logs_one_use(lab, member, film_log):
    lab.mix_film_line()
    opened = member.get(film_log).get_data(as_text=True)
    first, second = (send(member, film_log, opened=opened, **film(2)) for _ in range(2))
    assert (first.location, second.location) == ("/uses/1/saved", "/uses/1")
    assert "Saved already" in text(member.get(second.location))
    assert [one.count for one in uses(lab)] == [2]


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("fields", "message"),
    [
        (film(3, "A4"), "“film-A4” does not go through this line"),
        ({"went-rc-A4": "3"}, "“rc-A4” does not go through this line"),
        ({}, "Say how many went through"),
        (film(0), "Say how many went through"),
        (film(-1), "120: Enter a number from 1 to 2000"),
        (film(90_000), "120: Enter a number from 1 to 2000"),
        (film("two"), "120: Write a whole number"),
        (film("9" * 5_000), "120: Write a whole number"),
        ({**film(3), "used_at": "2026-03-29T01:30"}, "did not exist: the clocks went forward"),
        ({**film(3), "used_at": "2031-03-29T12:30"}, "That is in the future"),
        ({**film(3), "used_at": "yesterday"}, "Write the date and time as on the clock"),
        ({**film(3), "used_at": "2026-01-05T12:00"}, "No bath of Film line was in service at that time"),
    ],
)
def test_a_use_that_cannot_be_is_refused_and_keeps_what_was_typed(lab, member, film_log, fields, message):
    """The clock change: 29 March 2026 in Europe/London, by the IANA time zone database."""
    lab.mix_film_line()
    lab.now = lab.now.replace(month=6)
    answer = send(member, film_log, **fields)
    assert answer.status_code == 422
    assert message in text(answer)
    typed = {name: str(value) for name, value in fields.items() if name.startswith("went-film") and "A4" not in name}
    assert filled_in(source(answer)) == typed
    assert uses(lab) == []


def test_an_exhausted_bath_refuses_new_work_naming_the_spare_and_records_what_is_done(lab, member, film_log):
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    lab.log(50)
    spare = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, in_service=False)
    before = member.get(film_log)
    assert "is exhausted: start no new work in it" in text(before)
    assert spare.code in text(before)
    refused = send(member, film_log, **film(2), started="before")
    assert refused.status_code == 422
    words = text(refused)
    assert "Film fixer" in words
    assert f"Use the spare {spare.code}" in words
    assert "Is the work done already?" in words
    assert len(uses(lab)) == 1
    page = refused.get_data(as_text=True)
    button = re.search(r'<input[^>]*name="record_done"[^>]*>', page)[0]
    assert 'type="submit"' in button
    done = send(member, film_log, opened=page, **film(2), started="before", record_done="yes")
    assert done.status_code == 303
    assert "Done in a bath past its capacity or age: Film fixer" in text(member.get(done.location))
    assert [one.count for one in uses(lab)] == [50, 2]


@pytest.mark.sqlite_only
def test_work_about_to_start_is_logged_where_the_baths_can_take_it(lab, member, film_log):
    lab.mix_film_line()
    assert send(member, film_log, **film(2), started="before").status_code == 303
    assert [one.flag for one in uses(lab)] == [""]


@pytest.mark.sqlite_only
def test_a_line_without_baths_says_so_and_logs_nothing(lab, member, film_log):
    assert "No bath of this line is in service now" in text(member.get(film_log))
    answer = send(member, film_log, **film(2))
    assert answer.status_code == 422
    assert uses(lab) == []


def test_a_use_in_a_bath_that_was_dumped_is_refused(lab, member, film_log):
    """The page was open while the only bath of the line was dumped."""
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    opened = member.get(film_log).get_data(as_text=True)
    lab.dump(fixer, lab.open_container(), volume_ml=2_500)
    answer = send(member, film_log, opened=opened, **film(1))
    assert answer.status_code == 422
    assert "No bath of Film line was in service at that time" in text(answer)
    assert uses(lab) == []


@pytest.mark.sqlite_only
def test_a_class_is_logged_by_those_who_may_and_no_one_else(lab, member, client_as, film_log):
    lab.mix_film_line()
    instructor = client_as("instructor")
    assert 'name="class_name"' in instructor.get(film_log).get_data(as_text=True)
    assert 'name="class_name"' not in member.get(film_log).get_data(as_text=True)
    send(instructor, film_log, **film(12), class_name="Τάξη Β")
    send(member, film_log, **film(1), class_name="Mine")
    assert [one.class_name for one in uses(lab)] == ["Τάξη Β", ""]


def test_ones_own_use_is_put_right_once_and_the_bath_follows(lab, member):
    fixer = lab.mix_film_line()[Place.FIXER]
    wrong = lab.log(20)
    path = f"/uses/{wrong.id}/correct"
    opened = member.get(path).get_data(as_text=True)
    answer = send(member, path, opened=opened, size="120", count=2)
    assert answer.status_code == 303
    assert "Put right: 2 of 120." in text(member.get(answer.location))
    assert "about 48 rolls of 120" in text(member.get(f"/baths/{fixer.id}"))
    assert "This entry was corrected" in text(member.get(f"/uses/{wrong.id}"))
    again = send(member, path, size="120", count=3)
    assert again.status_code == 422
    assert "was corrected already" in text(again)
    assert [one.count for one in uses(lab)] == [20, 2]


@pytest.mark.sqlite_only
def test_a_use_is_taken_back_by_a_count_of_none(lab, member):
    lab.mix_film_line()
    wrong = lab.log(3)
    answer = send(member, f"/uses/{wrong.id}/correct", size="120", count=0)
    assert "taken back" in text(member.get(answer.location))


@pytest.mark.sqlite_only
def test_someone_elses_use_is_put_right_by_the_technician_only(lab, member, technician, client_as):
    lab.mix_film_line()
    theirs = lab.log(3, role="instructor")
    assert member.get(f"/uses/{theirs.id}/correct").status_code == 403
    assert "Put it right" not in text(member.get(f"/uses/{theirs.id}"))
    assert "Ines Carrow" not in text(member.get(f"/uses/{theirs.id}"))
    assert send(technician, f"/uses/{theirs.id}/correct", size="120", count=1).status_code == 303
    assert client_as("safety adviser").get(f"/uses/{theirs.id}/correct").status_code == 403


@pytest.mark.sqlite_only
def test_my_uses_come_in_pages_by_key_and_are_mine(lab, member):
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    lab.log(77, role="instructor")
    for number in range(1, 28):
        lab.log(number)
    page = member.get("/uses").get_data(as_text=True)
    assert "27 of 120" in page
    assert "2 of 120" not in re.findall(r">(\d+ of 120)<", page)
    assert "77 of 120" not in page
    (earlier,) = re.findall(r'rel="prev" href="([^"]+)"', page)
    last = re.findall(r">(\d+ of 120)<", member.get(earlier).get_data(as_text=True))
    assert last == ["2 of 120", "1 of 120"]


@pytest.mark.sqlite_only
def test_somebody_who_logged_nothing_is_told_how_to_begin(member):
    assert "Nothing logged yet" in text(member.get("/uses"))


@pytest.mark.sqlite_only
def test_there_is_no_such_use_line_or_bath(member):
    for path in ("/uses/404", "/baths/404", "/baths/lines/404", "/baths/lines/404/log"):
        assert member.get(path).status_code == 404


def test_a_use_counts_in_every_bath_in_service(lab, member, film_log):
    line = lab.mix_film_line()
    send(member, film_log, **film(4, "135-36"))
    lab.session.expire_all()
    pieces = [queries.bath_or_raise(lab.session, bath.id).pieces for bath in line.values()]
    assert pieces == [4, 4, 4]
    assert lab.session.execute(select(func.count()).select_from(Use)).scalar_one() == 1
