"""Fair use by role, set and met through the pages; places nobody came to; late cancelling."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from labsys.bookings import fair_use, keeping_fair, not_coming, service
from labsys.bookings.fair_use import BeyondFairUse, Limits
from labsys.bookings.models import Booking, Hold
from labsys.bookings.rules import BookingRefused
from labsys.mail.models import OutgoingMail
from labsys.people.acts import Act
from labsys.people.models import Role
from labsys.people.permissions import NotPermitted
from labsys.timetable.spans import Span
from tests.bookings.conftest import TOMORROW, at
from tests.support.pages import fill_in, page_at, press, text

LONDON = ZoneInfo("Europe/London")
NOW = TOMORROW - timedelta(hours=15)


def fair(span, *, others=(), zone=LONDON, now=NOW, **limits):
    fair_use.check(span, limits=Limits(**limits), others=others, now=now, zone=zone)


@pytest.mark.parametrize(
    ("span", "limits", "others", "words"),
    [
        (at(10, 22.25), {}, (), "Book 12 h at most"),
        (at(10, 12, day=TOMORROW + timedelta(days=120)), {}, (), "Book up to 120 days ahead"),
        (at(10, 12), {"notice_minutes": 48 * 60}, (), "Book at least 2 days ahead"),
        (at(10, 12), {"may_overlap": False}, (at(11, 13),), "One place at a time is fair"),
        (at(10, 12), {"most_open": 2}, (at(13, 14), at(15, 16)), "2 bookings are open, and 2 at once is fair"),
        (at(10, 12), {"week_minutes": 180}, (at(13, 14.5),), "1 h 30 min are booked in that week, and 3 h a week"),
    ],
)
def test_what_is_beyond_fair_use_says_what_would_be_fair(span, limits, others, words):
    with pytest.raises(BeyondFairUse, match=words):
        fair(span, others=others, **limits)


def test_a_week_is_that_of_the_wall_clock_also_in_a_half_hour_zone_and_over_a_clock_change():
    """From memory: Kolkata keeps UTC+5:30; London's clocks go forward on 29 March 2026, a Sunday."""
    kolkata = ZoneInfo("Asia/Kolkata")
    sunday_late = Span(datetime(2026, 3, 8, 18, 0, tzinfo=UTC), datetime(2026, 3, 8, 18, 30, tzinfo=UTC))  # 23:30 there
    monday_early = Span(datetime(2026, 3, 8, 18, 30, tzinfo=UTC), datetime(2026, 3, 8, 19, 30, tzinfo=UTC))  # 0:00
    fair(monday_early, others=[sunday_late], zone=kolkata, week_minutes=60)
    with pytest.raises(BeyondFairUse):
        fair(monday_early, others=[sunday_late], zone=LONDON, week_minutes=60)
    sunday = Span(datetime(2026, 3, 29, 22, 30, tzinfo=UTC), datetime(2026, 3, 29, 23, 0, tzinfo=UTC))  # 23:30 summer
    monday = Span(datetime(2026, 3, 29, 23, 0, tzinfo=UTC), datetime(2026, 3, 30, 0, 0, tzinfo=UTC))
    fair(monday, others=[sunday], week_minutes=60)


def test_several_roles_have_the_widest_of_each(furnished):
    keeping_fair.set_limits(furnished.act("technician"), role=Role.MEMBER, limits=Limits(most_open=1))
    furnished.book("Film sink", at(10, 12))
    with pytest.raises(BeyondFairUse, match="One booking is open"):
        furnished.book("Film sink", at(14, 15))
    furnished.book("Film sink", at(14, 15), role="technician")
    furnished.book("Film sink", at(16, 17), role="technician")


def test_whoever_books_for_others_goes_beyond_with_a_reason_and_nobody_else(furnished):
    keeping_fair.set_limits(furnished.act("technician"), role=Role.MEMBER, limits=Limits(longest_minutes=60))
    with pytest.raises(BeyondFairUse):
        furnished.book("Film sink", at(10, 12), actor="technician")
    booking = furnished.book("Film sink", at(10, 12), actor="technician", override="the final show")
    assert booking.override_reason == "the final show"
    with pytest.raises(NotPermitted):
        furnished.book("Enlarger", at(10, 12), override="I want to")
    with pytest.raises(NotPermitted):
        keeping_fair.set_limits(furnished.act("member"), role=Role.MEMBER, limits=Limits())


@pytest.mark.sqlite_only
def test_limits_are_set_by_pages_and_met_by_whom_they_are_for(stopped_clock, client_as):
    technician, member = client_as("technician"), client_as("member")
    sent = {"longest_hours": 1, "most_open": 4, "week_hours": 8}
    assert fill_in(technician, "/bookings/fair-use/change?role=member", **sent).status_code == 303
    assert "up to 1 h" in text(member.get("/bookings/fair-use"))
    path = f"/bookings/book?station={stopped_clock.ids['Film sink']}&day=2026-03-03&from=10:00&to=12:00"
    assert "Book 1 h at most" in text(fill_in(member, path))
    assert "Beyond fair use" not in page_at(member, path)
    person = stopped_clock.ids["member"]
    assert fill_in(technician, f"{path}&person={person}", override="the final show").status_code == 303
    booking = stopped_clock.session.query(Booking).one()
    assert "the final show" in text(technician.get(f"/bookings/{booking.id}"))
    assert "longer than people may book ahead" in text(
        fill_in(technician, "/bookings/fair-use/change?role=member", furthest_days=1, notice_hours=24)
    )
    assert technician.get("/bookings/fair-use/change?role=nobody").status_code == 404


def the_lab_gives_free(lab, booking, now):
    return not_coming.give_free(Act(lab.session, by=None, now=now), booking_id=booking.id)


def test_a_place_nobody_came_to_is_given_free_once_and_its_person_is_told(furnished):
    booking, late = furnished.book("Film sink", at(10, 12)), at(10.5, 12).start
    assert not_coming.not_come(furnished.session, now=late) == []
    arriving = {"free_after_minutes": 30, "late_cancel_minutes": None, "offer_minutes": 240}
    keeping_fair.set_arriving(furnished.act("technician"), **arriving)
    assert not_coming.not_come(furnished.session, now=late - timedelta(minutes=1)) == []
    assert not_coming.not_come(furnished.session, now=late) == [booking.id]
    assert the_lab_gives_free(furnished, booking, late) is not None
    assert the_lab_gives_free(furnished, booking, late) is None
    assert furnished.count(Hold) == 0
    (letter,) = [mail for mail in furnished.session.query(OutgoingMail) if mail.subject.startswith("Given free")]
    assert letter.path == "/bookings"
    furnished.now = late
    furnished.book("Film sink", at(10.5, 12), role="instructor")
    with pytest.raises(BookingRefused, match="given free for others"):
        service.arrive(furnished.act("member"), booking_id=booking.id)


def test_who_has_come_keeps_the_place(furnished):
    arriving = {"free_after_minutes": 30, "late_cancel_minutes": None, "offer_minutes": 240}
    keeping_fair.set_arriving(furnished.act("technician"), **arriving)
    booking = furnished.book("Film sink", at(10, 12))
    service.arrive(furnished.act("member", now=at(10, 12).start), booking_id=booking.id)
    assert not_coming.not_come(furnished.session, now=at(11, 12).start) == []
    assert the_lab_gives_free(furnished, booking, at(11, 12).start) is None


@pytest.mark.sqlite_only
def test_late_cancelling_and_not_coming_are_counted_and_shown_to_the_person_and_to_who_books_for_others(
    stopped_clock, client_as
):
    lab, member = stopped_clock, client_as("member")
    assert (
        fill_in(
            client_as("technician"), "/bookings/fair-use/arriving", free_after_minutes=30, late_cancel_hours=48
        ).status_code
        == 303
    )
    in_time = lab.book("Film sink", at(10, 12, day=TOMORROW + timedelta(days=3)))
    press(member, f"/bookings/{in_time.id}/cancel", at=f"/bookings/{in_time.id}")
    assert "In the last 90 days" not in text(member.get("/bookings/mine"))
    late, missed = lab.book("Film sink", at(10, 12)), lab.book("Film sink", at(13, 15))
    press(member, f"/bookings/{late.id}/cancel", at=f"/bookings/{late.id}")
    the_lab_gives_free(lab, missed, at(13.5, 15).start)
    lab.now = at(13.5, 15).start
    assert "In the last 90 days: cancelled late 1, did not come 1." in text(member.get("/bookings/mine"))
    shown = text(client_as("technician").get(f"/bookings/{missed.id}"))
    assert "cancelled late 1, did not come 1" in shown
    assert "nobody came; given free at 13:30" in shown
    another = lab.book("Film sink", at(18, 19), role="instructor")
    assert "How it went before" not in text(member.get(f"/bookings/{another.id}"))
