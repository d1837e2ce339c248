"""Nobody is ever booked over anybody else: two processes at once, and any order of acts."""

import multiprocessing
from collections import Counter
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from labsys.bookings import service
from labsys.bookings.models import Booking, Hold
from labsys.bookings.rules import BookingRefused, Plan
from labsys.database import db
from labsys.people.acts import Act
from labsys.records import queries as records
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
        st.sampled_from(["book", "class", "change", "cancel", "leave"]),
        st.sampled_from(["Film sink", "Enlarger", "Wet side"]),
        HOURS,
        st.integers(2, 12),
        st.integers(0, 9),
    ),
    max_size=14,
)


@pytest.mark.sqlite_only
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=ACTS)
def test_whatever_is_booked_changed_cancelled_or_left_no_two_holds_of_a_unit_overlap(furnished, acts):
    """Every booking not cancelled holds as many units of its station as it was made for, and of what comes with it."""
    for booking in furnished.session.query(Booking).all():
        furnished.session.delete(booking)
    furnished.session.commit()
    for act in acts:
        try:
            do(furnished, *act)
        except BookingRefused:
            furnished.session.rollback()
        assert furnished.session.execute(OVERLAPS).scalar_one() == 0
        for booking in furnished.session.query(Booking).all():
            stations = 2 if booking.station.name == "Enlarger" else 1
            expected = 0 if booking.cancelled_at else stations * booking.units
            assert len({hold.unit_id for hold in booking.holds}) == len(booking.holds) == expected
            assert all(hold.starts_at == booking.starts_at for hold in booking.holds)


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
    elif booking is None:
        return
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
