"""The coming weeks played on plain values: what must come out can be worked by hand, or by the binomial law."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from labsys.chemistry.sizes import UNIT_MM2, Load, Material, load_of, size_of
from labsys.forecast import rules
from labsys.forecast.judging import Ending, outcome_of
from labsys.forecast.models import Outcome
from labsys.forecast.rules import Bottled, Happening, PastDay, Range, Room, Standing

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
ROLL = load_of(size=size_of(key="120"), material=Material.FILM, count=1)
UTC_ZONE = ZoneInfo("UTC")


def day(number: float) -> datetime:
    return NOW + timedelta(days=number)


def rolls(count: int) -> Load:
    return load_of(size=size_of(key="120"), material=Material.FILM, count=count)


def bath(left: int, *, of: int = 50, keeps: float | None = 60, spares: int = 0) -> Standing:
    """A bath that takes so many rolls more, of so many when fresh, and keeps so many days from now."""
    per_mm2 = (1 / (of * UNIT_MM2), 0.0, 0.0)
    return Standing(
        bath_id=1,
        rooms=(Room(left / of, per_mm2=per_mm2),),
        fresh=(Room(1.0, per_mm2=per_mm2),),
        keeps_until=None if keeps is None else day(keeps),
        keeps=None if keeps is None else timedelta(days=60),
        spares=spares,
        product_id=1,
        amount=500,
    )


def play(standing: Standing, *happenings: Happening) -> rules.BathAhead:
    return rules.bath_ahead(standing, happenings, rules.draws(happenings, line_id=1))


def booked(number: float, count: int, booking_id: int | None = None) -> Happening:
    return Happening(day(number), (rolls(count),), booking_id=booking_id)


# Worked by hand: two rolls a day, booked, through what is left of a bath.
@pytest.mark.parametrize(
    ("left", "keeps", "ends", "by_use"),
    [
        (10, 60, 5, 1.0),  # 2, 4, 6, 8, 10: the fifth day takes the last of it
        (9, 60, 5, 1.0),  # the fifth does not fit any more, and ends it as well
        (1, 60, 1, 1.0),
        (30, 7, 7, 0.0),  # by age, before use would
    ],
)
def test_what_is_booked_ends_a_bath_on_a_day_that_can_be_counted_out(left, keeps, ends, by_use):
    ahead = play(bath(left, keeps=keeps), *(booked(number, 2) for number in range(1, 12)))
    assert ahead.ends == Range(day(ends), day(ends))
    assert ahead.by_use == by_use


def test_a_class_fails_where_the_rest_is_too_little_and_the_last_of_it_is_enough():
    told = play(bath(20), booked(1, 8), booked(2, 12, booking_id=7), booked(3, 1, booking_id=8))
    assert told.classes[7].fails == 0.0  # 20 less 8 is 12: exactly what it wants
    assert told.classes[8].fails == 1.0
    assert rules.pieces_left(told.classes[7].left_low, bath(20).fresh, ROLL) == 12
    past_its_age = play(bath(20, keeps=1.5), booked(2, 1, booking_id=7))
    assert past_its_age.classes[7].fails == 1.0


# The binomial law: of n days on which one roll comes or none, each as likely, two or more come with chance
# 1 - (n + 1) / 2^n; worked by hand: 1/4, 1/2, 11/16.
@pytest.mark.parametrize(("days", "chance"), [(2, 0.25), (3, 0.5), (4, 0.6875)])
def test_chances_are_those_of_the_binomial_law(days, chance):
    each = [Happening(day(number), (rolls(0), rolls(1))) for number in range(1, days + 1)]
    told = play(bath(2), *each, booked(days + 1, 1, booking_id=7))
    assert told.classes[7].fails == pytest.approx(chance, abs=0.1)  # three times the standard error of 240 plays


# Worked by hand: ten rolls a day of the forty that are left are 7 in a quieter time (6 days), 14 in a busier one (3).
def test_a_busier_time_takes_more_of_what_is_usual_and_nothing_of_what_is_booked():
    usual = [Happening(day(number), (rolls(10),), is_usual=True) for number in range(1, 8)]
    assert play(bath(40), *usual).ends == Range(day(3), day(6))
    assert play(bath(40), *(booked(number, 10) for number in range(1, 8))).ends == Range(day(4), day(4))


def test_baths_that_follow_are_mixed_from_the_store_unless_a_spare_stands_ready():
    work = [booked(number, 50) for number in (1, 2, 3)]
    assert [at for at, _ in play(bath(50), *work).taken[0]] == [day(1), day(2), day(3)]
    assert [at for at, _ in play(bath(50, spares=2), *work).taken[0]] == [day(3)]


# Worked by hand: 300 taken on days 1, 3 and 5. A (500) gives the first, and lapses with 200 in it; B (500) gives the
# second, and 200 of the third: 100 are missing.
def test_what_lapses_before_it_is_used_is_no_cover():
    bottles = [Bottled(2, 500, None), Bottled(1, 500, day(2))]
    taken = [[(day(number), 300) for number in (1, 3, 5)]] * rules.PLAYS
    days = [day(number + 0.5) for number in range(7)]
    ahead = rules.store_ahead(bottles, taken, [0], days, product_id=1)
    assert ahead.short == Range(day(5), day(5))
    assert (ahead.missing, ahead.wanted) == (100, (900, 900))
    assert ahead.bottles == {1: Range(day(2), day(2)), 2: Range(day(5), day(5))}
    assert [low for low, _ in ahead.cover] == [1000, 700, 500, 200, 200, 0, 0]


# Worked by hand: a closed litre that keeps two days once opened gives 300 on day 1, and has lapsed by day 4.
def test_a_bottle_keeps_less_long_once_it_is_opened():
    days = [day(number + 0.5) for number in range(7)]
    taken = [[(day(1), 300), (day(4), 300)]] * rules.PLAYS
    closed = Bottled(1, 1_000, day(60), opened_for=timedelta(days=2))
    ahead = rules.store_ahead([closed], taken, [0], days, product_id=1)
    assert (ahead.short, ahead.missing) == (Range(day(4), day(4)), 300)
    assert ahead.bottles == {1: Range(day(3), day(3))}
    assert [low for low, _ in ahead.cover] == [1000, 700, 700, 0, 0, 0, 0]


def test_a_usual_day_is_drawn_from_days_alike_beyond_what_is_booked_by_now():
    past = [PastDay(0, rolls(4), rolls(1)), PastDay(0, rolls(0), rolls(2)), PastDay(0, rolls(6), rolls(0))]
    past.append(PastDay(1, rolls(9), rolls(9)))
    assert rules.usual_loads(past, weekday=0, booked=rolls(5)) == (rolls(1), rolls(2), rolls(1))
    assert len(rules.usual_loads(past, weekday=1, booked=Load())) == 4  # too few Tuesdays: every day counts as alike
    assert rules.usual_loads([], weekday=1, booked=Load()) == (Load(),)


def test_a_class_is_taken_by_its_plan_else_by_three_meetings_else_it_is_not_known():
    met = [(None, rolls(count)) for count in (8, 10, 12)]
    assert rules.class_loads(rolls(9), []) == (rolls(9),)
    assert rules.class_loads(None, met) == (rolls(8), rolls(10), rolls(12))
    assert rules.class_loads(None, met[:2]) is None
    half = [(rolls(10), rolls(count)) for count in (5, 10, 20)]
    assert [rules.units_in(load) for load in rules.class_loads(rolls(8), half)] == [4, 8, 16]


FIRST, LAST, UNTIL = day(3), day(5), day(35)


@pytest.mark.parametrize(
    ("earliest", "latest", "ending", "now", "outcome"),
    [
        (FIRST, LAST, Ending(day(4)), day(6), Outcome.HELD),
        (FIRST, LAST, Ending(day(5.6)), day(6), Outcome.HELD),  # late on the last day
        (FIRST, LAST, Ending(day(2)), day(6), Outcome.BEFORE),
        (FIRST, LAST, Ending(day(8)), day(9), Outcome.AFTER),
        (FIRST, LAST, Ending(), day(6), Outcome.AFTER),  # good still
        (FIRST, LAST, Ending(), day(4), None),
        (FIRST, LAST, Ending(out_at=day(2)), day(9), Outcome.CUT),
        (FIRST, LAST, Ending(out_at=day(8)), day(9), Outcome.AFTER),
        (FIRST, None, Ending(day(20)), day(21), Outcome.HELD),
        (FIRST, None, Ending(), day(30), None),
        (FIRST, None, Ending(), day(36), Outcome.HELD),
        (None, None, Ending(day(20)), day(21), Outcome.BEFORE),
        (None, None, Ending(), day(36), Outcome.HELD),
        (None, None, Ending(out_at=day(20)), day(36), Outcome.CUT),
    ],
)
def test_a_range_is_judged_once_it_can_be(earliest, latest, ending, now, outcome):
    assert outcome_of(earliest, latest, ending, until=UNTIL, now=now, zone=UTC_ZONE) is outcome
