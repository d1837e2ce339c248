"""Rules of bookings on plain values. All expected times are definitions or calculated by hand from them."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from labsys.bookings import rules
from labsys.bookings.free import Demand, UnitsWanted, choose_units, nearest_free
from labsys.bookings.rules import BookingRefused, Plan
from labsys.chemistry.sizes import Material
from labsys.places.calendar import Closed, Opening
from labsys.timetable.opening import Hours
from labsys.timetable.spans import Span

LONDON = ZoneInfo("Europe/London")
NOW = datetime(2026, 3, 2, 9, 7, tzinfo=UTC)  # a Monday
TUESDAY = datetime(2026, 3, 3, tzinfo=UTC)
PAINTED = Closed(Span(TUESDAY + timedelta(hours=14), TUESDAY + timedelta(hours=16)), "the floor is painted")


def opening(*, closures=(), hours=None):
    week = [Hours(day, 600, 1320) for day in range(6)] if hours is None else hours  # Sunday closed
    return Opening(tuple(week), tuple(closures), LONDON)


def at(start, end, *, day=TUESDAY):
    return Span(day + timedelta(hours=start), day + timedelta(hours=end))


@pytest.mark.parametrize(
    ("span", "words", "field"),
    [
        pytest.param(at(10.1, 12), "quarter-hour", "starts", id="off the grid"),
        pytest.param(at(10, 12.1), "quarter-hour", "starts", id="end off the grid"),
        pytest.param(at(8, 10, day=TUESDAY - timedelta(days=1)), "That is past", "starts", id="past"),
        pytest.param(at(10, 10.25), "half an hour", "ends", id="too short"),
        pytest.param(at(10, 34.25), "24 hours at most", "ends", id="too long"),
        pytest.param(at(9, 11), "open 10:00-22:00 on Tuesday 3 March", "starts", id="before opening"),
        pytest.param(at(21, 22.5), "open 10:00-22:00 on Tuesday 3 March", "starts", id="across closing"),
        pytest.param(
            at(10, 12, day=TUESDAY + timedelta(days=5)), "closed on Sunday 8 March", "starts", id="closed day"
        ),
        pytest.param(at(13, 15), "the floor is painted", "starts", id="into a closure"),
    ],
)
def test_a_time_that_cannot_be_booked_is_refused_with_what_to_do(span, words, field):
    with pytest.raises(BookingRefused) as refused:
        rules.check_span(span, openings=[opening(closures=[PAINTED])], now=NOW)
    assert words in str(refused.value)
    assert refused.value.field == field


@pytest.mark.parametrize(
    "span",
    [
        pytest.param(at(10, 10.5), id="half an hour"),
        pytest.param(at(10, 22, day=TUESDAY + timedelta(days=1)), id="all twelve hours of the day"),
        pytest.param(at(12, 14), id="up to a closure"),
        pytest.param(at(9, 10, day=TUESDAY - timedelta(days=1)), id="the quarter-hour that runs now"),
    ],
)
def test_a_time_within_the_rules_passes(span):
    hours = [Hours(day, 540, 1320) for day in range(7)]
    rules.check_span(span, openings=[opening(closures=[PAINTED], hours=hours)], now=NOW)


def test_without_opening_hours_the_refusal_says_who_sets_them():
    with pytest.raises(BookingRefused, match="whoever keeps the places sets them"):
        rules.check_span(at(10, 12), openings=[opening(hours=[])], now=NOW)


def test_open_past_midnight_is_one_stretch():
    night = [Hours(1, 20 * 60, 1440), Hours(2, 0, 120)]
    rules.check_span(at(23, 25), openings=[opening(hours=night)], now=NOW)
    with pytest.raises(BookingRefused, match="open 20:00-24:00"):
        rules.check_span(at(23, 26.5), openings=[opening(hours=night)], now=NOW)


def test_a_booking_that_has_begun_keeps_its_start_and_may_end_later_or_sooner():
    monday = TUESDAY - timedelta(days=1)
    hours = opening(hours=[Hours(0, 360, 1320)])
    begun_at = monday + timedelta(hours=8)
    rules.check_span(at(8, 12, day=monday), openings=[hours], now=NOW, started_at=begun_at)
    with pytest.raises(BookingRefused, match="its beginning stays"):
        rules.check_span(at(10, 11, day=monday), openings=[hours], now=NOW, started_at=begun_at)
    with pytest.raises(BookingRefused, match="That end is past"):
        rules.check_span(at(8, 9, day=monday), openings=[hours], now=NOW, started_at=begun_at)


# Clock changes: Europe/London goes forward at 01:00 UTC on 29 March 2026 and back at 01:00 UTC on 25 October 2026
# (IANA time zone database).


def test_a_time_that_the_clock_skips_is_refused_by_the_field_it_was_typed_in():
    with pytest.raises(BookingRefused, match="the clocks went forward") as refused:
        rules.span_on_the_clock(day=date(2026, 3, 29), from_minute=75, to_minute=180, zone=LONDON)
    assert refused.value.field == "starts"
    with pytest.raises(BookingRefused, match="the clocks went forward") as refused:
        rules.span_on_the_clock(day=date(2026, 3, 29), from_minute=30, to_minute=90, zone=LONDON)
    assert refused.value.field == "ends"


def test_a_time_that_the_clock_shows_twice_means_the_first():
    span = rules.span_on_the_clock(day=date(2026, 10, 25), from_minute=75, to_minute=180, zone=LONDON)
    assert span.start == datetime(2026, 10, 25, 0, 15, tzinfo=UTC)
    assert span.length == timedelta(hours=2, minutes=45)


def test_a_booking_over_the_lost_hour_is_as_long_as_it_really_is():
    span = rules.span_on_the_clock(day=date(2026, 3, 29), from_minute=30, to_minute=150, zone=LONDON)
    assert span.length == timedelta(hours=1)


def test_an_end_before_the_start_is_on_the_next_day():
    span = rules.span_on_the_clock(day=date(2026, 3, 3), from_minute=23 * 60, to_minute=60, zone=LONDON)
    assert span == Span(TUESDAY + timedelta(hours=23), TUESDAY + timedelta(hours=25))


def test_a_day_beyond_the_calendar_is_refused():
    with pytest.raises(BookingRefused, match="Check the year"):
        rules.span_on_the_clock(day=date.max, from_minute=23 * 60, to_minute=60, zone=LONDON)


# Units


def need(*units, wanted=1, margin=0):
    return UnitsWanted("Enlarger", units, timedelta(minutes=margin), wanted)


def test_the_first_free_units_are_chosen():
    taken = {1: [at(10, 12)], 3: [at(11, 13)]}
    assert choose_units(need(1, 2, 3, 4), span=at(11, 12), taken=taken) == (2,)
    assert choose_units(need(1, 2, 3, 4, wanted=2), span=at(11, 12), taken=taken) == (2, 4)
    assert choose_units(need(1, 2, 3, 4, wanted=3), span=at(11, 12), taken=taken) == ()


def test_bookings_that_touch_do_not_meet_but_a_margin_reaches_over_the_end():
    taken = {1: [at(12, 13)]}
    assert choose_units(need(1), span=at(11, 12), taken=taken) == (1,)
    assert choose_units(need(1, margin=15), span=at(11, 12), taken=taken) == ()


def test_the_nearest_free_times_are_offered_in_order_and_apart():
    taken = {1: [at(12, 16)]}
    found = nearest_free(at(13, 15), demand=Demand((need(1),), (opening(),)), taken=taken, now=NOW)
    assert found == [at(10, 12), at(16, 18), at(18, 20)]


def test_what_is_offered_suits_every_place_held_and_the_opening_hours_and_is_not_past():
    taken = {1: [at(10, 14)], 2: [at(16, 22)]}
    found = nearest_free(
        at(10, 12), demand=Demand((need(1), need(2)), (opening(),)), taken=taken, now=TUESDAY + timedelta(hours=9)
    )
    assert found[0] == at(14, 16)
    assert all(span.start >= TUESDAY + timedelta(days=1) for span in found[1:])


def test_when_nothing_is_free_near_the_refusal_says_so():
    taken = {1: [Span(TUESDAY - timedelta(days=9), TUESDAY + timedelta(days=9))]}
    assert nearest_free(at(10, 12), demand=Demand((need(1),), (opening(),)), taken=taken, now=NOW) == []
    refusal = rules.SlotTaken("Film sink", nearest=[], zone=LONDON)
    assert "choose another day" in str(refusal)


# Plans, arriving, leaving


@pytest.mark.parametrize(
    ("plan", "material", "field"),
    [
        (Plan(size="120"), None, "count"),
        (Plan(count=2), None, "size"),
        (Plan(size="120", count=501), None, "count"),
        (Plan(size="120", count=-1), None, "count"),
        (Plan(size="120", count=2), Material.RC, "size"),
        (Plan(size="10x12 in", count=2), Material.FILM, "size"),
    ],
)
def test_a_plan_whose_parts_do_not_go_together_is_refused(plan, material, field):
    with pytest.raises(BookingRefused) as refused:
        rules.check_plan(plan, material=material)
    assert refused.value.field == field


def test_a_plan_may_be_nothing_or_all_of_it():
    rules.check_plan(Plan(), material=None)
    rules.check_plan(Plan(size="120", count=2), material=Material.FILM)


@pytest.mark.parametrize(
    ("left", "until"), [(None, 12), (10.05, 10.25), (11, 11), (11.9, 12), (12.5, 12), (9.9, 10.25)]
)
def test_a_place_is_used_until_the_quarter_hour_after_leaving(left, until):
    span = at(10, 12)
    left_at = None if left is None else TUESDAY + timedelta(hours=left)
    found = rules.used_until(starts_at=span.start, ends_at=span.end, left_at=left_at)
    assert found == TUESDAY + timedelta(hours=until)


def test_nobody_arrives_long_before_the_start_or_twice():
    start = TUESDAY + timedelta(hours=10)
    half = timedelta(minutes=30)
    rules.check_can_arrive(starts_at=start, arrived_at=None, now=start - half, zone=LONDON)
    with pytest.raises(BookingRefused, match="begins Tue 3 Mar at 10:00"):
        rules.check_can_arrive(starts_at=start, arrived_at=None, now=start - half - timedelta(minutes=1), zone=LONDON)
    with pytest.raises(BookingRefused, match="noted already"):
        rules.check_can_arrive(starts_at=start, arrived_at=start, now=start, zone=LONDON)


@pytest.mark.parametrize(
    ("start", "hours", "zone", "words"),
    [
        (datetime(2026, 7, 1, 21, 0, tzinfo=UTC), 2, "Europe/London", "Wed 1 Jul 2026, 22:00 to 24:00"),
        (datetime(2026, 7, 1, 21, 0, tzinfo=UTC), 4, "Europe/London", "Wed 1 Jul 2026, 22:00 to Thu 2 Jul, 02:00"),
        (datetime(2026, 7, 1, 23, 0, tzinfo=UTC), 1, "Europe/London", "Thu 2 Jul 2026, 00:00 to 01:00"),
        (datetime(2026, 7, 1, 16, 30, tzinfo=UTC), 2, "Asia/Kolkata", "Wed 1 Jul 2026, 22:00 to 24:00"),
        (datetime(2026, 3, 28, 22, 0, tzinfo=UTC), 2, "Europe/London", "Sat 28 Mar 2026, 22:00 to 24:00"),
        (datetime(2026, 3, 28, 23, 0, tzinfo=UTC), 24, "Europe/London", "Sat 28 Mar 2026, 23:00 to Mon 30 Mar, 00:00"),
    ],
)
def test_midnight_reads_as_the_end_of_the_day_that_began_or_names_its_day(start, hours, zone, words):
    """From memory: London's clocks go forward on 29 March 2026; Kolkata keeps UTC+5:30."""
    assert rules.span_in_words(Span(start, start + timedelta(hours=hours)), zone=ZoneInfo(zone)) == words
