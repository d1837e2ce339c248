"""A closure says whom it hits and settles it in one act: pages as the technician meets them, acts on both databases."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import func, select

from labsys.bookings import queries as booking_queries
from labsys.bookings import service as bookings
from labsys.bookings.models import Booking, Hold
from labsys.bookings.rules import BookingRefused, SlotTaken
from labsys.closing import service
from labsys.closing.rules import Answer, Fate, NewTimeGone, NotAnswered, Scope
from labsys.mail.models import OutgoingMail
from labsys.membership import enrolment
from labsys.membership.service import set_rules
from labsys.people import service as people
from labsys.people.models import Role
from labsys.people.permissions import NotPermitted
from labsys.places import service as places
from labsys.places.models import Closure, Room, RoomKind, StationUnit
from labsys.places.rules import RoomFacts, StationFacts
from labsys.records.models import Admits
from labsys.timetable.opening import Hours
from labsys.timetable.spans import Span
from tests.bookings.test_races import OVERLAPS
from tests.support.lab import SmallLab
from tests.support.pages import as_it_stands, fill_in, form_of, page_at, press, source, statements, text

TOMORROW = datetime(2026, 3, 3, tzinfo=UTC)  # a Tuesday; London keeps UTC then


def at(start: float, end: float, *, days: int = 0) -> Span:
    day = TOMORROW + timedelta(days=days)
    return Span(day + timedelta(hours=start), day + timedelta(hours=end))


@pytest.fixture
def furnished(lab: SmallLab, monkeypatch: pytest.MonkeyPatch) -> SmallLab:
    lab.add_places()
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    return lab


def said(margin_minutes):
    return StationFacts(margin_minutes=margin_minutes, position=9, note="")


def unit_of(lab, station, number):
    return lab.session.scalars(
        select(StationUnit).where(StationUnit.station_id == lab.ids[station], StationUnit.number == number)
    ).one()


def on_unit(lab, unit_id):
    lab.session.expire_all()
    return [hold.booking_id for hold in lab.session.scalars(select(Hold).where(Hold.unit_id == unit_id))]


def close(lab, scope, span, **answers):
    return service.close(lab.act("technician"), scope=scope, span=span, reason="new lamp", **answers)


def moving(lab, scope, span):
    """What the page proposes: the best move of each, as the act takes it."""
    hits = service.hits_of(lab.session, scope=scope, span=span, reason="new lamp", now=lab.now)
    return {hit.booking.id: Answer(Fate.MOVE, hit.moves[0]) for hit in hits}


# Through the pages


@pytest.mark.sqlite_only
def test_one_broken_enlarger_is_closed_for_three_days_and_its_five_bookings_move_in_one_act(furnished, client_as):
    technician = client_as("technician")
    five = [
        furnished.book("Enlarger", at(10 + 4 * (number % 2), 12 + 4 * (number % 2), days=number // 2)).id
        for number in range(5)
    ]
    broken = unit_of(furnished, "Enlarger", 1).id
    assert on_unit(furnished, broken) == five
    closing = {"what": f"unit-{broken}", "starts": "2026-03-03T00:00", "ends": "2026-03-06T00:00", "reason": "new lamp"}
    asked = fill_in(technician, "/places/closures/add", **closing)
    assert asked.status_code == 200
    assert "It hits 5 booked then" in text(asked)
    assert text(asked).count("Other unit, same time") == 5
    assert furnished.count(Closure) == 0
    done = press_form(technician, source(asked), closing)
    assert done.status_code == 303
    assert on_unit(furnished, broken) == []
    moved = furnished.session.scalars(select(Booking).order_by(Booking.id)).all()
    assert [len(booking.holds) for booking in moved] == [2] * 5  # an enlarger, and a place at the wet side
    assert [booking.starts_at for booking in moved[:2]] == [at(10, 12).start, at(14, 16).start]
    letters = furnished.session.scalars(select(OutgoingMail).order_by(OutgoingMail.id)).all()
    assert [letter.person_id for letter in letters[-5:]] == [furnished.ids["member"]] * 5
    first = letters[-5]
    assert first.subject.startswith("Moved: Enlarger, Tue 3 Mar 2026, 10:00 to 12:00")
    assert "Enlarger 1 is closed" in first.body
    assert "You have: Enlarger 2, Wet side" in first.body
    assert first.path == f"/bookings/{five[0]}"
    board = page_at(client_as("member"), "/bookings?day=2026-03-04")
    assert "Enlarger 1 is closed Tue 3 Mar 2026, 00:00 to Fri 6 Mar, 00:00: new lamp." in board
    closure = furnished.session.scalars(select(Closure)).one()
    assert press(technician, f"/places/closures/{closure.id}/remove", at="/places").status_code == 303
    assert "new lamp" not in page_at(client_as("member"), "/bookings?day=2026-03-04")


def press_form(client, page, closing):
    """Send the page that asks, as it came, with what was typed."""
    return client.post("/places/closures/add", data={**as_it_stands(form_of(page)), **closing})


@pytest.mark.sqlite_only
def test_taking_out_of_use_asks_says_whom_it_hits_and_can_be_undone(furnished, client_as):
    technician = client_as("technician")
    booking = furnished.book("Film sink", at(10, 12))
    path = f"/places/stations/{furnished.ids['Film sink']}"
    asked = page_at(technician, f"{path}/close")
    assert "Łukasz Żak" in asked
    assert "Tue 3 Mar 2026, 10:00 to 12:00" in asked
    assert fill_in(technician, f"{path}/close", for_all="cancel").status_code == 303
    furnished.session.expire_all()
    assert furnished.session.get_one(Booking, booking.id).cancelled_at is not None
    assert "Film sink is out of use." in furnished.session.scalars(select(OutgoingMail)).all()[-1].body
    with pytest.raises(BookingRefused, match="out of use"):
        furnished.book("Film sink", at(10, 12))
    assert press(technician, f"{path}/bring-back", at=path).status_code == 303
    furnished.book("Film sink", at(10, 12))


@pytest.mark.sqlite_only
def test_a_booking_is_not_moved_to_a_day_on_which_its_person_may_not_come(furnished, client_as):
    """All that is asked of a booking is asked again at its new time: here the membership, which has ended by then."""
    for starts_on, ends_on in ((date(2026, 3, 1), date(2026, 3, 3)), (date(2026, 3, 5), date(2026, 3, 31))):
        enrolment.enter_term(
            furnished.act("technician"), person_id=furnished.ids["member"], starts_on=starts_on, ends_on=ends_on
        )
    set_rules(furnished.act("manager"), admits_under_18=Admits.NOT_STATED, asks={"asks_term": True})
    booked = furnished.book("Film sink", at(10, 12))
    technician, starts_at = client_as("technician"), booked.starts_at
    what = f"place-{furnished.ids['Film sink']}"
    closing = {"what": what, "starts": "2026-03-02T00:00", "ends": "2026-03-04T00:00", "reason": "no water"}
    asked = source(fill_in(technician, "/places/closures/add", **closing))
    to_the_4th = re.search(r"move 2026-03-04T[^\"]+", asked)[0]
    refused = press_form(technician, asked, {**closing, f"answer-{booked.id}": to_the_4th})
    assert refused.status_code == 422
    assert "Łukasz Żak cannot be moved to Wed 4 Mar 2026, " in text(refused)
    assert "Your membership begins on 5 Mar 2026" in text(refused)
    assert furnished.count(Closure) == 0
    furnished.session.expire_all()
    assert furnished.session.get_one(Booking, booked.id).starts_at == starts_at
    left = {**closing, f"answer-{booked.id}": Answer(Fate.KEEP).key}
    assert press_form(technician, source(refused), left).status_code == 303


@pytest.mark.sqlite_only
def test_a_member_closes_nothing(furnished, client_as):
    assert client_as("member").get("/places/closures/add").status_code == 403
    with pytest.raises(NotPermitted):
        service.close(furnished.act("member"), span=at(10, 12), reason="x")


@pytest.mark.sqlite_only
def test_fewer_units_are_refused_by_name_while_somebody_is_booked_on_them(furnished, client_as):
    technician = client_as("technician")
    for _ in range(3):
        furnished.book("Enlarger", at(10, 12))
    path = f"/places/stations/{furnished.ids['Enlarger']}/change"
    refused = fill_in(technician, path, units=2)
    assert refused.status_code == 422
    assert "is booked on Enlarger 3 from 3 Mar 2026, 10:00" in text(refused)
    assert fill_in(technician, path, units=3).status_code == 303


# The acts


def test_a_booking_made_after_the_list_was_read_is_not_closed_over(furnished):
    scope, span = Scope(unit_id=unit_of(furnished, "Enlarger", 1).id), at(0, 72)
    furnished.book("Enlarger", at(10, 12))
    answers = moving(furnished, scope, span)
    furnished.book("Enlarger", at(14, 16))
    with pytest.raises(NotAnswered, match="One booking is hit"):
        close(furnished, scope, span, answers=answers)
    assert furnished.count(Closure) == 0


def test_a_new_time_that_was_taken_meanwhile_refuses_the_whole_act(furnished):
    booking = furnished.book("Film sink", at(10, 12))
    span = at(0, 24)
    answers = moving(furnished, Scope(), span)
    furnished.book("Film sink", answers[booking.id].span)
    with pytest.raises(NewTimeGone, match="Look at the list again"):
        close(furnished, Scope(), span, answers=answers)
    assert furnished.count(Closure) == 0
    assert furnished.session.get_one(Booking, booking.id).starts_at == at(10, 12).start


def test_the_whole_lab_closed_moves_everybody_to_days_it_is_open_beside_each_other(furnished):
    for hour in (10, 12.5, 15):
        furnished.book("Film sink", at(hour, hour + 2))
    span = at(0, 24)
    close(furnished, Scope(), span, answers=moving(furnished, Scope(), span))
    furnished.session.expire_all()
    moved = sorted(booking.starts_at for booking in furnished.session.scalars(select(Booking)))
    assert len(set(moved)) == 3
    assert all(not at(0, 24).overlaps(Span(start, start + timedelta(hours=2))) for start in moved)
    pairs = select(func.count()).select_from(Hold)
    assert furnished.session.scalar(pairs) == 3


def test_a_closed_room_closes_what_stands_in_it_and_what_brings_it(furnished):
    dry = places.add_room(furnished.act("technician"), name="Finishing", facts=RoomFacts(kind=RoomKind.DRY_SIDE))
    press_ = places.add_station(furnished.act("technician"), room_id=dry.id, name="Dry press", units=1, facts=said(0))
    furnished.ids["Dry press"] = press_.id
    wet = furnished.session.scalars(select(Room).where(Room.name == "Wet room")).one()
    close(furnished, Scope(room_id=wet.id), at(0, 24))
    with pytest.raises(BookingRefused, match="Wet room is closed"):
        furnished.book("Enlarger", at(10, 12))
    furnished.book("Dry press", at(10, 12))
    close(furnished, Scope(station_id=furnished.ids["Wet side"]), at(24, 48))
    with pytest.raises(BookingRefused, match="Wet side is closed"):
        furnished.book("Enlarger", at(34, 36))


def test_a_unit_that_is_closed_is_not_given_and_the_last_one_closed_is_taken(furnished):
    for number in (1, 2, 3):
        close(furnished, Scope(unit_id=unit_of(furnished, "Enlarger", number).id), at(0, 24))
    booking = furnished.book("Enlarger", at(10, 12))
    held = booking_queries.booking_or_raise(furnished.session, booking.id).holds
    assert [hold.unit.number for hold in held if hold.unit.station_id == furnished.ids["Enlarger"]] == [4]
    with pytest.raises(SlotTaken):
        furnished.book("Enlarger", at(10, 12))


def test_whoever_is_here_is_not_cancelled_and_not_moved_in_time(furnished):
    booking = furnished.book("Film sink", at(10, 12))
    furnished.now = at(10, 12).start
    bookings.arrive(furnished.act("member"), booking_id=booking.id)
    with pytest.raises(BookingRefused, match="The work has begun"):
        close(furnished, Scope(), at(0, 24), answers={booking.id: Answer(Fate.CANCEL)})
    with pytest.raises(BookingRefused, match="The work has begun"):
        close(furnished, Scope(), at(0, 24), answers={booking.id: Answer(Fate.MOVE, at(34, 36))})
    close(furnished, Scope(), at(0, 24), answers={booking.id: Answer(Fate.KEEP)})


# Hours of a room and of single days


def test_a_room_keeps_its_own_hours_and_a_day_has_others(furnished):
    wet = furnished.session.scalars(select(Room).where(Room.name == "Wet room")).one()
    afternoons = [Hours(day, 14 * 60, 18 * 60) for day in range(7)]
    places.set_opening_hours(furnished.act("technician"), hours=afternoons, room_id=wet.id)
    with pytest.raises(BookingRefused, match="Wet room is open 14:00-18:00 on Tuesday 3 March"):
        furnished.book("Film sink", at(10, 12))
    late = [Hours(1, 14 * 60, 24 * 60)]
    places.set_special_hours(furnished.act("technician"), day=TOMORROW.date(), hours=late, room_id=wet.id)
    furnished.book("Film sink", at(21, 23.5))
    with pytest.raises(BookingRefused, match="Wet room is open 14:00-18:00 on Wednesday"):
        furnished.book("Film sink", at(21, 23, days=1))
    places.set_special_hours(furnished.act("technician"), day=TOMORROW.date(), hours=[], room_id=wet.id)
    with pytest.raises(BookingRefused, match="Wet room is open 14:00-18:00 on Tuesday 3 March"):
        furnished.book("Film sink", at(19, 20.5))


@pytest.mark.sqlite_only
def test_hours_of_a_room_and_of_a_day_are_set_by_pages_and_the_form_to_book_follows_them(furnished, client_as):
    technician, member = client_as("technician"), client_as("member")
    wet = furnished.session.scalars(select(Room).where(Room.name == "Wet room")).one()
    week = dict.fromkeys(("monday", "tuesday", "wednesday", "thursday", "friday"), "14:00-18:00")
    assert fill_in(technician, f"/places/opening-hours?room={wet.id}", **week).status_code == 303
    assert "14:00-18:00" in page_at(member, "/places")
    sent = {"room": 0, "day": "2026-03-03", "hours": "16:00-20:00"}
    assert fill_in(technician, "/places/special-hours", **sent).status_code == 303
    assert "Tuesday 3 Mar 2026: 16:00-20:00" in page_at(member, "/places")
    form = page_at(member, f"/bookings/book?day=2026-03-04&station={furnished.ids['Film sink']}")
    assert '<option selected value="840">14:00</option>' in form
    refused = fill_in(technician, "/places/special-hours", day="2026-03-01", hours="10:00-12:00")
    assert "That day is over" in text(refused)
    refused = fill_in(technician, "/places/special-hours", day="2026-03-09", hours="18:00-12:00")
    assert "closing comes after opening" in text(refused)


def a_member(lab, number):
    invited = people.invite_person(
        lab.act("manager"), name=f"Member {number}", email=f"member.{number}@example.org", roles=[Role.MEMBER]
    )
    lab.come_in(f"member {number}", invited)
    return f"member {number}"


@pytest.mark.slow
def test_a_closure_that_hits_80_bookings_moves_each_with_few_questions_to_the_database(furnished):
    """The lock is held while the act runs; how long that took is measured by hand, what it asks is counted here."""
    room = furnished.session.scalars(select(Room)).one()
    hall = places.add_station(furnished.act("technician"), room_id=room.id, name="Hall", units=20, facts=said(15))
    furnished.ids["Hall"] = hall.id
    members = [a_member(furnished, number) for number in range(20)]
    for number in range(80):
        hour = 10 + 3 * (number // 20)
        furnished.book("Hall", at(hour, hour + 2), role=members[number % 20])
    scope, span = Scope(station_id=hall.id), at(0, 96)
    answers = moving(furnished, scope, span)
    assert len(answers) == 80
    with statements() as sent:
        close(furnished, scope, span, answers=answers)
    assert len(sent) < 80 * 10  # what is asked of each booking anew at its own new time, and the rest together
    furnished.session.expire_all()
    assert not furnished.session.scalars(
        select(Booking.id).where(Booking.starts_at < span.end, Booking.ends_at > span.start)
    ).all()
    assert furnished.session.execute(OVERLAPS).scalar_one() == 0
