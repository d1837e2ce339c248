"""Whatever people do one after the other, no unit is taken twice and no room is fuller than it may be.

What is there is counted here from the bare rows, not as the house counts it.
"""

import contextlib
from collections.abc import Callable
from datetime import datetime, timedelta

from flask import Flask
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test
from sqlalchemy import select

from labsys.bookings import service, waiting
from labsys.bookings.models import Booking, Hold, Wait
from labsys.bookings.rules import Plan
from labsys.closing import service as closing
from labsys.closing.rules import Answer, Fate, Scope
from labsys.database import db
from labsys.membership.service import set_rules
from labsys.people.acts import Act
from labsys.places import service as places
from labsys.places.models import Room, RoomKind, StationUnit
from labsys.places.rules import RoomFacts
from labsys.records.errors import Refused
from labsys.records.models import Admits
from labsys.timetable.spans import Span
from tests.bookings.conftest import TOMORROW
from tests.conftest import Templates
from tests.support.lab import SmallLab

MOST_PEOPLE, MOST_TAUGHT = 6, 3
ROLES = ("member", "instructor", "technician")
PLACES = ("Film sink", "Enlarger", "Wet side")
hours = st.builds(
    lambda start, length: Span(
        TOMORROW + timedelta(minutes=15 * start), TOMORROW + timedelta(minutes=15 * (start + length))
    ),
    st.integers(40, 56),
    st.integers(2, 12),
)


def _begin(lab: SmallLab) -> None:
    """One small room for all the places, and guests."""
    lab.add_places()
    room = lab.session.execute(select(Room)).scalar_one()
    facts = RoomFacts(kind=RoomKind.SAFELIGHT, most_people=MOST_PEOPLE, most_taught=MOST_TAUGHT)
    places.change_room(lab.act("technician"), room_id=room.id, name=room.name, facts=facts)
    set_rules(lab.act("manager"), admits_under_18=Admits.NOT_STATED, asks={"most_guests": 3})


class BusyDay(RuleBasedStateMachine):
    """Anything people do about one day, in any order; refusals are fine."""

    new_app: Callable[[], Flask]
    new_lab: SmallLab

    def __init__(self) -> None:
        super().__init__()
        self.context = type(self).new_app().app_context()
        self.context.push()
        self.lab = self.new_lab.resume(db.session)
        _begin(self.lab)

    def teardown(self) -> None:
        db.session.remove()
        db.engine.dispose()
        self.context.pop()

    @rule(role=st.sampled_from(ROLES), place=st.sampled_from(PLACES), span=hours, guests=st.integers(0, 3))
    def book(self, role: str, place: str, span: Span, guests: int) -> None:
        self._try(lambda: self.lab.book(place, span, role=role, plan=Plan(guests=guests)))

    @rule(units=st.integers(1, 4), students=st.none() | st.integers(0, 5), span=hours)
    def book_class(self, units: int, students: int | None, span: Span) -> None:
        self._try(
            lambda: service.book_class(
                self.lab.act("instructor"),
                person_id=self.lab.ids["instructor"],
                station_id=self.lab.ids["Enlarger"],
                span=span,
                units=units,
                class_name="First prints",
                plan=Plan(),
                students=students,
            )
        )

    @precondition(lambda self: self._standing())
    @rule(data=st.data(), span=hours, guests=st.integers(0, 3), units=st.integers(1, 4))
    def move(self, data: st.DataObject, span: Span, guests: int, units: int) -> None:
        booking = data.draw(st.sampled_from(self._standing()))
        self._try(
            lambda: service.change(
                self.lab.act(booking.person),
                booking_id=booking.id,
                version=booking.version,
                span=span,
                plan=Plan(guests=guests),
                units=units if booking.class_name else None,
            )
        )

    @precondition(lambda self: self._standing())
    @rule(data=st.data())
    def cancel(self, data: st.DataObject) -> None:
        booking = data.draw(st.sampled_from(self._standing()))
        self._try(lambda: service.cancel(self.lab.act(booking.person), booking_id=booking.id))

    @rule(role=st.sampled_from(ROLES), place=st.sampled_from(PLACES), span=hours)
    def wait(self, role: str, place: str, span: Span) -> None:
        self._try(
            lambda: waiting.wait(
                self.lab.act(role), station_id=self.lab.ids[place], window=span, minutes=30, plan=Plan()
            )
        )

    @precondition(lambda self: self._offered())
    @rule(data=st.data(), takes=st.booleans())
    def answer(self, data: st.DataObject, takes: bool) -> None:
        wait = data.draw(st.sampled_from(self._offered()))
        answer = waiting.accept if takes else waiting.decline
        self._try(lambda: answer(self.lab.act(wait.person), wait_id=wait.id))

    @rule(minutes=st.sampled_from([5, 300]))
    def time_passes(self, minutes: int) -> None:
        """Offers lapse and go to the next, as the lab itself sees to."""
        self.lab.tick(minutes=minutes)
        for wait_id in waiting.lapsed_ids(db.session, now=self.lab.now):
            waiting.lapse(Act(db.session, by=None, now=self.lab.now), wait_id=wait_id)
        whole_day = Span(TOMORROW, TOMORROW + timedelta(days=1))
        waiting.offer_free(Act(db.session, by=None, now=self.lab.now), window=whole_day)

    @rule(data=st.data(), span=hours, later=st.integers(1, 16))
    def close(self, data: st.DataObject, span: Span, later: int) -> None:
        """Close the lab, a place or a unit; each booking is moved, given another unit, cancelled or left."""
        unit = data.draw(st.sampled_from(db.session.execute(select(StationUnit)).scalars().all()))
        scopes = [Scope(), Scope(station_id=unit.station_id), Scope(unit_id=unit.id)]
        answers = {}
        for booking in self._standing():
            own, by = Span(booking.starts_at, booking.ends_at), timedelta(minutes=15 * later)
            moved = Span(own.start + by, own.end + by)
            fates = [Answer(Fate.MOVE, moved), Answer(Fate.MOVE, own), Answer(Fate.CANCEL), Answer(Fate.KEEP)]
            answers[booking.id] = data.draw(st.sampled_from(fates))
        scope = data.draw(st.sampled_from(scopes))
        self._try(
            lambda: closing.close(self.lab.act("technician"), span=span, reason="Broken", scope=scope, answers=answers)
        )

    @invariant()
    def no_unit_is_taken_twice(self) -> None:
        by_unit: dict[int, list[tuple[datetime, datetime]]] = {}
        for held in db.session.execute(select(Hold)).scalars():
            by_unit.setdefault(held.unit_id, []).append((held.starts_at, held.ends_at))
        for times in by_unit.values():
            for (_, ends), (starts, _) in zip(sorted(times), sorted(times)[1:], strict=False):
                assert ends <= starts

    @invariant()
    def no_room_is_too_full(self) -> None:
        """The room is one; whoever holds several units of it at once is there once, with all they bring."""
        brought: dict[tuple[str, int], tuple[datetime, datetime, int, int]] = {}
        for held in db.session.execute(select(Hold)).scalars():
            booking = held.booking
            key = ("booking", booking.id) if booking else ("offer", held.wait_id or 0)
            people, taught = _brought_by(booking)
            starts, ends, _, _ = brought.get(key, (held.starts_at, held.ends_at, 0, 0))
            brought[key] = (min(starts, held.starts_at), max(ends, held.ends_at), people, taught)
        for moment, *_ in brought.values():
            there = [row for row in brought.values() if row[0] <= moment < row[1]]
            assert sum(people for *_, people, _ in there) <= MOST_PEOPLE
            assert sum(taught for *_, taught in there) <= MOST_TAUGHT

    def _standing(self) -> list[Booking]:
        query = select(Booking).where(Booking.cancelled_at.is_(None)).order_by(Booking.id)
        return list(db.session.execute(query).scalars())

    def _offered(self) -> list[Wait]:
        query = select(Wait).where(Wait.offered_until.is_not(None), Wait.ended_at.is_(None)).order_by(Wait.id)
        return list(db.session.execute(query).scalars())

    def _try(self, doing: Callable[[], object]) -> None:
        with contextlib.suppress(Refused):
            doing()


def _brought_by(booking: Booking | None) -> tuple[int, int]:
    if booking is None:
        return 1, 0  # an offer stands for one
    if not booking.class_name:
        return 1 + booking.guests, 0
    students = booking.units if booking.students is None else booking.students
    return students + 1 + booking.guests, students


def test_any_sequence_of_acts_leaves_each_unit_to_one_and_no_room_too_full(
    new_app: Callable[..., Flask], templates: Templates, backend: str
):
    class InNewLabs(BusyDay):
        new_lab = templates.lab

    InNewLabs.new_app = staticmethod(new_app)
    examples, steps = (6, 20) if backend == "sqlite" else (2, 12)
    run_state_machine_as_test(
        InNewLabs,
        settings=settings(
            max_examples=examples, stateful_step_count=steps, deadline=None, suppress_health_check=list(HealthCheck)
        ),
    )
