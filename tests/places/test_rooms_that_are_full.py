"""A room takes so many people for fire, everybody counted, and so many students; one unit may be wanted, or any."""

from datetime import UTC, datetime, timedelta

import pytest

from labsys.bookings import service as bookings
from labsys.bookings.free import Present, RoomShare
from labsys.bookings.models import Booking
from labsys.bookings.rules import BookingRefused, Plan, SlotTaken
from labsys.places.models import Room
from labsys.timetable.spans import Span
from tests.support.lab import SmallLab
from tests.support.pages import fill_in, page_at, text

TOMORROW = datetime(2026, 3, 3, tzinfo=UTC)


def at(start: float, end: float) -> Span:
    return Span(TOMORROW + timedelta(hours=start), TOMORROW + timedelta(hours=end))


@pytest.fixture
def furnished(lab: SmallLab, monkeypatch: pytest.MonkeyPatch) -> SmallLab:
    lab.add_places()
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    return lab


def limit(lab, **limits):
    room = lab.session.query(Room).one()
    for name, number in limits.items():
        setattr(room, name, number)
    lab.session.commit()


def share(*there, people=1, taught=0, most_people=None, most_taught=None):
    present = [Present(span, *heads) for span, heads in there]
    return RoomShare("Wet room", most_people, most_taught, people, taught, timedelta(), present)


def test_those_who_follow_each_other_are_not_there_at_once():
    one_after_the_other = share((at(10, 12), (2, 0)), (at(12, 14), (2, 0)), most_people=3)
    assert one_after_the_other.why_full(at(10, 14)) is None
    at_once = share((at(10, 12), (2, 0)), (at(11, 14), (1, 0)), most_people=3)
    assert at_once.why_full(at(10, 14)) == "Wet room is full then: 3 people at most, for fire."
    assert at_once.why_full(at(12, 14)) is None
    assert share((at(10, 12), (9, 8)), people=9, taught=8).why_full(at(10, 12)) is None  # nothing is stated


def test_one_who_holds_two_places_of_a_room_is_one_person(furnished):
    limit(furnished, most_people=2)
    furnished.book("Enlarger", at(10, 12))  # with a place at the wet side
    furnished.book("Film sink", at(10, 12))
    with pytest.raises(SlotTaken, match="Wet room is full then: 2 people at most, for fire") as refused:
        furnished.book("Enlarger", at(10, 12))
    assert at(12.25, 14.25) in refused.value.nearest  # once the film sink is cleared up
    assert furnished.count(Booking) == 2


def a_class(lab, units, span):
    return bookings.book_class(
        lab.act("instructor"),
        person_id=lab.ids["instructor"],
        station_id=lab.ids["Wet side"],
        span=span,
        units=units,
        class_name="First prints",
        plan=Plan(),
    )


def test_a_class_counts_its_instructor_for_fire_and_its_students_for_teaching(furnished):
    limit(furnished, most_people=5)
    with pytest.raises(SlotTaken, match="5 people at most"):
        a_class(furnished, 5, at(10, 12))
    a_class(furnished, 4, at(10, 12))
    with pytest.raises(SlotTaken):
        furnished.book("Film sink", at(10, 12))
    limit(furnished, most_people=20, most_taught=5)
    with pytest.raises(SlotTaken, match="takes 5 students at once"):
        a_class(furnished, 2, at(10, 12))
    furnished.book("Film sink", at(10, 12))


def test_a_booking_made_longer_does_not_overfill_the_room(furnished):
    limit(furnished, most_people=1)
    first = furnished.book("Film sink", at(10, 12))
    furnished.book("Film sink", at(13, 14))
    with pytest.raises(SlotTaken):
        bookings.change(
            furnished.act("member"), booking_id=first.id, version=first.version, span=at(10, 13.5), plan=Plan()
        )


@pytest.mark.sqlite_only
def test_one_of_equal_enlargers_is_booked_by_its_number_or_any(furnished, client_as):
    member = client_as("member")
    path = f"/bookings/book?station={furnished.ids['Enlarger']}&day=2026-03-03&from=10:00&to=12:00"
    assert fill_in(member, path, number=3).status_code == 303
    held = [hold.unit.number for hold in furnished.session.query(Booking).one().holds]
    assert held == [3, 1]  # the enlarger asked for, and any place at the wet side
    assert "Enlarger is taken then" in text(fill_in(member, path, number=3))
    assert fill_in(member, path).status_code == 303
    with pytest.raises(BookingRefused, match="has no number 9"):
        furnished.book("Enlarger", at(14, 16), number=9)


@pytest.mark.sqlite_only
def test_what_is_said_of_a_room_and_a_place_is_typed_shown_and_holds(furnished, client_as):
    technician, member = client_as("technician"), client_as("member")
    room = furnished.session.query(Room).one()
    assert page_at(member, "/places").count("not stated") == 4
    said = {"most_people": 1, "step_free": "no", "looked_into": "yes", "helps": "the fire alarm flashes"}
    assert fill_in(technician, f"/places/rooms/{room.id}/change", **said).status_code == 303
    shown = text(member.get("/places"))
    assert "Most people, for fire 1" in shown
    assert "Can be looked into yes" in shown
    assert "the fire alarm flashes" in shown
    sink = f"/places/stations/{furnished.ids['Film sink']}"
    sent = {"lowest_cm": 75, "highest_cm": 95, "clean_down": "wipe and rinse"}
    assert fill_in(technician, f"{sink}/change", **sent).status_code == 303
    assert "75 to 95 cm" in page_at(member, sink)
    assert "The highest is not under" in text(fill_in(technician, f"{sink}/change", highest_cm=60))
    furnished.book("Film sink", at(10, 12), role="instructor")
    enlarger = f"/bookings/book?station={furnished.ids['Enlarger']}&day=2026-03-03&from=10:00&to=12:00"
    refused = fill_in(member, enlarger)
    assert "Wet room is full then: one person at most, for fire" in text(refused)
    assert refused.status_code == 422
    assert "fewer can be taught" in text(
        fill_in(technician, f"/places/rooms/{room.id}/change", most_people=4, most_taught=4)
    )
