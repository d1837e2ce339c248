"""Nobody is ever booked over anybody else: two processes at once, and any order of acts."""

from collections import Counter
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from labsys.bookings import not_coming, service, waiting
from labsys.bookings.models import Booking, Hold, Wait
from labsys.bookings.rules import BookingRefused, Plan
from labsys.closing import service as closing
from labsys.closing.rules import Answer, ClosingRefused, Fate, Scope
from labsys.database import db
from labsys.people.acts import Act
from labsys.places.models import Closure, Room, StationUnit
from labsys.records import queries as records
from labsys.records.models import Lab
from labsys.timetable.spans import Span
from tests.bookings.conftest import TOMORROW, at
from tests.bookings.racing import race, race_for_offers
from tests.support.processes import CONTEXT
from tests.support.waiting import PATIENCE_S

OVERLAPS = text(
    "SELECT count(*) FROM holds a JOIN holds b ON a.unit_id = b.unit_id AND a.id < b.id "
    "AND a.starts_at < b.ends_at AND b.starts_at < a.ends_at"
)
SLOTS = [
    at(10 + number * 0.75, 10.5 + number * 0.75, day=TOMORROW + timedelta(days=day))
    for day in range(5)
    for number in range(16)
]


@pytest.mark.slow
def test_of_two_processes_that_race_for_80_bookings_one_wins_each(furnished, app, tmp_path):
    arguments = (tmp_path, app.config["SQLALCHEMY_DATABASE_URI"])
    people = [furnished.ids["member"], furnished.ids["instructor"]]
    station_id, now = furnished.ids["Film sink"], furnished.tick()
    furnished.session.commit()
    db.engine.dispose()
    together, outcomes = CONTEXT.Barrier(2), CONTEXT.Queue()
    racers = [
        CONTEXT.Process(target=race, args=(*arguments, person_id, station_id, SLOTS, now, together, outcomes))
        for person_id in people
    ]
    for racer in racers:
        racer.start()
    ended: list[Counter[str]] = [outcomes.get(timeout=PATIENCE_S) for _ in racers]
    for racer in racers:
        racer.join(timeout=PATIENCE_S)
    assert sum(ended, Counter()) == {"won": 80, "taken": 80}
    session = furnished.session
    assert session.query(Hold).count() == session.query(Booking).count() == 80
    assert session.execute(OVERLAPS).scalar_one() == 0
    assert records.find_fault(session) is None


def offered(lab, number):
    """So many offers to the member, each on a day of its own, that lapse at the same moment."""
    for day in range(number):
        span = at(10, 12, day=TOMORROW + timedelta(days=day))
        lab.session.add(
            Wait(
                person_id=lab.ids["member"],
                station_id=lab.ids["Film sink"],
                from_at=span.start,
                until_at=span.end,
                minutes=120,
                made_at=lab.tick(),
            )
        )
    lab.session.commit()
    whole = at(0, 24 * number)
    assert waiting.offer_free(Act(lab.session, by=None, now=lab.tick()), window=whole) == number
    return [wait.id for wait in lab.session.query(Wait).order_by(Wait.id)]


@pytest.mark.slow
@pytest.mark.parametrize("against", ["the same person again", "the lab, which lets it lapse"])
def test_of_two_processes_that_race_for_an_offer_exactly_one_gets_it(furnished, app, tmp_path, against):
    number = 20
    wait_ids = offered(furnished, number)
    lapses_at = furnished.session.query(Wait).first().offered_until
    member = furnished.ids["member"]
    is_lapsing = against.startswith("the lab")
    runners = [(member, lapses_at - timedelta(seconds=1)), (None if is_lapsing else member, lapses_at)]
    if not is_lapsing:
        runners = [(member, furnished.now), (member, furnished.now)]
    furnished.session.commit()
    db.engine.dispose()
    together, outcomes = CONTEXT.Barrier(2), CONTEXT.Queue()
    arguments = (tmp_path, app.config["SQLALCHEMY_DATABASE_URI"])
    racers = [
        CONTEXT.Process(target=race_for_offers, args=(*arguments, person_id, wait_ids, now, together, outcomes))
        for person_id, now in runners
    ]
    for racer in racers:
        racer.start()
    ended = sum((outcomes.get(timeout=PATIENCE_S) for _ in racers), Counter())
    for racer in racers:
        racer.join(timeout=PATIENCE_S)
    session = furnished.session
    assert session.query(Booking).count() == session.query(Hold).count() == ended["taken"]
    if is_lapsing:
        assert ended["taken"] + ended["lapsed"] == ended["refused"] + ended["too late to lapse"] == number
    else:
        assert ended == {"taken": number, "refused": number}
    assert records.find_fault(session) is None


HOURS = st.integers(40, 87)  # quarter-hours of the day, within the opening hours
ACTS = st.lists(
    st.tuples(
        st.sampled_from(
            ["book", "class", "change", "cancel", "leave", "close", "reopen", "give free", "wait", "take", "lapse"]
        ),
        st.sampled_from(["Film sink", "Enlarger", "Wet side"]),
        HOURS,
        st.integers(2, 12),
        st.integers(0, 9),
    ),
    max_size=16,
)


MOST_PEOPLE = 3


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=ACTS)
def test_whatever_is_booked_moved_cancelled_left_or_closed_nothing_overlaps_and_no_room_is_over_full(furnished, acts):
    """Every booking that stands holds as many units of its station as it was made for, and of what comes with it.

    Nothing that is booked or moved lies on a closed unit, but for what was left there when it was closed.
    """
    for kind in (Hold, Wait, Booking, Closure):
        furnished.session.query(kind).delete()
    furnished.session.query(Room).one().most_people = MOST_PEOPLE
    furnished.session.query(Lab).one().free_after_minutes = 15
    furnished.session.commit()
    for act in acts:
        try:
            do(furnished, *act)
        except (BookingRefused, ClosingRefused):
            furnished.session.rollback()
        furnished.session.expire_all()
        assert furnished.session.execute(OVERLAPS).scalar_one() == 0
        for booking in furnished.session.query(Booking).all():
            stations = 2 if booking.station.name == "Enlarger" else 1
            expected = 0 if booking.cancelled_at or booking.missed_at else stations * booking.units
            assert len({hold.unit_id for hold in booking.holds}) == len(booking.holds) == expected
            assert all(hold.starts_at == booking.starts_at for hold in booking.holds)
        for wait in furnished.session.query(Wait).all():
            held = furnished.session.query(Hold).filter_by(wait_id=wait.id).count()
            stands = wait.ended_at is None and wait.offered is not None
            assert held == ((2 if wait.station.name == "Enlarger" else 1) if stands else 0)
            assert not stands or (wait.window.contains(wait.offered) and wait.offered_until <= wait.offered.start)
        assert most_at_once(furnished) <= MOST_PEOPLE


def most_at_once(lab):
    """The most people in the one room at a time, counted quarter-hour by quarter-hour from the holds alone."""
    holds = {}
    for hold in lab.session.query(Hold):
        holds.setdefault((hold.booking, hold.wait_id), []).append(hold)
    there = {
        whose: (
            min(hold.starts_at for hold in held),
            max(hold.ends_at for hold in held),
            whose[0].units + 1 if whose[0] and whose[0].class_name else 1,
        )
        for whose, held in holds.items()
    }
    moments = [at(quarter / 4, 25).start for quarter in range(40, 92)]
    return max(sum(heads for start, end, heads in there.values() if start <= now < end) for now in moments)


def wait_for(lab, station, span, *, minutes):
    waiting.wait(lab.act("member"), station_id=lab.ids[station], window=span, minutes=minutes, plan=Plan())


def answer(lab, act, which):
    """Have an offer taken, declined, or let lapse by the lab; where there is none, somebody leaves the list."""
    waits = lab.session.query(Wait).filter(Wait.ended_at.is_(None)).order_by(Wait.offered_until, Wait.id).all()
    if not waits:
        return
    wait = waits[which % len(waits)]
    if act == "lapse" and wait.offered_until is not None:
        waiting.lapse(Act(lab.session, by=None, now=wait.offered_until), wait_id=wait.id)
    elif wait.offered_until is None or which == 9:
        waiting.leave_list(lab.act("member"), wait_id=wait.id)
    else:
        waiting.accept(lab.act("member"), wait_id=wait.id)


def do(lab, act, station, start, length, which):
    span = Span(at(start / 4, 24).start, at(0, (start + length) / 4).end)
    technician = lab.person("technician")
    made = lab.session.query(Booking).order_by(Booking.id).all()
    booking = made[which % len(made)] if made else None
    if act == "book":
        lab.book(station, span)
    elif act == "class":
        service.book_class(
            Act(lab.session, by=technician, now=lab.tick()),
            person_id=technician.id,
            station_id=lab.ids[station],
            span=span,
            units=which % 5,
            class_name="Class",
            plan=Plan(),
        )
    elif act == "close":
        unit = lab.session.query(StationUnit).filter_by(station_id=lab.ids[station]).first()
        scope = Scope(unit_id=unit.id) if which % 2 else Scope(station_id=lab.ids[station])
        hits = closing.hits_of(lab.session, scope=scope, span=span, reason="lamp", now=lab.now)
        fates = {
            hit.booking.id: Answer(Fate.MOVE, hit.moves[0]) if hit.moves else Answer(Fate.CANCEL)
            for hit in hits
            if not hit.is_here
        }
        kept = {hit.booking.id: Answer(Fate.KEEP) for hit in hits if hit.is_here}
        closing.close(lab.act("technician"), scope=scope, span=span, reason="lamp", answers={**fates, **kept})
    elif act == "reopen":
        for closure in lab.session.query(Closure).all():
            closing.lift(lab.act("technician"), closure_id=closure.id)
    elif act == "wait":
        wait_for(lab, station, span, minutes=15 * max(2, length - which))
    elif act in ("take", "lapse"):
        answer(lab, act, which)
    elif booking is None:
        return
    elif act == "give free":
        late = booking.starts_at + timedelta(minutes=15)
        not_coming.give_free(Act(lab.session, by=None, now=late), booking_id=booking.id)
    elif act == "change":
        service.change(
            Act(lab.session, by=technician, now=lab.tick()),
            booking_id=booking.id,
            version=booking.version,
            span=span,
            plan=Plan(),
            units=which % 5,
        )
    elif act == "cancel":
        service.cancel(Act(lab.session, by=technician, now=lab.tick()), booking_id=booking.id)
    else:
        begun, left = booking.starts_at, booking.starts_at + timedelta(minutes=11 * which)
        service.arrive(Act(lab.session, by=technician, now=begun), booking_id=booking.id)
        service.leave(Act(lab.session, by=technician, now=left), booking_id=booking.id)
