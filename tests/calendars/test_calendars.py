"""A calendar by its secret address, as a calendar program reads it: with `icalendar`, which is no part of labsys."""

import io
import logging
import re
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import icalendar
import pytest
from sqlalchemy import select
from sqlalchemy import text as sql
from sqlalchemy.exc import OperationalError

from labsys.bookings import not_coming
from labsys.bookings.rules import Plan
from labsys.calendars import rules, service
from labsys.calendars.models import CalendarAddress
from labsys.calendars.rules import Calendar
from labsys.closing import service as closing
from labsys.closing.rules import Answer, Fate, Scope
from labsys.courses import service as courses
from labsys.courses.dates import Decided
from labsys.courses.models import Student
from labsys.courses.roster import Row
from labsys.courses.rules import Term
from labsys.database import Base
from labsys.logs import _SECRET
from labsys.people import service as people
from labsys.people.access import SIGNED_IN, needed_for
from labsys.people.models import Role
from labsys.people.permissions import NotPermitted
from labsys.places.models import Room
from labsys.records.errors import NotFound
from labsys.records.models import RecordEntry
from labsys.records.queries import the_lab
from labsys.timetable.calendar_file import LONGEST_LINE
from labsys.timetable.local_time import to_instant
from labsys.timetable.spans import Span
from tests.support.lab import CHEAP, PASSWORD, SmallLab
from tests.support.pages import fill_in, page_at, press, queries_of, source, statements, text

TOMORROW = datetime(2026, 3, 3, tzinfo=UTC)  # a Tuesday; London keeps UTC then
LONDON = ZoneInfo("Europe/London")


def at(start, end, *, days=0):
    day = TOMORROW + timedelta(days=days)
    return Span(day + timedelta(hours=start), day + timedelta(hours=end))


@pytest.fixture
def furnished(lab: SmallLab, monkeypatch: pytest.MonkeyPatch) -> SmallLab:
    lab.add_places()
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    return lab


def path_of(lab, calendar=Calendar(), role="member"):  # noqa: B008 - a frozen value
    return f"/calendar/{service.make_address(lab.act(role), calendar=calendar).token}/lab.ics"


def read(client, path):
    """The events of a calendar, by what they are called and begin with; every line as RFC 5545 has it."""
    answer = client.get(path)
    assert (answer.status_code, answer.content_type) == (200, "text/calendar; charset=utf-8")
    lines = answer.data.split(b"\r\n")
    assert lines[-1] == b""
    assert max(len(line) for line in lines) <= LONGEST_LINE
    assert all(line.decode() and b"\n" not in line for line in lines[:-1])
    parsed = icalendar.Calendar.from_ical(answer.data)
    assert parsed.subcomponents, "a calendar has a component"
    events = parsed.walk("VEVENT")
    assert not [event.errors for event in events if event.errors]
    for event in events:
        assert {"UID", "DTSTAMP", "DTSTART", "DTEND", "SEQUENCE", "STATUS"} <= set(event)
        assert event["DTSTART"].dt.tzinfo is not None
    assert len({event["UID"] for event in events}) == len(events)
    return events


def only(client, path):
    (event,) = read(client, path)
    return event


def course_of(lab, *, weeks=2, first=TOMORROW, hour=18, name="First prints", rows=()):
    """A course at the enlargers, every week at the same hour on London's clock."""
    dates = []
    for number in range(weeks):
        day = (first + timedelta(days=7 * number)).date()
        start = to_instant(datetime.combine(day, time(hour)), zone=LONDON)
        dates.append(Decided(day, Span(start, start + timedelta(hours=2))))
    entry = courses.CourseEntry(
        name=name,
        term_name="spring",
        term=Term(first.date(), hour * 60, hour * 60 + 120, f"FREQ=WEEKLY;COUNT={weeks}"),
        station_id=lab.ids["Enlarger"],
        units=2,
        instructor_ids=(lab.ids["instructor"],),
    )
    return courses.set_up(lab.act("instructor"), entry=entry, dates=dates, rows=rows)


def room_id(lab):
    return lab.session.execute(select(Room.id)).scalar_one()

    # What is in it


def test_an_own_booking_is_read_by_another_program_as_it_stands(furnished, client_as):
    booking = furnished.book("Enlarger", at(18, 20))
    event = only(client_as(), path_of(furnished))
    assert (event["DTSTART"].dt, event["DTEND"].dt) == (booking.starts_at, booking.ends_at)
    assert event["DTSTAMP"].dt == booking.made_at.replace(microsecond=0)
    assert (event["SUMMARY"], event["SEQUENCE"], event["STATUS"]) == ("Enlarger", 0, "CONFIRMED")
    assert event["LOCATION"].startswith("Wet room, ")
    assert event["URL"].endswith(f"/bookings/{booking.id}")


def test_a_calendar_without_events_is_whole_all_the_same(furnished, client_as):
    assert read(client_as(), path_of(furnished)) == []


def test_a_change_and_a_cancellation_keep_the_uid_and_raise_the_sequence(furnished, client_as):
    """RFC 5545 sections 3.8.4.7, 3.8.7.2 and 3.8.7.4; what a page did is what the calendar says."""
    furnished.book("Enlarger", at(18, 20))
    path, member = path_of(furnished), client_as("member")
    booked = only(client_as(), path)
    booking_path = re.findall(r"/bookings/\d+", page_at(member, "/bookings/mine"))[0]
    furnished.tick()
    assert fill_in(member, f"{booking_path}/change", starts="1020", ends="1140").status_code == 303
    moved = only(client_as(), path)
    assert moved["UID"] == booked["UID"]
    assert moved["DTSTART"].dt == TOMORROW + timedelta(hours=17)
    assert (moved["SEQUENCE"], moved["STATUS"]) == (1, "CONFIRMED")
    assert moved["DTSTAMP"].dt == furnished.now.replace(microsecond=0) > booked["DTSTAMP"].dt
    furnished.tick()
    assert press(member, f"{booking_path}/cancel", at=booking_path).status_code == 303
    gone = only(client_as(), path)
    assert (gone["UID"], gone["SEQUENCE"], gone["STATUS"]) == (booked["UID"], 2, "CANCELLED")
    assert gone["TRANSP"] == "TRANSPARENT"
    assert gone["DTSTAMP"].dt == furnished.now.replace(microsecond=0)


def test_what_a_closure_moves_or_cancels_is_told(furnished, client_as):
    moved, cancelled = furnished.book("Enlarger", at(18, 20)), furnished.book("Film sink", at(10, 11))
    answers = {moved.id: Answer(Fate.MOVE, at(12, 14, days=1)), cancelled.id: Answer(Fate.CANCEL)}
    closing.close(
        furnished.act("technician"), span=at(9, 22), reason="flooded by the neighbour", scope=Scope(), answers=answers
    )
    first, second = read(client_as(), path := path_of(furnished))
    assert (first["STATUS"], first["SEQUENCE"]) == ("CANCELLED", 1)
    assert (second["STATUS"], second["SEQUENCE"], second["DTSTART"].dt) == ("CONFIRMED", 1, at(12, 14, days=1).start)
    assert b"flooded" not in client_as().get(path).data


def test_a_place_given_free_is_no_longer_in_the_way(furnished, client_as):
    booking = furnished.book("Enlarger", at(18, 20))
    the_lab(furnished.session).free_after_minutes = 15
    furnished.session.commit()
    later = booking.starts_at + timedelta(minutes=20)
    path = path_of(furnished)
    not_coming.give_free(furnished.act("member", now=later), booking_id=booking.id)
    event = only(client_as(), path)
    assert (event["STATUS"], event["SEQUENCE"], event["TRANSP"]) == ("CANCELLED", 1, "TRANSPARENT")


def test_a_weekly_meeting_keeps_its_hour_on_the_wall_over_the_change_of_the_clocks(furnished, client_as):
    """London goes forward on 29 March 2026 at 01:00 UTC (IANA time zone database)."""
    course = course_of(furnished, weeks=6, first=TOMORROW + timedelta(days=9))
    events = read(client_as(), path_of(furnished, Calendar(course_id=course.id), role="instructor"))
    assert [event["DTSTART"].dt.astimezone(LONDON).strftime("%d %b %H:%M") for event in events] == [
        *("12 Mar 18:00", "19 Mar 18:00", "26 Mar 18:00", "02 Apr 18:00", "09 Apr 18:00", "16 Apr 18:00")
    ]
    assert {event["DTSTART"].dt.hour for event in events} == {18, 17}, "and in UTC it does not"


def test_any_text_is_read_back_as_it_was_typed(furnished, client_as):
    name = "Печать; тона, " + "ж" * 30 + ' \\ "2" 😀 ' + "é" * 20
    course = course_of(furnished, weeks=1, name=name[:80])
    event = only(client_as(), path_of(furnished, Calendar(course_id=course.id), role="instructor"))
    assert event["SUMMARY"] == name[:80]


def test_a_course_is_in_the_calendar_of_whoever_is_on_its_roster_until_taken_off(furnished, client_as):
    course = course_of(furnished, rows=[Row(1, "Mina", "member@example.org")])
    path = path_of(furnished)
    assert [event["SUMMARY"] for event in read(client_as(), path)] == ["First prints"] * 2
    student = furnished.session.execute(select(Student.id).where(Student.course_id == course.id)).scalar_one()
    courses.remove_student(furnished.act("instructor"), student_id=student)
    assert read(client_as(), path) == []


def test_a_meeting_moved_is_moved_in_every_calendar_it_is_in(furnished, client_as):
    course = course_of(furnished, weeks=1, rows=[Row(1, "Mina", "member@example.org")])
    paths = [
        path_of(furnished, Calendar(course_id=course.id), role="instructor"),
        path_of(furnished, role="instructor"),
        path_of(furnished),
    ]
    before = {str(only(client_as(), path)["UID"]) for path in paths}
    assert len(before) == 1, "one event is one event"
    new = at(12, 14, days=2)
    courses.move_meeting(furnished.act("instructor"), meeting_id=course.meetings[0].id, span=new)
    for path in paths:
        event = only(client_as(), path)
        assert (str(event["UID"]), event["SEQUENCE"], event["DTSTART"].dt) == (*before, 1, new.start)


def test_of_a_room_it_says_what_is_taken_and_by_nobody(furnished, client_as):
    furnished.book("Film sink", at(10, 11), plan=Plan(note="for Tamsin's show"))
    course_of(furnished, weeks=1, name="Prints with Ines")
    path = path_of(furnished, Calendar(room_id=room_id(furnished)), role="member")
    sink, prints = read(client_as(), path)
    assert sink["SUMMARY"] == "Film sink: booked"
    assert prints["SUMMARY"] == "Enlarger × 2, Wet side × 2: class"
    body = client_as().get(path).get_data(as_text=True).replace("\r\n ", "")
    for person in (furnished.person(role) for role in furnished.ids if role in {*map(str, Role)}):
        assert person.email not in body
        assert not [part for part in person.name.split() if part in body]
    for told in ("Ines", "Tamsin", "DESCRIPTION", "URL", "ATTENDEE", "ORGANIZER"):
        assert told not in body


def test_no_reason_remark_or_restriction_is_in_it(furnished, client_as):
    booking = furnished.book("Enlarger", at(18, 20), plan=Plan(note="asthmatic, keep the fan on"))
    booking.override_reason = "pregnant, shorter days"
    furnished.session.commit()
    body = client_as().get(path_of(furnished)).get_data(as_text=True).replace("\r\n ", "")
    assert "asthmatic" not in body
    assert "pregnant" not in body


def test_what_was_long_ago_is_left_out_and_there_is_a_most(furnished, client_as, monkeypatch):
    for hour in range(10, 16):
        furnished.book("Film sink", at(hour, hour + 0.5))
    path = path_of(furnished)
    assert len(read(client_as(), path)) == 6
    monkeypatch.setattr(rules, "MOST_EVENTS", 4)
    assert [event["DTSTART"].dt.hour for event in read(client_as(), path)] == [10, 11, 12, 13]
    furnished.now += timedelta(days=62)
    assert read(client_as(), path) == []

    # Its address


def test_an_address_is_made_on_the_page_and_shown_this_once(furnished, client_as):
    furnished.book("Enlarger", at(18, 20))
    member = client_as("member")
    made = press(member, "/calendars/make", at="/calendars")
    assert (made.status_code, made.headers["Cache-Control"]) == (200, "no-store")
    (address,) = set(re.findall(r"http\S+?/calendar/[\w-]{43}/lab\.ics", source(made)))
    path = address.partition("//")[2].partition("/")[2]
    token = path.split("/")[1]
    assert only(client_as(), f"/{path}")["SUMMARY"] == "Enlarger"
    assert token not in page_at(member, "/calendars")
    assert "made 2 Mar 2026" in text(member.get("/calendars"))
    kept = furnished.session.execute(select(CalendarAddress.token_digest)).scalar_one()
    assert len(kept) == 64
    for table in Base.metadata.sorted_tables:
        rows = furnished.session.execute(sql(f"SELECT * FROM {table.name}")).all()
        assert token not in repr(rows), table.name
    assert (
        '"calendar.address_made"'
        in furnished.session.scalars(select(RecordEntry.payload).order_by(RecordEntry.number.desc()).limit(1)).one()
    )


def test_a_new_address_ends_the_one_before_and_no_other(furnished, client_as):
    first, room = path_of(furnished), path_of(furnished, Calendar(room_id=room_id(furnished)))
    second, anothers = path_of(furnished), path_of(furnished, role="technician")
    assert client_as().get(first).status_code == 404
    for path in (second, room, anothers):
        assert client_as().get(path).status_code == 200


def test_an_address_is_ended_by_whoever_made_it_or_who_keeps_the_people(furnished, client_as):
    path = path_of(furnished)
    address_id = furnished.session.execute(select(CalendarAddress.id)).scalar_one()
    with pytest.raises(NotFound):
        service.end_address(furnished.act("technician"), address_id=address_id)
    assert client_as().get(path).status_code == 200
    manager = client_as("manager")
    press(manager, f"/calendars/{address_id}/end", at="/calendars")
    answer = client_as().get(path)
    assert (answer.status_code, answer.mimetype) == (404, "text/plain")
    assert "New address" not in text(client_as("member").get("/calendars"))


@pytest.mark.parametrize("calendar", ["own", "room", "course"])
def test_the_calendars_of_who_leaves_end_for_good(furnished, client_as, calendar):
    course = course_of(furnished)
    of = {"own": Calendar(), "room": Calendar(room_id=room_id(furnished)), "course": Calendar(course_id=course.id)}[
        calendar
    ]
    path = path_of(furnished, of, role="instructor")
    people.close_account(furnished.act("manager"), person_id=furnished.ids["instructor"])
    assert client_as().get(path).status_code == 404
    people.reopen_account(furnished.act("manager"), person_id=furnished.ids["instructor"])
    assert client_as().get(path).status_code == 404


def test_a_new_password_ends_it(furnished, client_as):
    path = path_of(furnished)
    people.change_password(
        furnished.act("member"), current=PASSWORD, password="a whole new sentence", address="", cost=CHEAP
    )
    assert client_as().get(path).status_code == 404


def test_a_course_is_for_who_may_see_courses_and_as_long_as_they_may(furnished, client_as):
    course = Calendar(course_id=course_of(furnished).id)
    with pytest.raises(NotPermitted):
        service.make_address(furnished.act("member"), calendar=course)
    path = path_of(furnished, course, role="instructor")
    own = path_of(furnished, role="instructor")
    people.change_roles(furnished.act("manager"), person_id=furnished.ids["instructor"], roles=[Role.MEMBER])
    assert client_as().get(path).status_code == 404
    assert client_as().get(own).status_code == 200


@pytest.mark.parametrize("sent", [{"room": "99"}, {"course": "99"}, {"room": "x"}, {"course": "9" * 30}])
def test_what_is_no_calendar_gives_no_address(furnished, client_as, sent):
    assert press(client_as("manager"), "/calendars/make", at="/calendars", **sent).status_code == 404
    assert furnished.count(CalendarAddress) == 0


def test_a_shared_tablet_gives_no_address(furnished, client_as):
    """The guard of tablets keeps all that is for one's own account away from them."""
    with client_as("member").application.app_context():
        assert {needed_for(f"calendars.{view}") for view in ("index", "make", "end")} == {SIGNED_IN}

    # What is told of it, and kept


@pytest.mark.sqlite_only
def test_it_is_sent_anew_only_when_something_changed_and_kept_by_nothing_between(furnished, client_as):
    furnished.book("Enlarger", at(18, 20))
    path, program = path_of(furnished), client_as()
    first = program.get(path)
    assert first.headers["Cache-Control"] == "private, no-cache"
    furnished.tick(hours=1)
    again = program.get(path, headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    furnished.book("Film sink", at(10, 11))
    assert program.get(path, headers={"If-None-Match": first.headers["ETag"]}).status_code == 200
    assert program.head(path).status_code == 200


@pytest.mark.sqlite_only
def test_the_address_is_told_to_no_other_page(furnished, client_as):
    for path in (path_of(furnished), "/calendar/none/lab.ics", "/welcome/none"):
        assert client_as().get(path).headers["Referrer-Policy"] == "strict-origin"
    assert client_as("member").get("/calendars").headers["Referrer-Policy"] == "same-origin"


@pytest.mark.sqlite_only
def test_no_log_holds_the_address_when_it_fails(furnished, client_as, monkeypatch):
    path = path_of(furnished)

    def fail(*_arguments, **_named):
        raise OperationalError(f"SELECT {path}", {}, Exception("database is locked"))

    monkeypatch.setattr("labsys.calendars.contents.as_file", fail)
    logger = logging.getLogger("labsys")
    lines = io.StringIO()
    monkeypatch.setattr(logger.handlers[0], "stream", lines)
    assert client_as().get(path).status_code == 503
    assert path.split("/")[2] not in lines.getvalue()
    assert "/calendar/…/lab.ics" in lines.getvalue()


@pytest.mark.sqlite_only
def test_every_address_with_a_secret_in_it_is_kept_out_of_logs(app):
    secret = [rule.rule for rule in app.url_map.iter_rules() if "token" in rule.arguments]
    assert secret
    assert all(_SECRET.search(rule.replace("<token>", "x" * 43)) for rule in secret)


@pytest.mark.sqlite_only
def test_eighty_events_take_as_many_queries_as_three(furnished, client_as):
    for number in range(3):
        furnished.book("Film sink", at(10 + number, 10.5 + number))
    path = path_of(furnished)
    few = queries_of(client_as(), path)
    for number in range(40):
        furnished.book("Film sink", at(10, 10.5, days=1 + number), override="a show", actor="technician")
        furnished.book("Film sink", at(11, 11.5, days=1 + number), override="a show", actor="technician")
    assert queries_of(client_as(), path) == few <= 12
    with statements() as sent:
        client_as("manager").get("/calendars")
    assert len(sent) <= 20

    # And the same for a spreadsheet


@pytest.mark.sqlite_only
def test_ones_bookings_are_saved_as_csv_with_nothing_that_a_spreadsheet_runs(furnished, client_as):
    furnished.book("Enlarger", at(18, 20), plan=Plan(note='=HYPERLINK("http://x")'))
    furnished.book("Film sink", at(10, 11), role="technician")
    member = client_as("member")
    assert "/bookings/mine.csv" in page_at(member, "/bookings/mine")
    answer = member.get("/bookings/mine.csv")
    assert answer.mimetype == "text/csv"
    assert source(answer).split("\r\n") == [
        "Day,From,To,Place,Class,Plan,Remark,State",
        '2026-03-03,18:00,20:00,Enlarger,,,"\'=HYPERLINK(""http://x"")",booked',
        "",
    ]
