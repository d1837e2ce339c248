"""The board as plain data. Clock changes of Europe/London in 2026: 29 March and 25 October, 01:00 UTC (IANA)."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from labsys.bookings import service
from labsys.bookings.board import board
from labsys.bookings.cells import CellKind
from labsys.bookings.rules import Plan
from labsys.closing import service as closing
from labsys.people.acts import Act
from labsys.places import service as places
from labsys.timetable.opening import Hours
from tests.bookings.conftest import TOMORROW, at
from tests.support.pages import queries_for

pytestmark = pytest.mark.sqlite_only

LONDON = ZoneInfo("Europe/London")


def see(lab, day=date(2026, 3, 3), *, role="member", now=None):
    return board(lab.session, day=day, zone=LONDON, viewer=lab.person(role), now=now or lab.now)


def row_of(shown, name, number=1):
    station = next(one for one in shown.stations if one.name == name)
    return station.rows[number - 1].cells


def kinds(cells):
    return [(cell.kind.value, cell.colspan) for cell in cells if cell.kind is not CellKind.FREE]


def plan_class(lab, *, units=3):
    return service.book_class(
        lab.act("instructor"),
        person_id=lab.ids["instructor"],
        station_id=lab.ids["Enlarger"],
        span=at(18, 21),
        units=units,
        class_name="First prints",
        plan=Plan(),
    )


def open_all_week(lab, *hours):
    places.set_opening_hours(lab.act("technician"), hours=[Hours(day, *span) for day in range(7) for span in hours])


@pytest.mark.parametrize(
    ("day", "quarters"), [(date(2026, 3, 29), 92), (date(2026, 3, 28), 96), (date(2026, 10, 25), 100)]
)
def test_a_day_open_all_day_has_92_96_or_100_quarter_hours(furnished, day, quarters):
    open_all_week(furnished, (0, 1440))
    shown = see(furnished, day)
    assert shown.quarters == quarters
    for station in shown.stations:
        for row in station.rows:
            assert sum(cell.colspan for cell in row.cells) == quarters


def test_the_hour_that_occurs_twice_is_shown_twice_and_the_lost_one_not_at_all(furnished):
    open_all_week(furnished, (0, 1440))
    assert [hour.label for hour in see(furnished, date(2026, 10, 25)).hours][:4] == ["00", "01", "01 again", "02"]
    assert [hour.label for hour in see(furnished, date(2026, 3, 29)).hours][:3] == ["00", "02", "03"]


def test_the_second_of_two_equal_hours_is_not_offered_as_a_start(furnished):
    """A form cannot name it: a time that occurs twice means the first."""
    open_all_week(furnished, (0, 1440))
    cells = row_of(see(furnished, date(2026, 10, 25)), "Film sink")
    assert [cell.book_at for cell in cells][:4] == ["00:00", "01:00", "", "02:00"]


def test_the_board_shows_the_open_part_of_the_day_and_the_break_in_it_closed(furnished):
    open_all_week(furnished, (600, 780), (840, 1320))
    shown = see(furnished)
    assert (shown.hours[0].label, shown.hours[-1].label, shown.quarters) == ("10", "21", 48)
    assert kinds(row_of(shown, "Film sink")) == [("closed", 4)]


def test_a_booking_is_a_frame_and_its_margin_stands_behind_it(furnished):
    furnished.book("Film sink", at(10.5, 12), plan=Plan(size="120", count=2))
    cells = row_of(see(furnished), "Film sink")
    assert kinds(cells) == [("booked", 6), ("margin", 1)]
    booked = next(cell for cell in cells if cell.kind is CellKind.BOOKED)
    assert (booked.booking.name, booked.booking.plan, booked.booking.is_mine) == ("Łukasz Żak", "2 of 120", True)
    assert booked.times == "10:30 to 12:00"


def test_others_see_who_and_when_but_not_the_plan(furnished):
    furnished.book("Film sink", at(10.5, 12), plan=Plan(size="120", count=2), role="technician")
    (seen,) = see(furnished).bookings
    assert (seen.name, seen.times, seen.plan, seen.is_mine) == ("Sol Haddad", "10:30 to 12:00", "", False)
    assert see(furnished, role="instructor").bookings[0].plan == "2 of 120"


def test_a_companion_says_what_it_is_held_for(furnished):
    furnished.book("Enlarger", at(10, 12))
    shown = see(furnished)
    wet = row_of(shown, "Wet side")[0]
    assert wet.booking.with_station == "Enlarger"
    assert row_of(shown, "Enlarger")[0].booking.with_station == ""
    assert len(shown.bookings) == 1


def test_the_units_of_a_class_are_one_cell_of_several_rows(furnished):
    plan_class(furnished)
    shown = see(furnished)
    classes = [cell for row in shown.stations[1].rows for cell in row.cells if cell.kind is CellKind.BOOKED]
    assert [(cell.rowspan, cell.colspan, cell.booking.is_class) for cell in classes] == [(3, 12, True)]
    for station in shown.stations:
        covered = sum(cell.colspan * cell.rowspan for row in station.rows for cell in row.cells)
        assert covered == shown.quarters * len(station.rows)


def test_here_now_left_and_past_are_told_apart(furnished):
    booking = furnished.book("Film sink", at(10, 14))
    member = furnished.person("member")
    service.arrive(Act(furnished.session, by=member, now=at(10, 11).start), booking_id=booking.id)
    now = at(11, 12).start
    shown = see(furnished, now=now)
    assert (shown.here, shown.bookings[0].state, shown.bookings[0].is_past) == (1, "here now", False)
    service.leave(Act(furnished.session, by=member, now=now), booking_id=booking.id)
    shown = see(furnished, now=now)
    assert (shown.here, shown.bookings[0].state, shown.bookings[0].times) == (0, "left", "10:00 to 11:00")
    assert kinds(row_of(shown, "Film sink")) == [("booked", 4), ("margin", 1)]
    assert shown.bookings[0].is_past


def test_free_time_is_offered_from_now_on_and_only_where_half_an_hour_fits(furnished):
    furnished.book("Film sink", at(12.25, 14))
    shown = see(furnished, now=at(11.1, 12).start)
    offers = [(cell.times, cell.book_at) for cell in row_of(shown, "Film sink") if cell.kind is CellKind.FREE]
    assert offers[:4] == [
        ("10:00 to 11:00", ""),
        ("11:00 to 12:00", "11:00"),
        ("12:00 to 12:15", ""),
        ("14:15 to 15:00", "14:15"),
    ]
    film_sink = shown.stations[0]
    assert [time.times for time in film_sink.free] == ["11:00 to 12:15", "14:15 to 22:00"]


def test_a_booking_outside_the_hours_as_they_are_now_is_still_shown(furnished):
    furnished.book("Film sink", at(19, 21))
    open_all_week(furnished, (600, 1080))
    shown = see(furnished)
    assert kinds(row_of(shown, "Film sink")) == [("closed", 4), ("booked", 8), ("margin", 1)]


def test_a_closed_day_says_why_and_draws_nothing(furnished):
    technician = furnished.person("technician")
    closing.close(Act(furnished.session, by=technician, now=furnished.tick()), span=at(0, 24), reason="Floor painted.")
    shown = see(furnished)
    assert shown.stations == ()
    assert shown.closed == ("The lab is closed Tue 3 Mar 2026, 00:00 to 24:00: Floor painted.",)


def test_a_place_out_of_use_leaves_the_board_once_nothing_is_booked_there(furnished):
    furnished.book("Film sink", at(10, 12))
    closing.take_out_of_use(
        furnished.act("technician"), station_id=furnished.ids["Film sink"], answers=furnished.leaving_all()
    )
    assert [station.name for station in see(furnished).stations] == ["Film sink", "Enlarger", "Wet side"]
    assert all(cell.kind is not CellKind.FREE for cell in row_of(see(furnished), "Film sink"))
    assert [station.name for station in see(furnished, date(2026, 3, 4)).stations] == ["Enlarger", "Wet side"]


def test_a_cancelled_booking_is_not_on_the_board(furnished):
    booking = furnished.book("Film sink", at(10, 12))
    service.cancel(furnished.act("member"), booking_id=booking.id)
    assert see(furnished).bookings == ()


def test_a_zone_of_half_hours_keeps_its_own_clock(furnished):
    """Kathmandu is 5 h 45 min ahead of UTC (IANA): hours of its clock begin at a quarter past in UTC."""
    furnished.book("Film sink", at(12, 14))
    shown = board(
        furnished.session,
        day=date(2026, 3, 3),
        zone=ZoneInfo("Asia/Kathmandu"),
        viewer=furnished.person("member"),
        now=datetime(2026, 3, 3, tzinfo=UTC),
    )
    assert shown.bookings[0].times == "17:45 to 19:45"


def test_the_board_costs_the_same_number_of_queries_as_bookings_double(furnished):
    for hour in (10, 11, 12):
        furnished.book("Enlarger", at(hour, hour + 1))
    before = queries_for(lambda: see(furnished))
    for hour in (13, 14, 15):
        furnished.book("Enlarger", at(hour, hour + 1), role="technician")
        furnished.book("Film sink", at(hour, hour + 0.5), role="instructor")
    plan_class(furnished)
    assert queries_for(lambda: see(furnished)) == before
    assert before <= 12


def test_a_booking_over_midnight_is_on_both_days(furnished):
    open_all_week(furnished, (0, 1440))
    furnished.book("Film sink", at(23, 25))
    assert kinds(row_of(see(furnished), "Film sink")) == [("booked", 4)]
    next_day = see(furnished, (TOMORROW + timedelta(days=1)).date())
    assert kinds(row_of(next_day, "Film sink")) == [("booked", 4), ("margin", 1)]


def test_units_that_nobody_uses_stand_in_one_row_at_the_end(furnished):
    furnished.book("Enlarger", at(10, 12))
    rows = see(furnished).stations[1].rows
    assert [row.label for row in rows] == ["1", "2–4"]
