"""Nobody is ever booked over anybody else: two processes at once, and any order of acts."""

import multiprocessing
from collections import Counter
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from labsys.bookings import keeping_fair, service
from labsys.bookings.models import Booking, Hold
from labsys.bookings.rules import BookingRefused, Plan
from labsys.closing import service as closing
from labsys.closing.rules import Answer, ClosingRefused, Fate, Scope
from labsys.database import db
from labsys.people.acts import Act
from labsys.places import service as places
from labsys.places.models import Closure, Room, StationUnit
from labsys.records import queries as records
from labsys.records.models import Lab
from labsys.timetable.spans import Span
from tests.bookings.conftest import TOMORROW, at
from tests.bookings.racing import race
from tests.support.waiting import PATIENCE_S

OVERLAPS = text(
    "SELECT count(*) FROM holds a JOIN holds b ON a.unit_id = b.unit_id AND a.id < b.id "
    "AND a.starts_at < b.ends_at AND b.starts_at < a.ends_at"
)
SLOTS = [
    at(10 + number * 0.75, 10.5 + number * 0.75, day=TOMORROW + timedelta(days=day))
    for day in range(13)
    for number in range(16)
][:200]


@pytest.mark.slow
def test_of_two_processes_that_race_for_200_bookings_one_wins_each(furnished, app, tmp_path):
    arguments = (tmp_path, app.config["SQLALCHEMY_DATABASE_URI"])
    people = [furnished.ids["member"], furnished.ids["instructor"]]
    station_id, now = furnished.ids["Film sink"], furnished.tick()
    furnished.session.commit()
    db.engine.dispose()
    context = multiprocessing.get_context("spawn")
    together, outcomes = context.Barrier(2), context.Queue()
    racers = [
        context.Process(target=race, args=(*arguments, person_id, station_id, SLOTS, now, together, outcomes))
        for person_id in people
    ]
    for racer in racers:
        racer.start()
    ended: list[Counter[str]] = [outcomes.get(timeout=PATIENCE_S) for _ in racers]
    for racer in racers:
        racer.join(timeout=PATIENCE_S)
    assert sum(ended, Counter()) == {"won": 200, "taken": 200}
    session = furnished.session
    assert session.query(Hold).count() == session.query(Booking).count() == 200
    assert session.execute(OVERLAPS).scalar_one() == 0
    assert records.find_fault(session) is None


HOURS = st.integers(40, 87)  # quarter-hours of the day, within the opening hours
ACTS = st.lists(
    st.tuples(
        st.sampled_from(["book", "class", "change", "cancel", "leave", "close", "reopen", "give free"]),
        st.sampled_from(["Film sink", "Enlarger", "Wet side"]),
        HOURS,
        st.integers(2, 12),
        st.integers(0, 9),
    ),
    max_size=14,
)


MOST_PEOPLE = 3


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=ACTS)
def test_whatever_is_booked_moved_cancelled_left_or_closed_nothing_overlaps_and_no_room_is_over_full(furnished, acts):
    """Every booking that stands holds as many units of its station as it was made for, and of what comes with it.

    Nothing that is booked or moved lies on a closed unit, but for what was left there when it was closed.
    """
    for row in (*furnished.session.query(Booking).all(), *furnished.session.query(Closure).all()):
        furnished.session.delete(row)
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
        assert most_at_once(furnished) <= MOST_PEOPLE


def most_at_once(lab):
    """The most people in the one room at a time, counted quarter-hour by quarter-hour from the holds alone."""
    there = {
        booking: (
            min(hold.starts_at for hold in booking.holds),
            max(hold.ends_at for hold in booking.holds),
            booking.units + 1 if booking.class_name else 1,
        )
        for booking in lab.session.query(Booking)
        if booking.holds
    }
    moments = [at(quarter / 4, 25).start for quarter in range(40, 92)]
    return max(sum(heads for start, end, heads in there.values() if start <= now < end) for now in moments)


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
            places.remove_closure(lab.act("technician"), closure_id=closure.id)
    elif booking is None:
        return
    elif act == "give free":
        late = booking.starts_at + timedelta(minutes=15)
        keeping_fair.give_free(Act(lab.session, by=None, now=late), booking_id=booking.id)
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
