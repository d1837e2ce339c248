"""Courses against sources outside the project: worked rules of RFC 5545, changes of the clock, public holidays."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest

from labsys.bookings.rules import BookingRefused, span_on_the_clock
from labsys.courses.rules import LONGEST_TERM, MOST_MEETINGS, Term, holidays_of, meeting_days, span_of
from labsys.timetable.opening import Hours, day_span, open_spans
from tests.timetable.test_rules_of_rfc_5545 import ENDING, FOR_EVER, NEW_YORK, dates, start_of

# RFC 5545 (B. Desruisseaux, 2009), section 3.8.5.3: the rules whose printed dates are those of a course.
OF_A_COURSE = [
    (start, rule, printed, last)
    for rows, is_ending in ((ENDING, True), (FOR_EVER, False))
    for start, rule, printed in rows
    if len(days := dates(printed)) <= MOST_MEETINGS and days[-1] <= start_of(start).date() + LONGEST_TERM
    for last in (None if is_ending else days[-1],)
]


def test_enough_of_the_printed_rules_are_rules_of_courses():
    assert len(OF_A_COURSE) >= 25


@pytest.mark.parametrize(("start", "rule", "printed", "last"), OF_A_COURSE)
def test_a_course_meets_on_the_days_that_the_standard_prints(start, rule, printed, last):
    first = start_of(start)
    term = Term(first.date(), first.hour * 60, first.hour * 60 + 60, rule, last_day=last)
    assert meeting_days(term, zone=NEW_YORK) == dates(printed)


def nth_sunday(year, month, number):
    """The first, second, ... Sunday of a month; -1 is the last."""
    days = [date(year, month, day) for day in range(1, 32) if (month, day) not in ((4, 31), (11, 31))]
    return [day for day in days if day.weekday() == 6][number]


# When the clocks change, by the rules that stand in the text of the IANA time zone database (from memory): "EU" for
# London, "US" since 2007 for New York, "LH" since 2008 for Lord Howe, which changes by half an hour. Forward, back, by
# how much, and the hour on the wall at which they go forward.
CHANGES = {
    "Europe/London": (lambda year: nth_sunday(year, 3, -1), lambda year: nth_sunday(year, 10, -1), 60, 1),
    "America/New_York": (lambda year: nth_sunday(year, 3, 1), lambda year: nth_sunday(year, 11, 0), 60, 2),
    "Australia/Lord_Howe": (lambda year: nth_sunday(year, 10, 0), lambda year: nth_sunday(year, 4, 0), 30, 2),
}
YEARS = range(2026, 2036)


@pytest.mark.parametrize("name", CHANGES)
def test_a_weekly_course_keeps_its_hour_and_its_length_over_ten_years_of_changes(name):
    zone = ZoneInfo(name)
    forward, back, minutes, _ = CHANGES[name]
    for year in YEARS:
        days = meeting_days(Term(date(year, 1, 6), 1170, 1290, "FREQ=WEEKLY;COUNT=52"), zone=zone)
        spans = [span_of(Term(date(year, 1, 6), 1170, 1290), day, zone=zone) for day in days]
        assert {span.start.astimezone(zone).strftime("%H:%M") for span in spans} == {"19:30"}
        assert {span.length for span in spans} == {timedelta(hours=2)}
        steps = {
            later: after.start - before.start for before, after, later in zip(spans, spans[1:], days[1:], strict=False)
        }
        week, change = timedelta(days=7), timedelta(minutes=minutes)
        assert {day for day, step in steps.items() if step == week - change} == {_next(days, forward(year))}
        assert {day for day, step in steps.items() if step == week + change} == {_next(days, back(year))}


def _next(days, change):
    return next(day for day in days if day >= change)


@pytest.mark.parametrize("name", CHANGES)
def test_days_hours_and_bookings_are_right_on_the_days_of_the_changes(name):
    zone = ZoneInfo(name)
    forward, back, minutes, hour = CHANGES[name]
    change = timedelta(minutes=minutes)
    for year in YEARS:
        short, long = forward(year), back(year)
        assert day_span(short, zone=zone).length == timedelta(hours=24) - change
        assert day_span(long, zone=zone).length == timedelta(hours=24) + change
        for day, length in ((short, timedelta(hours=6) - change), (long, timedelta(hours=6) + change)):
            (opened,) = open_spans(day, hours=[Hours(6, 0, 360)], closures=(), zone=zone)
            assert opened.length == length
        with pytest.raises(BookingRefused, match="did not exist"):
            span_on_the_clock(day=short, from_minute=hour * 60 + 15, to_minute=hour * 60 + 120, zone=zone)
        night = span_on_the_clock(day=long - timedelta(days=1), from_minute=1380, to_minute=300, zone=zone)
        assert night.length == timedelta(hours=6) + change


# England 2025: bedfordstreetsurgery.co.uk/news/public-holiday-closed-dates (read); the others from memory of
# gov.uk/bank-holidays. Boxing Day of 2026 is a Saturday, and Monday the 28th stands for it.
ENGLAND = {
    "2025": "2025-01-01 2025-04-18 2025-04-21 2025-05-05 2025-05-26 2025-08-25 2025-12-25 2025-12-26",
    "2026": "2026-01-01 2026-04-03 2026-04-06 2026-05-04 2026-05-25 2026-08-31 2026-12-25 2026-12-28",
}
# 5 U.S.C. 6103(a) with Executive Order 11582 for what falls on a weekend (from memory).
UNITED_STATES = {
    "2025": "2025-01-01 2025-01-20 2025-02-17 2025-05-26 2025-06-19 2025-07-04 2025-09-01 2025-10-13 2025-11-11 "
    "2025-11-27 2025-12-25",
    "2026": "2026-01-01 2026-01-19 2026-02-16 2026-05-25 2026-06-19 2026-07-03 2026-09-07 2026-10-12 2026-11-11 "
    "2026-11-26 2026-12-25",
}


@pytest.mark.parametrize(
    ("country", "part", "published"),
    [("GB", "ENG", ENGLAND[year]) for year in ENGLAND] + [("US", "", UNITED_STATES[year]) for year in UNITED_STATES],
)
def test_the_weekdays_left_out_of_a_course_are_the_published_holidays(country, part, published):
    listed = [date.fromisoformat(text) for text in published.split()]
    year = listed[0].year
    days = [date(year, 1, 1) + timedelta(days=number) for number in range(365)]
    weekdays = [day for day in days if day.weekday() < 5]
    term = Term(weekdays[0], 600, 660, country=country, part=part)
    assert list(holidays_of(term, weekdays)) == listed
