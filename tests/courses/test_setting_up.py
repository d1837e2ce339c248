"""A course for a term in one form, as the instructor meets it; conflicts are said before anything is written."""

import io
import time
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import select

from labsys.bookings.models import Booking, Hold
from labsys.bookings.terms import TermTaken
from labsys.courses import dates as course_dates
from labsys.courses import service
from labsys.courses.dates import Decided
from labsys.courses.models import Course, Meeting, Student
from labsys.courses.rules import CourseRefused, Term
from labsys.courses.service import CourseEntry
from labsys.mail.models import OutgoingMail
from labsys.people.permissions import NotPermitted
from labsys.places.models import Station
from labsys.timetable.spans import Span
from tests.bookings.test_races import OVERLAPS
from tests.support.lab import SmallLab
from tests.support.pages import as_it_stands, fill_in, form_of, page_at, press, source, statements, text

MONDAY = date(2026, 3, 9)  # Easter Monday, 6 April, is the fifth of the term
EIGHTEEN = "\n".join(f"Student {number}, student.{number}@example.org" for number in range(1, 17))


@pytest.fixture
def furnished(lab: SmallLab, monkeypatch: pytest.MonkeyPatch) -> SmallLab:
    lab.add_places()
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    return lab


@pytest.fixture
def typed(furnished: SmallLab) -> dict[str, object]:
    return {
        "name": "First prints",
        "term": "spring 2026",
        "station": str(furnished.ids["Enlarger"]),
        "units": "4",
        "first_day": "2026-03-09",
        "meetings": "12",
        "starts": "1080",
        "ends": "1200",
        "roster": EIGHTEEN + "\nAsta Weidle, technician@example.org\nŁukasz Żak, Member@example.org",
    }


def send_again(client, answer, **changes):
    """Send the form of a page as it stands, with some of it changed; no button but the first is pressed."""
    return client.post("/courses/add", data={**as_it_stands(form_of(source(answer))), **changes})


def entry(lab, **changes):
    told = {
        "name": "First prints",
        "term_name": "spring 2026",
        "term": Term(MONDAY, 1080, 1200, "FREQ=WEEKLY;COUNT=12"),
        "station_id": lab.ids["Enlarger"],
        "units": 4,
        "instructor_ids": (lab.ids["instructor"],),
    }
    return CourseEntry(**{**told, **changes})


def weekly(count, *, hour=18, first=MONDAY):
    """So many Mondays, from six to eight in UTC."""
    dates = []
    for number in range(count):
        day = first + timedelta(days=7 * number)
        start = datetime(day.year, day.month, day.day, hour, tzinfo=UTC)
        dates.append(Decided(day, Span(start, start + timedelta(hours=2))))
    return dates


@pytest.mark.sqlite_only
def test_a_term_of_twelve_weeks_is_shown_with_its_holidays_and_booked_in_one_act(furnished, typed, client_as):
    instructor = client_as("instructor")
    asked = fill_in(instructor, "/courses/add", **typed)
    assert asked.status_code == 200
    said = text(asked)
    assert "Nothing is booked yet" in said
    assert "Dates: 12, of which 9 are booked" in said
    assert "Public holiday: Easter Monday." in said
    assert "Public holiday: May Day." in said
    assert "Public holiday: Spring Bank Holiday." in said
    assert "18 of 18 rows can go on the roster" in said
    assert furnished.count(Course) == furnished.count(Booking) == 0
    sent = as_it_stands(form_of(source(asked)))
    done = send_again(instructor, asked, roster=sent["roster"].replace("\n", "\r\n"))  # as browsers end lines
    assert done.status_code == 303
    page = text(instructor.get(done.location))
    assert "9 meetings booked, 3 left out, 18 on the roster" in page
    assert "Next: the first, Mon 9 Mar, 18:00 to 20:00" in page
    assert "Public holiday: Easter Monday." in page
    bookings = furnished.session.scalars(select(Booking).order_by(Booking.starts_at)).all()
    assert [len(booking.holds) for booking in bookings] == [8] * 9  # four enlargers and the wet side of each
    assert {f"{booking.starts_at:%H:%M}" for booking in bookings} == {"18:00", "17:00"}  # UTC, over the change of March
    assert furnished.count(Student) == 18
    assert [name for name in page.split() if name == "Łukasz"]


@pytest.mark.sqlite_only
def test_conflicts_are_said_date_by_date_with_what_else_is_free(furnished, typed, client_as):
    taken = datetime(2026, 3, 16, 18, tzinfo=UTC)
    furnished.book("Enlarger", Span(taken, taken + timedelta(hours=1)))
    instructor = client_as("instructor")
    asked = fill_in(instructor, "/courses/add", **typed, country="")
    said = text(asked)
    assert "Enlarger: 3 free, 4 needed." in said
    assert "Book Mon 16 Mar 2026, 19:00 to 21:00 instead" in said
    assert "Dates: 12, of which 11 are booked" in said
    done = send_again(instructor, asked, **{"on-2026-03-16": "2026-03-16T19:00:00+00:00", "on-2026-03-23": "leave out"})
    page = text(instructor.get(done.location))
    assert "11 meetings booked, 1 left out" in page
    starts = furnished.session.scalars(select(Booking.starts_at).where(Booking.class_name != "")).all()
    assert taken + timedelta(hours=1) in starts
    assert not any(start.date() == date(2026, 3, 23) for start in starts)


@pytest.mark.sqlite_only
def test_one_week_is_moved_for_a_holiday_and_the_students_are_told(furnished, typed, client_as):
    instructor = client_as("instructor")
    instructor.get(send_again(instructor, fill_in(instructor, "/courses/add", **typed)).location)
    holiday = furnished.session.scalars(select(Meeting).where(Meeting.day == date(2026, 4, 6))).one()
    assert holiday.left_out == "Public holiday: Easter Monday."
    moved = fill_in(instructor, f"/courses/meetings/{holiday.id}/move", day="2026-04-07")
    assert moved.status_code == 303
    page = text(instructor.get(moved.location))
    assert "It meets Tue 7 Apr 2026, 18:00 to 20:00 now." in page
    assert "Tue 7 Apr" in page
    letters = furnished.session.scalars(select(OutgoingMail)).all()
    assert {letter.person_id for letter in letters} == {furnished.ids["member"], furnished.ids["technician"]}
    assert {letter.subject for letter in letters} == {"Moved: First prints, Tue 7 Apr 2026, 18:00 to 20:00"}
    assert client_as("member").get(letters[0].path).status_code == 200
    again = fill_in(instructor, f"/courses/meetings/{holiday.id}/move", day="2026-04-08", starts="1140", ends="1260")
    assert "It meets Wed 8 Apr 2026, 19:00 to 21:00 now." in text(instructor.get(again.location))
    furnished.session.expire_all()
    assert furnished.session.get(Meeting, holiday.id).booking.starts_at == datetime(2026, 4, 8, 18, tzinfo=UTC)


@pytest.mark.sqlite_only
def test_nothing_is_booked_by_a_form_whose_dates_were_not_shown(furnished, typed, client_as):
    instructor = client_as("instructor")
    asked = fill_in(instructor, "/courses/add", **typed)
    changed = send_again(instructor, asked, starts="1110", ends="1230")
    assert changed.status_code == 200
    assert "18:30 to 20:30" in text(changed)
    assert furnished.count(Booking) == 0


BAD = [
    ({"meetings": "", "last_day": ""}, "Say how many meetings there are"),
    ({"last_day": "2026-03-01"}, "The term ends before it begins."),
    ({"rule": "FREQ=DAILY;COUNT=10000", "meetings": ""}, "That is more than 120 meetings."),
    ({"rule": "FREQ=HOURLY", "meetings": "3"}, "A course meets once a day at most."),
    ({"rule": "every Monday"}, "is no part of a rule"),
    ({"rule": "FREQ=YEARLY;COUNT=9", "meetings": ""}, "A term is 500 days at most."),
    ({"starts": "1200", "ends": "1080"}, "The lab is open 10:00-22:00"),
    ({"units": "5"}, "Enlarger has 4 in all."),
    ({"first_day": "2025-03-10", "meetings": "2"}, "That is past."),
    ({"country": "GB", "part": "XYZ"}, "is no part of that country"),
]


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("changes", "said"), BAD)
def test_what_cannot_be_is_said_in_the_form_and_nothing_is_written(furnished, typed, client_as, changes, said):
    instructor = client_as("instructor")
    answer = fill_in(instructor, "/courses/add", **{**typed, **changes})
    assert said in text(answer)
    if answer.status_code == 200:  # it stands against each date
        answer = send_again(instructor, answer)
    assert answer.status_code == 422
    assert furnished.count(Course) == furnished.count(Booking) == 0


def test_an_end_that_the_clock_skips_stands_against_its_date(furnished):
    """London, 29 March 2026: 01:00 to 02:00 does not exist. RFC 5545 takes such a start for no date at all."""

    def planned(starts, ends):
        return course_dates.look(
            furnished.session,
            term=Term(date(2026, 3, 22), starts, ends, "FREQ=WEEKLY;COUNT=2"),
            wanted=entry(furnished).wanted,
            zone=ZoneInfo("Europe/London"),
            now=furnished.now,
        )

    assert [one.day.day for one in planned(90, 210)] == [22, 5]
    assert "did not exist" in planned(0, 90)[1].against


@pytest.mark.sqlite_only
def test_a_spreadsheet_is_previewed_row_by_row_and_sent_again_adds_nobody_twice(furnished, typed, client_as):
    instructor = client_as("instructor")
    typed = typed | {"roster": "", "country": ""}
    course = send_again(instructor, fill_in(instructor, "/courses/add", **typed)).location
    file = (
        'Name;E-mail\n"Žofie Dvořáková";zofie@example.org\n=HYPERLINK("x");evil@example.org\nNobody;\n;a@example.org\n'
        "Twin;ZOFIE@example.org\nWrong;not an address\nŁukasz Żak;member@example.org\n"
    ).encode("cp1250")
    roster = f"{course}/roster"
    looked = fill_in(instructor, roster, file=(io.BytesIO(file), "class.csv"), encoding="cp1250")
    said = text(looked)
    for problem in (
        "begins like a formula",
        "No e-mail address.",
        "No name.",
        "The same address as line 2.",
        "is not an e-mail address",
    ):
        assert problem in said
    assert "2 of 7 rows can go on the roster" in said
    assert furnished.count(Student) == 0
    saved = instructor.post(roster, data={**as_it_stands(form_of(source(looked))), "save": "yes"})
    assert "2 added to the roster." in text(instructor.get(saved.location))
    looked = fill_in(instructor, roster, file=(io.BytesIO(file), "class.csv"), encoding="cp1250")
    again = instructor.post(roster, data={**as_it_stands(form_of(source(looked))), "save": "yes"})
    page = text(instructor.get(again.location))
    assert "0 added to the roster." in page
    assert "Žofie Dvořáková" in page
    assert furnished.count(Student) == 2


def test_a_term_holds_the_write_lock_under_a_second(furnished):
    dates = weekly(52)
    begun = time.perf_counter()
    with statements() as sent:
        course = service.set_up(
            furnished.act("instructor"), entry=entry(furnished, override="a whole year"), dates=dates
        )
    taken_s = time.perf_counter() - begun
    assert len(sent) < 52 * 4
    assert taken_s < 5  # measured under a quarter of a second; a slow machine fails no test
    assert len(course.meetings) == 52
    assert furnished.count(Hold) == 52 * 8
    assert furnished.session.execute(OVERLAPS).scalar_one() == 0


def test_all_or_nothing_where_somebody_was_faster(furnished):
    dates = weekly(3)
    furnished.book("Enlarger", dates[1].span)
    with pytest.raises(TermTaken, match="Mon 16 Mar 2026"):
        service.set_up(furnished.act("instructor"), entry=entry(furnished), dates=dates)
    assert furnished.count(Course) == furnished.count(Meeting) == 0
    assert furnished.count(Booking) == 1


def test_a_course_is_set_up_once_and_only_by_whoever_may_hold_a_class(furnished):
    service.set_up(furnished.act("instructor"), entry=entry(furnished), dates=weekly(2))
    with pytest.raises(CourseRefused, match="There is a course First prints"):
        service.set_up(furnished.act("technician"), entry=entry(furnished), dates=weekly(2, hour=14))
    with pytest.raises(NotPermitted):
        service.set_up(furnished.act("member"), entry=entry(furnished, name="Mine"), dates=weekly(2, hour=14))
    assert furnished.count(Course) == 1


def test_a_meeting_that_was_left_out_is_booked_later_and_the_term_page_says_so(furnished, client_as):
    dates = [*weekly(1), Decided(date(2026, 3, 16), None, "Left out.")]
    course = service.set_up(furnished.act("instructor"), entry=entry(furnished), dates=dates)
    left_out = furnished.session.scalars(select(Meeting).where(Meeting.booking_id.is_(None))).one()
    service.move_meeting(furnished.act("instructor"), meeting_id=left_out.id, span=weekly(2)[1].span)
    assert "Mon 16 Mar" in page_at(client_as("instructor"), f"/courses/{course.id}")
    assert furnished.count(Booking) == 2
    assert furnished.session.execute(OVERLAPS).scalar_one() == 0


def test_for_fire_everybody_on_the_roster_counts_and_whoever_teaches(furnished, typed, client_as):
    room = furnished.session.get_one(Station, furnished.ids["Enlarger"]).room
    room.most_people = 19
    furnished.session.commit()
    instructor = client_as("instructor")
    typed |= {"country": "", "roster": EIGHTEEN + "\nOne more, one.more@example.org\nAnd one, and.one@example.org"}
    asked = fill_in(instructor, "/courses/add", **typed)
    assert "Dates: 12, of which 12 are booked" in text(asked)  # 18 and who teaches are 19, on four enlargers
    course_id = int(send_again(instructor, asked).location.rsplit("/", 1)[1])
    counted = furnished.session.execute(select(Booking.units, Booking.students, Booking.teachers)).all()
    assert set(counted) == {(4, 18, 1)}
    refused = fill_in(instructor, f"/courses/{course_id}/roster", roster="Late, late@example.org", save="yes")
    assert "is full then: 19 people at most, for fire." in text(refused)
    assert furnished.count(Student) == 18
    leaver = furnished.session.scalars(select(Student.id)).first()
    press(instructor, f"/courses/students/{leaver}/remove", at=f"/courses/{course_id}")
    again = fill_in(instructor, f"/courses/{course_id}/roster", roster="Late, late@example.org", save="yes")
    assert again.status_code == 303


@pytest.mark.sqlite_only
def test_a_roster_too_long_for_the_room_is_said_with_the_dates(furnished, typed, client_as):
    room = furnished.session.get_one(Station, furnished.ids["Enlarger"]).room
    room.most_taught = 17
    furnished.session.commit()
    instructor = client_as("instructor")
    asked = fill_in(instructor, "/courses/add", **typed, country="")
    assert "takes 17 students at once, and that would be more." in text(asked)
    assert "No date of it can be booked" in text(send_again(instructor, asked))


def test_a_meeting_moved_or_called_off_on_the_pages_of_bookings_tells_the_roster(furnished, typed, client_as):
    instructor = client_as("instructor")
    done = send_again(instructor, fill_in(instructor, "/courses/add", **typed, country=""))
    assert "12 meetings booked" in text(instructor.get(done.location))
    first, second = furnished.session.scalars(select(Booking).order_by(Booking.starts_at).limit(2))
    moved = fill_in(instructor, f"/bookings/{first.id}/change", starts="1110", ends="1230")
    assert moved.status_code == 303
    press(instructor, f"/bookings/{second.id}/cancel", at=f"/bookings/{second.id}")
    told = furnished.session.execute(select(OutgoingMail.person_id, OutgoingMail.subject)).all()
    students = {furnished.ids["member"], furnished.ids["technician"]}
    assert {person_id for person_id, _ in told} == students
    assert {subject for _, subject in told} == {
        "Moved: First prints, Mon 9 Mar 2026, 18:30 to 20:30",
        "Called off: First prints, Mon 16 Mar 2026, 18:00 to 20:00",
    }
    assert len(told) == 4
    assert fill_in(instructor, f"/bookings/{first.id}/change", note="bring a torch").status_code == 303
    assert furnished.count(OutgoingMail) == 4


@pytest.mark.sqlite_only
def test_a_closure_that_calls_a_meeting_off_tells_the_roster_and_why(furnished, typed, client_as):
    instructor = client_as("instructor")
    send_again(instructor, fill_in(instructor, "/courses/add", **typed, country=""))
    closing = {"what": f"place-{furnished.ids['Enlarger']}", "starts": "2026-03-09T00:00", "ends": "2026-03-10T00:00"}
    manager = client_as("manager")
    asked = fill_in(manager, "/places/closures/add", **closing, reason="new floor")
    assert asked.status_code == 200
    sent = {**as_it_stands(form_of(source(asked))), "for_all": "cancel"}
    assert manager.post("/places/closures/add", data=sent).status_code == 303
    letters = furnished.session.scalars(select(OutgoingMail).where(OutgoingMail.kind == "class moved")).all()
    assert {letter.person_id for letter in letters} == {furnished.ids["member"], furnished.ids["technician"]}
    assert {letter.subject for letter in letters} == {"Called off: First prints, Mon 9 Mar 2026, 18:00 to 20:00"}
    assert all("new floor" in letter.body for letter in letters)
    assert client_as("member").get(letters[0].path).status_code in (200, 302)
