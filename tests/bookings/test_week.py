"""The week at a glance, the sentence that books, and what it says before anybody books."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from labsys.bookings import keeping_fair, service
from labsys.bookings.fair_use import Limits
from labsys.bookings.models import Booking, Hold
from labsys.bookings.rules import Plan
from labsys.bookings.week import in_words, week, week_of
from labsys.closing import service as closing
from labsys.drawing.scene import Role as Drawn
from labsys.mail.models import OutgoingMail
from labsys.people.models import Role
from labsys.places import queries as place_queries
from labsys.places import service as places
from labsys.timetable.opening import Hours
from tests.bookings.conftest import TOMORROW, at
from tests.support.pages import form_of, links, page_at, send, source, text, tree

DAY = "2026-03-03"
HTML = "{http://www.w3.org/1999/xhtml}"

pytestmark = pytest.mark.sqlite_only


def shares(*levels):
    return [(600 + 30 * number, level) for number, level in enumerate(levels)]


@pytest.mark.parametrize(
    ("levels", "words"),
    [
        ((), "closed"),
        ((0, 0, 0), "free"),
        ((0.1, 0.2, 0.1), "mostly free"),
        ((1, 1, 1), "full"),
        ((0.9, 0.5, 0.1, 0, 0), "free after 11:00"),
        ((0.1, 0.5, 0.5, 0.5, 0.1), "half taken"),
        ((0.8, 0.8, 0.9, 0.4, 0.9), "mostly taken"),
    ],
)
def test_how_much_of_a_day_is_free_is_said_in_words(levels, words):
    assert in_words(shares(*levels)) == words


def days_of(page):
    """Each day of the week strip: what it says, and where it leads."""
    strip = next(part for part in tree(page).iter(HTML + "ol") if part.get("class") == "week")
    return {link.get("href"): " ".join("".join(link.itertext()).split()) for link in strip.iter(HTML + "a")}


def test_the_week_shows_seven_days_from_monday_and_marks_the_one_shown(stopped_clock, member):
    stopped_clock.book("Film sink", at(10, 12))
    closing.close(stopped_clock.act("technician"), span=at(72, 96), reason="Painting")
    page = page_at(member, f"/bookings?day={DAY}")
    days = days_of(page)
    assert list(days) == [f"/bookings?day=2026-03-0{number}" for number in range(2, 9)]
    assert "today" in days["/bookings?day=2026-03-02"]
    assert "mostly free" in days["/bookings?day=2026-03-03"]
    assert days["/bookings?day=2026-03-06"].endswith("closed")
    assert 'aria-current="date"' in page
    assert "/bookings?day=2026-02-24" in links(page)


def test_the_drawing_has_one_scale_for_all_days_and_a_bar_where_a_class_begins(stopped_clock, member):
    lab = stopped_clock
    places.set_opening_hours(
        lab.act("technician"), hours=[Hours(1, 600, 1320), *(Hours(day, 720, 1080) for day in range(2, 7))]
    )
    service.book_class(
        lab.act("instructor"),
        person_id=lab.ids["instructor"],
        station_id=lab.ids["Enlarger"],
        span=at(18, 20),
        units=4,
        class_name="First prints",
        plan=Plan(),
    )
    day = TOMORROW.date()
    calendar = place_queries.calendar(lab.session, within=week_of(day, zone=ZoneInfo("Europe/London")))
    stations = place_queries.stations(lab.session)
    shown = week(lab.session, day=day, calendar=calendar, stations=stations, now=lab.now)
    assert len({seen.drawing.width for seen in shown}) == 1
    tuesday, wednesday = shown[1].drawing, shown[2].drawing
    assert [shape for shape in tuesday.shapes if shape.role is Drawn.LINE] == []
    assert len([shape for shape in wednesday.shapes if shape.role is Drawn.LINE]) == 2
    assert any(shape.role is Drawn.INK and shape.height == tuesday.height for shape in tuesday.shapes)
    assert shown[0].words == "closed"


def sentence(lab, **changes):
    typed = {"station": lab.ids["Enlarger"], "day": DAY, "starts": 600, "ends": 720, "process_id": 0, "count": 0}
    return {**typed, "size": "", "note": "", "number": 0, **changes}


def test_the_sentence_says_what_it_would_come_to_and_writes_nothing(stopped_clock, member):
    lab = stopped_clock
    keeping_fair.set_limits(lab.act("technician"), role=Role.MEMBER, limits=Limits(most_open=4, week_minutes=480))
    lab.book("Film sink", at(14, 15))
    page = page_at(member, f"/bookings?day={DAY}")
    said = text(send(member, "/bookings/book", sentence(lab), opened=page, check="1"))
    assert "Enlarger 1 and Wet side 1, until 12:00; clearing up until 12:30." in said
    assert "You are cleared for this." in said
    assert "With this one 2 of 4 open, and 3 h of 8 h in that week." in said
    assert (
        "Who else is in Nobody is booked or on duty then. Nobody else is booked or on duty from 10:00 to 12:00." in said
    )
    assert "Baths, as they are now" not in said  # nobody has said what is brought
    assert (lab.count(Booking), lab.count(Hold)) == (1, 1)
    assert lab.count(OutgoingMail) == 0
    lab.mix_film_line()
    lab.book("Wet side", at(10, 11), role="technician")
    brought = sentence(lab, process_id=lab.add_process().id, size="120", count=2)
    said = text(send(member, "/bookings/book", brought, opened=page, check="1"))
    assert "Who else is in 0 to 1 others are booked or on duty." in said
    assert "Baths, as they are now Fix: Film fixer." in said
    booked = send(member, "/bookings/book", sentence(lab), opened=page)
    assert booked.status_code == 303
    assert lab.count(Booking) == 3


def test_what_is_refused_is_refused_by_the_check_too_with_what_is_free(stopped_clock, member):
    lab = stopped_clock
    lab.book("Film sink", at(10, 12), role="technician")
    answer = send(member, "/bookings/book", sentence(lab, station=lab.ids["Film sink"]), check="1")
    assert answer.status_code == 422
    assert "Film sink is taken then" in text(answer)
    assert any("/bookings/book?" in link and "from=12" in link for link in links(source(answer)))


def offered_times(page, name):
    select = next(part for part in form_of(page).iter(HTML + "select") if part.get("name") == name)
    return ["".join(option.itertext()) for option in select.iter(HTML + "option")]


def test_hours_are_offered_only_while_the_place_is_open(stopped_clock, member):
    lab = stopped_clock
    places.set_special_hours(lab.act("technician"), day=TOMORROW.date(), hours=[Hours(1, 780, 900)])
    page = page_at(member, f"/bookings/book?day={DAY}&station={lab.ids['Film sink']}")
    assert offered_times(page, "starts") == ["13:00", "13:15", "13:30", "13:45", "14:00", "14:15", "14:30", "14:45"]
    assert offered_times(page, "ends")[-1] == "15:00"
    other = TOMORROW.date() + timedelta(days=1)
    assert offered_times(page_at(member, f"/bookings/book?day={other}"), "starts")[0] == "10:00"


def test_a_free_stretch_fills_in_its_start_and_its_end(stopped_clock, member):
    lab = stopped_clock
    lab.book("Film sink", at(11.5, 14))
    page = page_at(member, f"/bookings?day={DAY}")
    sink = lab.ids["Film sink"]
    assert f"/bookings/book?station={sink}&day={DAY}&from=10:00&to=11:30" in links(page)
    assert f"/bookings/book?station={sink}&day={DAY}&from=15:00&to=17:00" in links(page)
