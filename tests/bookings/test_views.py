"""Pages of bookings."""

from datetime import timedelta

import pytest
from flask.testing import FlaskClient

from labsys.bookings import service
from labsys.bookings.models import Booking
from labsys.bookings.rules import Plan
from labsys.closing import service as closing
from labsys.mail.models import OutgoingMail
from labsys.people import service as people
from labsys.people.acts import Act
from labsys.places import service as places
from labsys.timetable.opening import Hours
from tests.bookings.conftest import TOMORROW, at
from tests.support.lab import SmallLab
from tests.support.pages import hidden_field, links, press, queries_of, send, text

pytestmark = pytest.mark.sqlite_only

DAY = "2026-03-03"


def fields(lab, **changes):
    return {
        "station": lab.ids["Film sink"],
        "day": DAY,
        "starts": 600,
        "ends": 720,
        "process_id": 0,
        "size": "",
        "count": 0,
        "note": "",
        **changes,
    }


def bookings(lab):
    lab.session.rollback()
    lab.session.expire_all()
    return lab.session.query(Booking).order_by(Booking.id).all()

    # The day


def test_a_lab_without_places_or_hours_says_where_they_are_set(lab: SmallLab, member: FlaskClient):
    page = text(member.get("/bookings"))
    assert "Nothing to book on this day" in page
    assert "No opening hours on this day" in page


def test_the_day_shows_who_is_where_as_table_and_as_list(stopped_clock, member):
    stopped_clock.book("Enlarger", at(10, 12), role="technician")
    page = member.get(f"/bookings?day={DAY}").get_data(as_text=True)
    assert page.count('scope="row"') == 5  # film sink; enlarger 1 and 2–4; wet side 1 and 2–6
    assert page.count('scope="colgroup"') == 12
    assert page.count("Sol Haddad") == 3  # two rows of the table, once in the list
    assert "/bookings?day=2026-03-02" in page
    assert "/bookings?day=2026-03-04" in page
    assert ", here now" not in page


def test_a_free_cell_leads_to_the_form_filled_in_with_it(stopped_clock, member):
    page = member.get(f"/bookings?day={DAY}").get_data(as_text=True)
    href = next(link for link in links(page) if "from=14:00" in link)
    form = member.get(href).get_data(as_text=True)
    assert '<option selected value="840">14:00</option>' in form
    assert '<option selected value="960">16:00</option>' in form
    assert f'value="{DAY}"' in form


def test_who_may_not_book_sees_the_day_without_links_to_book(stopped_clock, client_as):
    page = client_as("safety adviser").get(f"/bookings?day={DAY}").get_data(as_text=True)
    assert "Film sink" in page
    assert "/bookings/book" not in page


@pytest.mark.parametrize("day", ["yesterday", "2026-02-30", "0001-01-01", "9999-12-31", ""])
def test_a_day_that_is_none_shows_today(stopped_clock, member, day):
    assert "Monday 2 March 2026" in text(member.get(f"/bookings?day={day}"))


def test_a_class_says_so_and_a_person_here_is_told_in_words(stopped_clock, client_as):
    service.book_class(
        stopped_clock.act("instructor"),
        person_id=stopped_clock.ids["instructor"],
        station_id=stopped_clock.ids["Enlarger"],
        span=at(10, 12),
        units=4,
        class_name="Первые отпечатки",
        plan=Plan(),
    )
    service.arrive(
        Act(stopped_clock.session, by=stopped_clock.person("instructor"), now=at(10, 11).start),
        booking_id=bookings(stopped_clock)[0].id,
    )
    page = client_as("member").get(f"/bookings?day={DAY}")
    assert 'rowspan="4"' in page.get_data(as_text=True)
    assert "Class: Первые отпечатки" in text(page)
    assert ", here now" in text(page)

    # Booking


def test_booking_a_place(stopped_clock, member):
    answer = send(member, "/bookings/book", **fields(stopped_clock, size="120", count=2, note="Ελένη's negatives"))
    (booking,) = bookings(stopped_clock)
    assert answer.status_code == 303
    assert answer.location == f"/bookings/{booking.id}"
    assert (booking.starts_at, booking.ends_at) == (at(10, 12).start, at(10, 12).end)
    assert (booking.planned_count, booking.planned_size, booking.note) == (2, "120", "Ελένη's negatives")
    page = text(member.get(answer.location))
    assert "Booked." in page
    assert "2 of 120" in page


def test_the_same_form_sent_twice_books_once(stopped_clock, member):
    opened = member.get("/bookings/book").get_data(as_text=True)
    first = send(member, "/bookings/book", opened=opened, **fields(stopped_clock))
    again = send(member, "/bookings/book", opened=opened, **fields(stopped_clock))
    assert again.location == first.location
    assert len(bookings(stopped_clock)) == 1


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"starts": 600, "ends": 600}, "It ends as it begins. Choose a later end."),
        ({"starts": 600, "ends": 615}, "Book half an hour or more"),
        ({"day": "2026-03-01"}, "That is past"),
        ({"day": "2026-12-01"}, "Book up to 120 days ahead"),
        ({"day": "3 March"}, "Write the day as year-month-day"),
        ({"day": ""}, "Choose the day"),
        ({"day": "9999-12-31"}, "Check the year"),
        ({"starts": 540}, "The lab is open 10:00-22:00 on Tuesday"),
        ({"count": "two"}, "Write a whole number"),
        ({"count": 2}, "Choose the size"),
        ({"size": "120"}, "Say how many"),
        ({"size": "120", "count": 999}, "Enter a whole number from 0 to 500"),
        ({"station": 999}, "Choose what is on the list"),
    ],
)
def test_what_cannot_be_booked_comes_back_with_the_reason_and_as_it_was_typed(stopped_clock, member, changes, message):
    answer = send(member, "/bookings/book", **fields(stopped_clock, note="my note", **changes))
    assert answer.status_code == 422
    assert message in text(answer)
    assert 'value="my note"' in answer.get_data(as_text=True)
    assert bookings(stopped_clock) == []


def test_a_booking_across_closing_time_names_the_hours(stopped_clock, member):
    places.set_opening_hours(stopped_clock.act("technician"), hours=[Hours(0, 600, 1320), Hours(1, 600, 1080)])
    answer = send(member, "/bookings/book", **fields(stopped_clock, starts=1020, ends=1140))
    assert answer.status_code == 422
    assert "The lab is open 10:00-18:00 on Tuesday 3 March. Choose a time when it is open." in text(answer)


def test_a_time_lost_to_the_clock_change_is_refused(stopped_clock, member):
    places.set_opening_hours(stopped_clock.act("technician"), hours=[Hours(6, 0, 1440)])
    answer = send(member, "/bookings/book", **fields(stopped_clock, day="2026-03-29", starts=75, ends=180))
    assert answer.status_code == 422
    assert "the clocks went forward over it" in text(answer)


def test_a_taken_time_offers_others_that_keep_what_was_typed(stopped_clock, member):
    stopped_clock.book("Film sink", at(10, 12), role="technician")
    answer = send(member, "/bookings/book", **fields(stopped_clock, size="120", count=2))
    assert answer.status_code == 422
    assert "Film sink is taken then" in text(answer)
    offer = next(link for link in links(answer.get_data(as_text=True)) if "from=12:15" in link)
    page = member.get(offer).get_data(as_text=True)
    assert '<option selected value="735">12:15</option>' in page
    assert '<option selected value="855">14:15</option>' in page
    assert '<option selected value="120">120</option>' in page


def test_what_clearance_is_missing_is_named_with_where_to_get_it(stopped_clock, member):
    induction = stopped_clock.add_induction("Film sink care", station_ids=frozenset({stopped_clock.ids["Film sink"]}))
    answer = send(member, "/bookings/book", **fields(stopped_clock))
    assert answer.status_code == 422
    assert "You are not cleared for this yet. Film sink care is needed" in text(answer)
    assert f"/inductions/{induction.id}" in links(answer.get_data(as_text=True))


def test_only_who_books_for_others_is_asked_for_whom(stopped_clock, member, technician):
    assert 'name="person"' not in member.get("/bookings/book").get_data(as_text=True)
    send(technician, "/bookings/book", **fields(stopped_clock, person=stopped_clock.ids["member"]))
    send(member, "/bookings/book", **fields(stopped_clock, starts=780, ends=840, person=stopped_clock.ids["manager"]))
    assert [one.person_id for one in bookings(stopped_clock)] == [stopped_clock.ids["member"]] * 2
    assert stopped_clock.session.query(OutgoingMail).count() == 1


def test_a_person_who_left_after_the_form_was_opened_is_refused(stopped_clock, technician):
    opened = technician.get("/bookings/book").get_data(as_text=True)
    people.close_account(stopped_clock.act("manager"), person_id=stopped_clock.ids["member"])
    answer = send(
        technician, "/bookings/book", opened=opened, **fields(stopped_clock, person=stopped_clock.ids["member"])
    )
    assert answer.status_code == 422
    assert bookings(stopped_clock) == []
    assert "Łukasz Żak" not in technician.get("/bookings/book").get_data(as_text=True)


def test_booking_a_class(stopped_clock, technician, member):
    sent = fields(
        stopped_clock,
        station=stopped_clock.ids["Enlarger"],
        person=stopped_clock.ids["instructor"],
        class_name="First prints",
        units=4,
    )
    whom = text(technician.get("/bookings/book-class")).partition("Instructor")[2]
    assert stopped_clock.person("instructor").name in whom
    assert stopped_clock.person("member").name not in whom  # who would be refused
    answer = send(technician, "/bookings/book-class", **sent)
    assert answer.status_code == 303
    assert len(bookings(stopped_clock)[0].holds) == 8
    assert "Enlarger, 4 units" in text(member.get(answer.location))
    assert member.get("/bookings/book-class").status_code == 403


@pytest.mark.parametrize(
    ("changes", "message"),
    [({"units": 5}, "Enlarger has 4 in all"), ({"class_name": ""}, "Name the class"), ({"units": 0}, "Enter a number")],
)
def test_a_class_that_cannot_be(stopped_clock, technician, changes, message):
    sent = {"station": stopped_clock.ids["Enlarger"], "person": stopped_clock.ids["instructor"], "units": 4}
    sent = fields(stopped_clock, **{**sent, "class_name": "First prints", **changes})
    answer = send(technician, "/bookings/book-class", **sent)
    assert answer.status_code == 422
    assert message in text(answer)

    # One booking


def test_others_see_who_and_when_only(stopped_clock, member):
    plan = Plan(size="120", count=2, note="a private note")
    booking = stopped_clock.book("Film sink", at(10, 12), role="technician", plan=plan)
    page = text(member.get(f"/bookings/{booking.id}"))
    assert "Sol Haddad" in page
    assert "10:00 to 12:00" in page
    assert "2 of 120" not in page
    assert "a private note" not in page
    assert "Cancel" not in page
    for act in ("cancel", "arrive", "leave"):
        token = press_token(member)
        answer = member.post(f"/bookings/{booking.id}/{act}", data={"csrf_token": token})
        assert answer.status_code == 403
    assert member.get(f"/bookings/{booking.id}/change").status_code == 403


def press_token(client):
    return hidden_field(client.get("/bookings").get_data(as_text=True), "csrf_token")


def test_arriving_and_leaving(stopped_clock, member):
    booking = stopped_clock.book("Film sink", at(10, 12))
    path = f"/bookings/{booking.id}"
    assert "/arrive" not in member.get(path).get_data(as_text=True)
    stopped_clock.now = TOMORROW + timedelta(hours=9, minutes=45)
    assert press(member, f"{path}/arrive", at=path).status_code == 303
    assert "here now" in text(member.get(path))
    stopped_clock.now = TOMORROW + timedelta(hours=11)
    press(member, f"{path}/leave", at=path)
    page = text(member.get(path))
    assert "left early, at 11:00" in page
    assert bookings(stopped_clock)[0].holds[0].ends_at == at(0, 11.25).end


def test_a_refused_arrival_says_why(stopped_clock, member):
    booking = stopped_clock.book("Film sink", at(10, 12))
    stopped_clock.add_induction("Film sink care", station_ids=frozenset({stopped_clock.ids["Film sink"]}))
    stopped_clock.now = at(10, 12).start
    path = f"/bookings/{booking.id}"
    press(member, f"{path}/arrive", at=path)
    page = text(member.get(path))
    assert "Film sink care is needed" in page
    assert "here now" not in page


def test_cancelling(stopped_clock, member):
    booking = stopped_clock.book("Film sink", at(10, 12))
    path = f"/bookings/{booking.id}"
    press(member, f"{path}/cancel", at=path)
    assert "cancelled" in text(member.get(path))
    assert bookings(stopped_clock)[0].holds == []
    assert member.get(f"{path}/change").status_code == 303


def test_changing_keeps_the_plan_in_the_form_and_saves_the_new_time(stopped_clock, member):
    booking = stopped_clock.book("Film sink", at(10, 12), plan=Plan(size="120", count=2))
    path = f"/bookings/{booking.id}/change"
    page = member.get(path).get_data(as_text=True)
    assert '<option selected value="600">10:00</option>' in page
    assert '<option selected value="120">120</option>' in page
    answer = send(member, path, **fields(stopped_clock, starts=660, ends=780, version=1))
    assert answer.status_code == 303
    assert bookings(stopped_clock)[0].starts_at == at(11, 13).start


def test_the_second_of_two_forms_opened_at_once_is_refused(stopped_clock, member, technician):
    booking = stopped_clock.book("Film sink", at(10, 12))
    path = f"/bookings/{booking.id}/change"
    mine, theirs = (client.get(path).get_data(as_text=True) for client in (member, technician))
    send(member, path, opened=mine, **fields(stopped_clock, starts=660, ends=780, version=1))
    answer = send(technician, path, opened=theirs, **fields(stopped_clock, starts=900, ends=960, version=1))
    assert answer.status_code == 422
    assert "was changed after you opened this form" in text(answer)
    assert bookings(stopped_clock)[0].starts_at == at(11, 13).start


def test_a_change_into_a_taken_time_offers_others(stopped_clock, member):
    stopped_clock.book("Film sink", at(14, 16), role="technician")
    booking = stopped_clock.book("Film sink", at(10, 12))
    path = f"/bookings/{booking.id}/change"
    answer = send(member, path, **fields(stopped_clock, starts=840, ends=960, version=1))
    assert answer.status_code == 422
    assert "Film sink is taken then. Free near then" in text(answer)


def test_a_booking_in_a_later_closure_says_so(stopped_clock, member):
    booking = stopped_clock.book("Film sink", at(10, 12))
    closing.close(
        stopped_clock.act("technician"), span=at(8, 18), reason="Floor painted", answers=stopped_clock.leaving_all()
    )
    for path in (f"/bookings/{booking.id}", "/bookings/mine"):
        assert "Floor painted" in text(member.get(path))


def test_a_booking_that_is_not_there(stopped_clock, member):
    assert member.get("/bookings/999999").status_code == 404

    # One's own


def test_my_bookings_begin_with_what_to_do(stopped_clock, member):
    assert "Nothing booked" in text(member.get("/bookings/mine"))


def test_my_bookings_are_mine_and_tell_what_is_over(stopped_clock, member):
    stopped_clock.book("Film sink", at(10, 12), role="technician")
    stopped_clock.book("Film sink", at(13, 14))
    stopped_clock.book("Film sink", at(16, 18), plan=Plan(size="120", count=2))
    stopped_clock.now = at(15, 16).start
    page = text(member.get("/bookings/mine"))
    assert page.index("16:00 to 18:00") < page.index("Over or cancelled") < page.index("13:00 to 14:00")
    assert "nobody came" in page
    assert "10:00 to 12:00" not in page


def test_my_bookings_come_in_pages_by_key(stopped_clock, member, monkeypatch):
    monkeypatch.setattr("labsys.bookings.views.BOOKINGS_A_PAGE", 2)
    for hour in (10, 12, 14, 16, 18):
        stopped_clock.book("Film sink", at(hour, hour + 1))
    seen = []
    path = "/bookings/mine"
    while path:
        page = member.get(path).get_data(as_text=True)
        seen.extend(hour for hour in (10, 12, 14, 16, 18) if f"{hour}:00 to {hour + 1}:00" in page)
        path = next((link for link in links(page) if "after=" in link), None)
    assert seen == [10, 12, 14, 16, 18]


@pytest.mark.parametrize("path", ["/bookings?day=2026-03-03", "/bookings/mine", "/bookings/book"])
def test_the_number_of_queries_does_not_grow_with_the_bookings(stopped_clock, technician, path):
    for hour in (10, 12):
        stopped_clock.book("Enlarger", at(hour, hour + 1), role="technician")
    before = queries_of(technician, path)
    for hour in (14, 16):
        stopped_clock.book("Enlarger", at(hour, hour + 1), role="technician")
        stopped_clock.book("Enlarger", at(hour, hour + 1))
    assert queries_of(technician, path) == before
    assert before <= 20


def test_whoever_left_before_it_began_is_said_to_have(stopped_clock, member):
    booking = stopped_clock.book("Film sink", at(10, 12))
    service.arrive(stopped_clock.act("member", now=at(9.5, 10).start), booking_id=booking.id)
    service.leave(stopped_clock.act("member", now=at(9.75, 10).start), booking_id=booking.id)
    assert "left before it began, at 09:45" in text(member.get(f"/bookings/{booking.id}"))
