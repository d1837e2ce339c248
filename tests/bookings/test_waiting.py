"""The waiting list: who waits, what is offered when something frees, and offers that are taken, declined or lapse."""

from datetime import UTC, datetime, timedelta

import pytest

from labsys.bookings import keeping_fair, not_coming, offering, service, waiting
from labsys.bookings.fair_use import BeyondFairUse, Limits
from labsys.bookings.models import Booking, Hold, Wait, WaitEnd
from labsys.bookings.rules import BookingRefused, Plan, SlotTaken
from labsys.closing import service as closing
from labsys.closing.rules import Scope
from labsys.inductions.rules import NotCleared
from labsys.mail.models import OutgoingMail
from labsys.people import service as people
from labsys.people.acts import Act
from labsys.people.models import Role
from labsys.people.permissions import NotPermitted
from labsys.places import service as places
from labsys.places.models import Room
from labsys.timetable.opening import Hours
from tests.bookings.conftest import TOMORROW, at
from tests.support.lab import do
from tests.support.pages import fill_in, links, page_at, press, text

DAY = "2026-03-03"


def wait(lab, *, role="member", station="Film sink", window=None, minutes=120, **changes):
    arguments = {"station_id": lab.ids[station], "window": window or at(10, 14), "minutes": minutes, "plan": Plan()}
    return waiting.wait(lab.act(role), **{**arguments, **changes})


def the_lab(lab, act, now=None, **arguments):
    """Have the lab itself do something, as its runner does."""
    return act(Act(lab.session, by=None, now=now or lab.tick()), **arguments)


def offers(lab):
    """What stands offered: to whom, and in which hours of the day after the start."""
    rows = lab.session.query(Wait).filter(Wait.offered_until.is_not(None), Wait.ended_at.is_(None))
    roles = {key: role for role, key in lab.ids.items() if role in set(Role)}
    hour = timedelta(hours=1)
    return [
        (roles[row.person_id], (row.offered.start - TOMORROW) / hour, (row.offered.end - TOMORROW) / hour)
        for row in rows.order_by(Wait.id)
    ]


def letters(lab, begins):
    return [mail for mail in lab.session.query(OutgoingMail) if mail.subject.startswith(begins)]


@pytest.fixture
def full(furnished):
    """The one film sink is the technician's from ten to two, tomorrow."""
    furnished.booking = furnished.book("Film sink", at(10, 14), role="technician")
    return furnished

    # What becomes free is offered


def test_what_is_cancelled_is_offered_to_whoever_waits_longest_and_held_for_them(full):
    first, second = wait(full), wait(full, role="instructor")
    service.cancel(full.act("technician"), booking_id=full.booking.id)
    assert offers(full) == [("member", 10, 12)]
    assert first.offered_until == full.now + timedelta(minutes=240)
    (letter,) = letters(full, "Free for you: Film sink")
    assert letter.person_id == full.ids["member"]
    assert [hold.wait_id for hold in full.session.query(Hold)] == [first.id]
    with pytest.raises(BookingRefused, match="Film sink is taken then"):
        full.book("Film sink", at(10, 12), role="technician")
    assert second.offered is None


def test_two_who_fit_beside_each_other_are_both_offered(full):
    wait(full, minutes=60), wait(full, role="instructor", minutes=60)
    service.cancel(full.act("technician"), booking_id=full.booking.id)
    assert offers(full) == [("member", 10, 11), ("instructor", 11.25, 12.25)]


def frees_by_moving(lab):
    booking = lab.booking
    service.change(lab.act("technician"), booking_id=booking.id, version=booking.version, span=at(16, 18), plan=Plan())


def frees_by_leaving(lab):
    service.arrive(lab.act("technician", now=at(9.75, 11).start), booking_id=lab.booking.id)
    service.leave(lab.act("technician", now=at(10.5, 11).start), booking_id=lab.booking.id)


def frees_by_not_coming(lab):
    keeping_fair.set_arriving(lab.act("technician"), free_after_minutes=30, late_cancel_minutes=None, offer_minutes=240)
    the_lab(lab, not_coming.give_free, now=at(10.5, 11).start, booking_id=lab.booking.id)


@pytest.mark.parametrize(
    ("frees", "hours"),
    [(frees_by_moving, (10, 12)), (frees_by_leaving, (10.75, 12.75)), (frees_by_not_coming, (10.75, 12.75))],
)
def test_moving_leaving_early_and_not_coming_free_a_place_for_whoever_waits(full, frees, hours):
    wait(full)
    frees(full)
    assert offers(full) == [("member", *hours)]


def test_a_closure_that_is_lifted_frees_a_place_and_one_that_is_set_takes_the_offer_back(furnished):
    closure = closing.close(
        furnished.act("technician"),
        scope=Scope(station_id=furnished.ids["Film sink"]),
        span=at(10, 13),
        reason="Painting",
    )
    waits = wait(furnished, window=at(10, 14.5), minutes=120)
    closing.lift(furnished.act("technician"), closure_id=closure.id)
    assert offers(furnished) == [("member", 10, 12)]
    closing.close(furnished.act("technician"), span=at(11, 13), reason="No water")
    assert offers(furnished) == []
    assert furnished.count(Hold) == 0
    assert waits.ended_at is None
    (letter,) = letters(furnished, "Not free after all")
    assert "You keep your place on the waiting list" in letter.body


def test_longer_hours_free_a_place_with_the_next_look_of_the_runner(full):
    places.set_opening_hours(full.act("technician"), hours=[Hours(day, 600, 900) for day in range(7)])
    wait(full, window=at(10, 18))
    assert waiting.windows_with_room(full.session, now=full.now) == []
    places.set_opening_hours(full.act("technician"), hours=[Hours(day, 600, 1320) for day in range(7)])
    (window,) = waiting.windows_with_room(full.session, now=full.now)
    assert the_lab(full, waiting.offer_free, window=window) == 1
    assert offers(full) == [("member", 14.25, 16.25)]
    assert waiting.windows_with_room(full.session, now=full.now) == []


def test_a_place_that_comes_with_another_frees_that_one_too(furnished):
    bookings = [furnished.book("Wet side", at(10, 14), role="technician") for _ in range(6)]
    wait(furnished, station="Enlarger")
    service.cancel(furnished.act("technician"), booking_id=bookings[0].id)
    assert offers(furnished) == [("member", 10, 12)]
    assert furnished.session.query(Hold).filter(Hold.wait_id.is_not(None)).count() == 2


def test_whoever_an_offer_stands_for_counts_in_the_room(full):
    full.session.query(Room).one().most_people = 1
    full.session.commit()
    wait(full)
    service.cancel(full.act("technician"), booking_id=full.booking.id)
    with pytest.raises(SlotTaken, match="Wet room is full then: one person at most, for fire"):
        full.book("Enlarger", at(10, 11), role="instructor")

    # Who may have it


def test_whoever_may_not_have_it_is_passed_over_and_waits_on(full):
    keeping_fair.set_limits(full.act("technician"), role=Role.MEMBER, limits=Limits(most_open=1))
    waits = wait(full)
    wait(full, role="instructor")
    full.book("Enlarger", at(18, 19))
    service.cancel(full.act("technician"), booking_id=full.booking.id)
    assert offers(full) == [("instructor", 10, 12)]
    assert waits.ended_at is None


def test_nobody_is_offered_a_time_at_which_they_are_booked_elsewhere(full):
    wait(full)
    full.book("Enlarger", at(10, 11))
    service.cancel(full.act("technician"), booking_id=full.booking.id)
    assert offers(full) == [("member", 11, 13)]


def test_whoever_could_not_book_it_cannot_wait_for_it(full):
    induction = full.add_induction("Film sink", station_ids={full.ids["Film sink"]})
    with pytest.raises(NotCleared):
        wait(full)
    full.appoint(induction)
    wait(full, role="instructor")
    service.cancel(full.act("technician"), booking_id=full.booking.id)
    assert offers(full) == [("instructor", 10, 12)]


def test_whoever_left_the_lab_is_off_the_list_and_what_was_held_passes_on(full):
    wait(full)
    wait(full, role="instructor")
    service.cancel(full.act("technician"), booking_id=full.booking.id)
    do(people.close_account, full.session, actor=full.person("manager"), now=full.tick(), person_id=full.ids["member"])
    the_lab(full, waiting.end_old)
    assert offers(full) == [("instructor", 10, 12)]
    assert the_lab(full, waiting.end_old) == 0

    # Taking, declining, leaving, lapsing


@pytest.fixture
def offered(full):
    """The member has the offer of ten to twelve tomorrow; the instructor waits next."""
    full.wait = wait(full)
    full.next = wait(full, role="instructor")
    service.cancel(full.act("technician"), booking_id=full.booking.id)
    return full


def test_an_offer_that_is_taken_is_a_booking_and_holds_what_was_held(offered):
    held = [(hold.unit_id, hold.starts_at, hold.ends_at) for hold in offered.session.query(Hold)]
    booking = waiting.accept(offered.act("member"), wait_id=offered.wait.id)
    assert [(hold.unit_id, hold.starts_at, hold.ends_at) for hold in booking.holds] == held
    assert (booking.starts_at, booking.ends_at) == (at(10, 12).start, at(10, 12).end)
    assert (offered.wait.ending, offered.wait.booking_id) == (WaitEnd.BOOKED, booking.id)
    with pytest.raises(BookingRefused, match="over: booked"):
        waiting.accept(offered.act("member"), wait_id=offered.wait.id)
    assert offered.session.query(Hold).count() == 1


def test_an_offer_is_checked_as_any_booking_when_it_is_taken(offered):
    keeping_fair.set_limits(offered.act("technician"), role=Role.MEMBER, limits=Limits(longest_minutes=60))
    with pytest.raises(BeyondFairUse):
        waiting.accept(offered.act("member"), wait_id=offered.wait.id)
    assert offers(offered) == [("member", 10, 12)]


@pytest.mark.parametrize(("act", "ending"), [(waiting.decline, WaitEnd.DECLINED), (waiting.leave_list, WaitEnd.LEFT)])
def test_declining_and_leaving_pass_it_on(offered, act, ending):
    act(offered.act("member"), wait_id=offered.wait.id)
    assert offered.wait.ending is ending
    assert offers(offered) == [("instructor", 10, 12)]
    with pytest.raises(BookingRefused, match="This is over"):
        act(offered.act("member"), wait_id=offered.wait.id)


def test_an_offer_lapses_once_and_passes_on_and_taken_late_it_is_refused_with_what_is_free(offered):
    late = offered.wait.offered_until
    assert waiting.lapsed_ids(offered.session, now=late - timedelta(seconds=1)) == []
    assert waiting.lapsed_ids(offered.session, now=late) == [offered.wait.id]
    with pytest.raises(waiting.OfferOver, match=r"This offer stood until Mon 2 Mar, .* Free near then: Tue 3 Mar"):
        waiting.accept(offered.act("member", now=late), wait_id=offered.wait.id)
    the_lab(offered, waiting.lapse, now=late, wait_id=offered.wait.id)
    assert offers(offered) == [("instructor", 10, 12)]
    assert the_lab(offered, waiting.lapse, now=late, wait_id=offered.wait.id) is None
    with pytest.raises(waiting.OfferOver) as over:
        waiting.accept(offered.act("member", now=late), wait_id=offered.wait.id)
    assert at(12.25, 14.25) in over.value.nearest
    assert at(10, 12) not in over.value.nearest  # held for the instructor now


def test_an_offer_never_stands_beyond_the_start(full):
    wait(full)
    service.cancel(full.act("technician", now=at(8.5, 9).start), booking_id=full.booking.id)
    (row,) = full.session.query(Wait)
    assert row.offered_until == row.offered.start == at(10, 12).start


def test_what_is_set_for_offers_counts_for_the_next(full):
    keeping_fair.set_arriving(
        full.act("technician"), free_after_minutes=None, late_cancel_minutes=None, offer_minutes=30
    )
    waits = wait(full)
    service.cancel(full.act("technician"), booking_id=full.booking.id)
    assert waits.offered_until == full.now + timedelta(minutes=30)


def test_a_wait_whose_time_went_by_is_over_and_an_offer_open_until_then_is_not(full):
    waits = wait(full)
    assert the_lab(full, waiting.end_old, now=at(13.75, 14).start) == 0
    assert the_lab(full, waiting.end_old, now=at(14, 15).start) == 1
    assert waits.ending is WaitEnd.OVER


def test_nobody_answers_for_another_and_who_may_not_book_does_not_wait(offered):
    for act in (waiting.accept, waiting.decline, waiting.leave_list):
        with pytest.raises(NotPermitted):
            act(offered.act("technician"), wait_id=offered.wait.id)
    with pytest.raises(NotPermitted):
        wait(offered, role="safety adviser")


def test_taken_off_by_a_step_of_another_act(offered):
    assert offering.take_off(offered.act("manager"), person_id=offered.ids["member"]) == 1
    assert offers(offered) == [("instructor", 10, 12)]

    # What cannot be waited for


@pytest.mark.parametrize(
    ("window", "minutes", "words"),
    [
        (at(10, 11), 120, "shorter than the time you want"),
        (at(10, 14), 15, "half an hour or more"),
        (at(10, 14), 50, "on a quarter-hour"),
        (at(10.1, 14), 60, "on a quarter-hour"),
        (at(10, 14, day=TOMORROW - timedelta(days=2)), 60, "That is past"),
        (at(10, 36), 60, "one day at a time"),
        (at(21.5, 23), 60, "Wet room|The lab is open 10:00-22:00"),
        (at(16, 20), 60, "no need to wait: Film sink, Tue 3 Mar 2026, 16:00 to 17:00, is free"),
    ],
)
def test_a_wait_that_makes_no_sense_is_refused_in_a_sentence(full, window, minutes, words):
    with pytest.raises(BookingRefused, match=words):
        wait(full, window=window, minutes=minutes)
    assert full.count(Wait) == 0


def test_nobody_waits_twice_for_the_same(full):
    wait(full)
    with pytest.raises(BookingRefused, match="You wait for that place then already"):
        wait(full, window=at(11, 14))

    # Through the pages


@pytest.mark.sqlite_only
def test_from_a_refused_booking_to_the_list_to_the_offer_to_the_booking(full, stopped_clock, client_as):
    member, instructor = client_as("member"), client_as("instructor")
    sink = full.ids["Film sink"]
    refused = fill_in(member, f"/bookings/book?station={sink}&day={DAY}&from=10:00&to=12:00")
    (address,) = [link for link in links(refused.get_data(as_text=True)) if link.startswith("/bookings/waiting/begin")]
    assert fill_in(member, address).location.startswith("/bookings/waiting/")
    assert fill_in(instructor, f"{address}").status_code == 303
    (first, second) = full.session.query(Wait).order_by(Wait.id)
    assert "nobody waits before you" in text(member.get("/bookings/waiting"))
    assert "1 waits before you" in text(instructor.get(f"/bookings/waiting/{second.id}"))
    press(client_as("technician"), f"/bookings/{full.booking.id}/cancel", at=f"/bookings/{full.booking.id}")
    page = text(member.get(f"/bookings/waiting/{first.id}"))
    assert "Film sink: free for you" in page
    assert "Tue 3 Mar 2026, 10:00 to 12:00. Held until Mon 2 Mar" in page
    assert "Offered to Łukasz Żak" in text(instructor.get(f"/bookings?day={DAY}"))
    assert "Offered to you" in text(member.get(f"/bookings?day={DAY}"))
    assert member.get(f"/bookings/waiting/{second.id}").status_code == 403
    done = press(member, f"/bookings/waiting/{first.id}/accept", at=f"/bookings/waiting/{first.id}")
    assert done.location == f"/bookings/{full.session.query(Booking).order_by(Booking.id.desc()).first().id}"


@pytest.mark.sqlite_only
def test_an_offer_answered_too_late_on_the_page_says_so_and_links_to_what_is_free(offered, stopped_clock, client_as):
    member = client_as("member")
    path = f"/bookings/waiting/{offered.wait.id}"
    opened = page_at(member, path)
    offered.now = offered.wait.offered_until
    late = press(member, f"{path}/accept", opened=opened)
    assert late.status_code == 422
    assert "This offer stood until Mon 2 Mar" in text(late)
    (first, *_) = [link for link in links(late.get_data(as_text=True)) if link.startswith("/bookings/book?")]
    assert fill_in(member, first).status_code == 303


@pytest.mark.sqlite_only
def test_how_long_an_offer_stands_is_set_on_a_page(stopped_clock, client_as):
    technician = client_as("technician")
    assert fill_in(technician, "/bookings/fair-use/arriving", offer_minutes=45).status_code == 303
    assert "45 min" in text(technician.get("/bookings/fair-use"))
    assert "from 15 to 2880" in text(fill_in(technician, "/bookings/fair-use/arriving", offer_minutes=5))


@pytest.mark.sqlite_only
def test_an_offer_stands_as_long_over_the_night_when_the_clocks_go_back(furnished):
    """Four hours by the clock that runs, not by the one on the wall: offered at 00:30, it lapses at 03:30."""
    night = datetime(2026, 10, 24, 23, 30, tzinfo=UTC)
    furnished.now = night - timedelta(minutes=30)
    sunday = datetime(2026, 10, 25, tzinfo=UTC)
    taken = furnished.book("Film sink", at(10, 14, day=sunday), role="technician")
    first = wait(furnished, window=at(10, 14, day=sunday))
    second = wait(furnished, role="instructor", window=at(10, 14, day=sunday))
    service.cancel(furnished.act("technician", now=night), booking_id=taken.id)
    assert first.offered_until == night + timedelta(hours=4)
    (letter,) = letters(furnished, "Free for you: Film sink")
    assert "until Sun 25 Oct, 03:30." in letter.body
    assert the_lab(furnished, waiting.lapse, now=night + timedelta(hours=3, minutes=59), wait_id=first.id) is None
    with pytest.raises(waiting.OfferOver, match="Sun 25 Oct, 03:30"):
        waiting.accept(furnished.act("member", now=night + timedelta(hours=4)), wait_id=first.id)
    the_lab(furnished, waiting.lapse, now=night + timedelta(hours=4), wait_id=first.id)
    assert second.offered_until == night + timedelta(hours=8)
