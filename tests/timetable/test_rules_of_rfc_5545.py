"""The worked rules of RFC 5545 (B. Desruisseaux, 2009), section 3.8.5.3, each with the dates printed there.

A row is the start, the rule, and what stands behind "==>" with the year before each month's days. Where the standard
goes on for ever the dates printed are the first.
"""

import re
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from labsys.timetable.recurrence import RuleUnreadable, RuleWithoutEnd, TooManyDates, occurrences

NEW_YORK = ZoneInfo("America/New_York")
MONTHS = {f"{date(1997, month, 1):%b}": month for month in range(1, 13)}

ENDING = [
    ("19970902T0900", "FREQ=DAILY;COUNT=10", "1997 Sep 2-11"),
    ("19970902T0900", "FREQ=DAILY;UNTIL=19971224T000000Z", "1997 Sep 2-30; Oct 1-25; Oct 26-31; Nov 1-30; Dec 1-23"),
    ("19970902T0900", "FREQ=DAILY;INTERVAL=10;COUNT=5", "1997 Sep 2,12,22; Oct 2,12"),
    (
        "19980101T0900",
        "FREQ=YEARLY;UNTIL=20000131T140000Z;BYMONTH=1;BYDAY=SU,MO,TU,WE,TH,FR,SA",
        "1998 Jan 1-31; 1999 Jan 1-31; 2000 Jan 1-31",
    ),
    ("19980101T0900", "FREQ=DAILY;UNTIL=20000131T140000Z;BYMONTH=1", "1998 Jan 1-31; 1999 Jan 1-31; 2000 Jan 1-31"),
    ("19970902T0900", "FREQ=WEEKLY;COUNT=10", "1997 Sep 2,9,16,23,30; Oct 7,14,21; Oct 28; Nov 4"),
    (
        "19970902T0900",
        "FREQ=WEEKLY;UNTIL=19971224T000000Z",
        "1997 Sep 2,9,16,23,30; Oct 7,14,21; Oct 28; Nov 4,11,18,25; Dec 2,9,16,23",
    ),
    (
        "19970902T0900",
        "FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
        "1997 Sep 2,4,9,11,16,18,23,25,30; Oct 2",
    ),
    ("19970902T0900", "FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH", "1997 Sep 2,4,9,11,16,18,23,25,30; Oct 2"),
    (
        "19970901T0900",
        "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR",
        "1997 Sep 1,3,5,15,17,19,29; Oct 1,3,13,15,17; Oct 27,29,31; Nov 10,12,14,24,26,28; Dec 8,10,12,22",
    ),
    ("19970902T0900", "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH", "1997 Sep 2,4,16,18,30; Oct 2,14,16"),
    (
        "19970905T0900",
        "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        "1997 Sep 5; Oct 3; Nov 7; Dec 5; 1998 Jan 2; Feb 6; Mar 6; Apr 3; May 1; Jun 5",
    ),
    ("19970905T0900", "FREQ=MONTHLY;UNTIL=19971224T000000Z;BYDAY=1FR", "1997 Sep 5; Oct 3; Nov 7; Dec 5"),
    (
        "19970907T0900",
        "FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU",
        "1997 Sep 7,28; Nov 2,30; 1998 Jan 4,25; Mar 1,29; May 3,31",
    ),
    ("19970922T0900", "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO", "1997 Sep 22; Oct 20; Nov 17; Dec 22; 1998 Jan 19; Feb 16"),
    (
        "19970902T0900",
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15",
        "1997 Sep 2,15; Oct 2,15; Nov 2,15; Dec 2,15; 1998 Jan 2,15",
    ),
    (
        "19970930T0900",
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1",
        "1997 Sep 30; Oct 1; Oct 31; Nov 1,30; Dec 1,31; 1998 Jan 1,31; Feb 1",
    ),
    (
        "19970910T0900",
        "FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15",
        "1997 Sep 10,11,12,13,14,15; 1999 Mar 10,11,12,13",
    ),
    (
        "19970610T0900",
        "FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
        "1997 Jun 10; Jul 10; 1998 Jun 10; Jul 10; 1999 Jun 10; Jul 10; 2000 Jun 10; Jul 10; 2001 Jun 10; Jul 10",
    ),
    (
        "19970310T0900",
        "FREQ=YEARLY;INTERVAL=2;COUNT=10;BYMONTH=1,2,3",
        "1997 Mar 10; 1999 Jan 10; Feb 10; Mar 10; 2001 Jan 10; Feb 10; Mar 10; 2003 Jan 10; Feb 10; Mar 10",
    ),
    (
        "19970101T0900",
        "FREQ=YEARLY;INTERVAL=3;COUNT=10;BYYEARDAY=1,100,200",
        "1997 Jan 1; Apr 10; Jul 19; 2000 Jan 1; Apr 9; Jul 18; 2003 Jan 1; Apr 10; Jul 19; 2006 Jan 1",
    ),
    ("19970904T0900", "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3", "1997 Sep 4; Oct 7; Nov 6"),
    ("19970805T0900", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", "1997 Aug 5,10,19,24"),
    ("19970805T0900", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", "1997 Aug 5,17,19,31"),
    ("20070115T0900", "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5", "2007 Jan 15,30; Feb 15; Mar 15,30"),
]
FOR_EVER = [
    (
        "19970902T0900",
        "FREQ=WEEKLY;INTERVAL=2;WKST=SU",
        "1997 Sep 2,16,30; Oct 14; Oct 28; Nov 11,25; Dec 9,23; 1998 Jan 6,20; Feb 3,17",
    ),
    ("19970928T0900", "FREQ=MONTHLY;BYMONTHDAY=-3", "1997 Sep 28; Oct 29; Nov 28; Dec 29; 1998 Jan 29; Feb 26"),
    (
        "19970902T0900",
        "FREQ=MONTHLY;INTERVAL=2;BYDAY=TU",
        "1997 Sep 2,9,16,23,30; Nov 4,11,18,25; 1998 Jan 6,13,20,27; Mar 3,10,17,24,31",
    ),
    ("19970519T0900", "FREQ=YEARLY;BYDAY=20MO", "1997 May 19; 1998 May 18; 1999 May 17"),
    ("19970512T0900", "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO", "1997 May 12; 1998 May 11; 1999 May 17"),
    ("19970313T0900", "FREQ=YEARLY;BYMONTH=3;BYDAY=TH", "1997 Mar 13,20,27; 1998 Mar 5,12,19,26; 1999 Mar 4,11,18,25"),
    (
        "19970605T0900",
        "FREQ=YEARLY;BYDAY=TH;BYMONTH=6,7,8",
        "1997 Jun 5,12,19,26; Jul 3,10,17,24,31; Aug 7,14,21,28; 1998 Jun 4,11,18,25; Jul 2,9,16,23,30; Aug 6,13,20,27",
    ),
    ("19970902T0900", "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13", "1998 Feb 13; Mar 13; Nov 13; 1999 Aug 13; 2000 Oct 13"),
    (
        "19970913T0900",
        "FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13",
        "1997 Sep 13; Oct 11; Nov 8; Dec 13; 1998 Jan 10; Feb 7; Mar 7; Apr 11; May 9; Jun 13",
    ),
    (
        "19961105T0900",
        "FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8",
        "1996 Nov 5; 2000 Nov 7; 2004 Nov 2",
    ),
    (
        "19970929T0900",
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2",
        "1997 Sep 29; Oct 30; Nov 27; Dec 30; 1998 Jan 29; Feb 26; Mar 30",
    ),
]


def dates(printed: str) -> list[date]:
    found, year, month = [], 0, 0
    for word in re.findall(r"[A-Z][a-z]{2}|[0-9,-]+", printed):
        if word in MONTHS:
            month = MONTHS[word]
        elif len(word) == 4 and word.isdigit():
            year = int(word)
        else:
            for part in word.split(","):
                first, _, last = part.partition("-")
                found += [date(year, month, day) for day in range(int(first), int(last or first) + 1)]
    return found


def start_of(text: str) -> datetime:
    return datetime.strptime(text, "%Y%m%dT%H%M")  # noqa: DTZ007 - on the wall


@pytest.mark.parametrize(("start", "rule", "printed"), ENDING)
def test_a_rule_gives_the_dates_that_the_standard_prints(start, rule, printed):
    shown = occurrences(rule, start=start_of(start), zone=NEW_YORK)
    assert [local.date() for local in shown] == dates(printed)
    assert {local.time() for local in shown} == {start_of(start).time()}


@pytest.mark.parametrize(("start", "rule", "printed"), FOR_EVER)
def test_a_rule_for_ever_begins_with_the_dates_that_the_standard_prints(start, rule, printed):
    wanted = dates(printed)
    shown = occurrences(rule, start=start_of(start), zone=NEW_YORK, last=wanted[-1])
    assert [local.date() for local in shown] == wanted
    with pytest.raises(RuleWithoutEnd):
        occurrences(rule, start=start_of(start), zone=NEW_YORK)


@pytest.mark.parametrize(
    ("rule", "printed"),
    [
        ("FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T170000Z", "09:00,12:00"),  # the standard prints 15:00: see below
        ("FREQ=MINUTELY;INTERVAL=15;COUNT=6", "09:00,09:15,09:30,09:45,10:00,10:15"),
        ("FREQ=MINUTELY;INTERVAL=90;COUNT=4", "09:00,10:30,12:00,13:30"),
    ],
)
def test_rules_within_a_day(rule, printed):
    """17:00 UTC is 13:00 in New York, so that 15:00 is over: a slip of the standard (erratum 3883, from memory)."""
    shown = occurrences(rule, start=start_of("19970902T0900"), zone=NEW_YORK)
    assert ",".join(f"{local:%H:%M}" for local in shown) == printed


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=DAILY;BYHOUR=9,10,11,12,13,14,15,16;BYMINUTE=0,20,40",
        "FREQ=MINUTELY;INTERVAL=20;BYHOUR=9,10,11,12,13,14,15,16",
    ],
)
def test_every_twenty_minutes_from_nine_to_twenty_to_five(rule):
    shown = occurrences(rule, start=start_of("19970902T0900"), zone=NEW_YORK, last=date(1997, 9, 3))
    assert [f"{local:%d %H:%M}" for local in shown] == [
        f"{day} {hour:02}:{minute:02}" for day in ("02", "03") for hour in range(9, 17) for minute in (0, 20, 40)
    ]


def test_a_day_left_out_is_counted_all_the_same():
    """EXDATE, RFC 5545 section 3.8.5.1."""
    shown = occurrences(
        "FREQ=WEEKLY;COUNT=3", start=start_of("19970902T0900"), zone=NEW_YORK, without=frozenset({date(1997, 9, 9)})
    )
    assert [local.day for local in shown] == [2, 16]


def test_a_time_that_the_clock_skips_is_no_date_and_is_not_counted():
    """RFC 5545 section 3.3.10: a local time that does not exist is ignored and not counted. London, 29 March 2026."""
    shown = occurrences("FREQ=DAILY;COUNT=3", start=start_of("20260328T0130"), zone=ZoneInfo("Europe/London"))
    assert [local.day for local in shown] == [28, 30, 31]


@pytest.mark.parametrize(
    "rule",
    [
        "",
        "FREQ=FORTNIGHTLY;COUNT=2",
        "COUNT=3",
        "FREQ=WEEKLY;COUNT=0",
        "FREQ=WEEKLY;INTERVAL=0;COUNT=2",
        "FREQ=WEEKLY;COUNT=2;UNTIL=20260101",
        "FREQ=WEEKLY;UNTIL=20261399",
        "FREQ=WEEKLY;BYDAY=XX;COUNT=2",
        "FREQ=WEEKLY;BYEASTER=0;COUNT=2",
        "FREQ=WEEKLY;COUNT=2;COUNT=3",
        "FREQ=MONTHLY;BYMONTHDAY=99x;COUNT=1",
        "каждую среду",
        "FREQ=WEEKLY;BYSETPOS=999;COUNT=2",
        "A" * 5_000,
    ],
)
def test_what_is_no_rule_is_said_to_be_none(rule):
    with pytest.raises((RuleUnreadable, RuleWithoutEnd)):
        occurrences(rule, start=start_of("20260107T1930"), zone=NEW_YORK)


def test_ten_thousand_dates_are_too_many_and_soon_said_to_be():
    with pytest.raises(TooManyDates):
        occurrences("FREQ=DAILY;COUNT=10000", start=start_of("20260107T1930"), zone=NEW_YORK, limit=120)


@pytest.mark.parametrize("rule", ["FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30;COUNT=1"])
def test_a_rule_that_never_comes_to_a_date_ends(rule):
    with pytest.raises(RuleWithoutEnd):
        occurrences(rule, start=start_of("20260107T1930"), zone=NEW_YORK)


@pytest.mark.parametrize("zone", ["Europe/London", "Australia/Lord_Howe", "Asia/Kathmandu", "America/St_Johns"])
def test_a_weekly_hour_stays_that_hour_over_both_changes_of_the_clock(zone):
    """Offsets as the IANA time zone database has them; Lord Howe changes by half an hour, Kathmandu never."""
    shown = occurrences("FREQ=WEEKLY;COUNT=60", start=start_of("20260107T1930"), zone=ZoneInfo(zone))
    assert len(shown) == 60
    assert {(local.hour, local.minute) for local in shown} == {(19, 30)}
    assert {later - earlier for earlier, later in pairwise(shown)} == {timedelta(days=7)}
