"""Who is in the building: people, not bookings, as each role reads it and touches it."""

from datetime import timedelta

import pytest

from labsys.courses import attending
from labsys.courses import service as courses
from labsys.courses.dates import Decided
from labsys.courses.models import Attendance
from labsys.courses.queries import enrolled
from labsys.courses.rules import Term
from labsys.duty.models import Presence
from labsys.people.roster import Row
from tests.bookings.conftest import TOMORROW, at
from tests.support.kept import kept, send_kept
from tests.support.lab import SmallLab
from tests.support.pages import pdf_text, press, send, source, text

TEN = at(10, 13).start


def told_late(client, lab: SmallLab, who: str, way: str, *, minutes: float, key: str = "a key of the phone"):
    """What a phone sends later of one touch, so many minutes ago."""
    at = lab.now - timedelta(minutes=minutes)
    return send_kept(client, kept("/building/touch", at=at, key=key, who=who, way=way))[key]["said"]


def touch(client, who: str, way: str, **more):
    """What the script of the page sends for one touch."""
    carried = {"csrf_token": token(client), "who": who, "way": way, **more}
    return client.post("/building/touch", data=carried, headers={"Accept": "application/json"})


def token(client) -> str:
    page = source(client.get("/building"))
    return page.split('name="csrf_token" value="')[1].split('"')[0]


def key(lab: SmallLab, role: str) -> str:
    return f"person-{lab.ids[role]}"


def class_of_three(lab: SmallLab) -> int:
    """A meeting at ten with the member and two without an account, of whom the member and one have come."""
    day = TOMORROW.date()
    course = courses.set_up(
        lab.act("instructor"),
        entry=courses.CourseEntry(
            name="First prints",
            term_name="spring",
            term=Term(day, 600, 780, "FREQ=WEEKLY;COUNT=1"),
            station_id=lab.ids["Enlarger"],
            units=3,
            instructor_ids=(lab.ids["instructor"],),
        ),
        dates=[Decided(day, at(10, 13))],
        rows=[
            Row(1, "Łukasz Żak", "member@example.org"),
            Row(2, "Ama Without", "ama@example.org"),
            Row(3, "Bo Absent", "bo@example.org"),
        ],
    )
    lab.now = TEN
    meeting_id = course.meetings[0].id
    came = [row.student.id for row in enrolled(lab.session, course_id=course.id) if row.student.name != "Bo Absent"]
    attending.take_register(lab.act("instructor"), meeting_id=meeting_id, here=came, shown_here=[])
    return meeting_id


def test_a_class_counts_each_head_and_guests_and_staff_count_too(stopped_clock, client_as):
    lab = stopped_clock
    class_of_three(lab)
    instructor = client_as("instructor")
    press(client_as("technician"), "/building/touch", at="/building")
    assert send(instructor, "/building/guests", at="/building", name="A visiting printer").status_code == 303
    page = text(instructor.get("/building"))
    assert "5 people are known to be in the building." in page
    for name in ("Łukasz Żak", "Ama Without", "Ines Carrow", "Sol Haddad", "A visiting printer"):
        assert name in page.split("Not in")[0]
    assert "Bo Absent" not in page
    assert "labsys is no alarm" in page


def test_somebody_in_for_two_reasons_is_one_head_and_one_touch_takes_them_out(stopped_clock, client_as):
    lab = stopped_clock
    class_of_three(lab)
    lab.book("Film sink", at(10, 12), actor="instructor")
    instructor = client_as("instructor")
    press(instructor, "/bookings/2/arrive", at="/bookings/2")
    assert "3 people are known" in text(instructor.get("/building"))
    lab.tick(minutes=5)
    assert touch(instructor, key(lab, "member"), "out").get_json() == {"said": "Noted as out."}
    assert "2 people are known" in text(instructor.get("/building"))
    assert "left" in text(instructor.get("/bookings/2"))
    lab.session.expire_all()
    assert lab.session.query(Attendance).filter(Attendance.left_at.is_not(None)).count() == 1


def test_a_student_without_an_account_is_touched_out(stopped_clock, client_as):
    lab = stopped_clock
    class_of_three(lab)
    instructor = client_as("instructor")
    attendance = lab.session.query(Attendance).order_by(Attendance.id).all()
    ama = next(one for one in attendance if f"student-{one.id}" in source(instructor.get("/building")))
    lab.tick()
    press_out = touch(instructor, f"student-{ama.id}", "out")
    assert press_out.status_code == 200
    assert "Ama Without" not in text(instructor.get("/building"))


def test_a_member_sees_a_number_and_touches_only_themselves(stopped_clock, client_as):
    lab = stopped_clock
    class_of_three(lab)
    member = client_as("member")
    page = text(member.get("/building"))
    assert "3 people are known to be in the building." in page
    assert "Ines Carrow" not in page.split("On duty")[1].split("Somebody else")[0]
    assert "Ama Without" not in page
    assert touch(member, key(lab, "instructor"), "out").status_code == 403
    lab.tick()
    assert touch(member, key(lab, "member"), "out").status_code == 200
    assert "2 people are known" in text(member.get("/building"))


def test_a_touch_told_late_keeps_its_time_and_counts_once_however_often_it_is_sent(stopped_clock, client_as):
    lab = stopped_clock
    lab.now = TEN
    instructor = client_as("instructor")
    assert told_late(instructor, lab, key(lab, "technician"), "in", minutes=25) == "Noted as in."
    assert told_late(instructor, lab, key(lab, "technician"), "in", minutes=30) == "That is noted already."
    lab.session.expire_all()
    (row,) = lab.session.query(Presence).all()
    assert (row.came_at, row.recorded_at) == (TEN - timedelta(minutes=25), TEN)


def test_a_going_told_late_does_not_take_out_who_came_back_since(stopped_clock, client_as):
    lab = stopped_clock
    lab.now = TEN
    instructor, who = client_as("instructor"), key(lab, "technician")
    touch(instructor, who, "in")
    lab.tick(minutes=20)
    touch(instructor, who, "in")
    lab.tick(minutes=5)
    told_late(instructor, lab, who, "out", minutes=10)
    assert "1 person is known" in text(instructor.get("/building"))


def test_a_coming_told_after_the_going_leaves_them_out(stopped_clock, client_as):
    lab = stopped_clock
    lab.now = TEN
    instructor, who = client_as("instructor"), key(lab, "technician")
    touch(instructor, who, "in")
    lab.tick(minutes=20)
    touch(instructor, who, "out")
    lab.tick(minutes=5)
    told_late(instructor, lab, who, "in", minutes=10)
    assert "Nobody is known" in text(instructor.get("/building"))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"who": "person-999999"}, "There is no"),
        ({"who": "person-0"}, "They are not known here any more."),
        ({"way": "up"}, "Open it again"),
    ],
)
def test_a_touch_that_cannot_be_is_refused_with_words(stopped_clock, client_as, changes, said):
    lab = stopped_clock
    sent = {"who": key(lab, "technician"), "way": "in", **changes}
    who, way = sent.pop("who"), sent.pop("way")
    answer = touch(client_as("instructor"), who, way, **sent)
    assert answer.status_code == 422
    assert said in answer.get_json()["said"]


def test_the_fire_warden_gets_everybody_on_paper(stopped_clock, client_as):
    lab = stopped_clock
    lab.fill_rota()
    class_of_three(lab)
    instructor = client_as("instructor")
    send(instructor, "/building/guests", at="/building", name="Ελένη Καλεσμένη")
    issued = press(instructor, "/documents/fire-list", at="/building")
    printed = pdf_text(instructor.get(issued.location).data)
    for word in (
        "4 people are known to be in the building.",
        "Ama Without",
        "Ελένη Καλεσμένη",
        "Keyholder: Sol Haddad",
    ):
        assert word in printed
    assert client_as("member").get(issued.location).status_code == 403


def test_who_is_overdue_is_said_to_one_after_the_other_until_they_are_out(stopped_clock, client_as, each_minute):
    lab = stopped_clock
    lab.fill_rota()
    booking = lab.book("Film sink", at(10, 12), actor="instructor")
    lab.now = TEN
    member = client_as("member")
    press(member, f"/bookings/{booking.id}/arrive", at=f"/bookings/{booking.id}")
    lab.now = at(10, 12).end + timedelta(minutes=14)
    each_minute()
    assert "Overdue to leave" not in text(client_as("technician").get("/duty"))
    lab.tick()
    each_minute()
    assert "Overdue to leave: was to be out by 12:00 (Film sink)." in text(client_as("technician").get("/duty"))
    assert "overdue" in text(client_as("instructor").get("/building"))
    press(client_as("instructor"), f"/building/{key(lab, 'member')}/longer", at="/building")
    assert "Overdue to leave" not in text(client_as("technician").get("/duty")).split("Alerts that are over")[0]
    lab.tick(minutes=90)
    each_minute()
    lab.tick(minutes=1)
    assert "Overdue to leave: was to be out by 13:15" in text(client_as("technician").get("/duty"))
    touch(member, key(lab, "member"), "out")
    page = text(client_as("technician").get("/duty"))
    assert "Nobody has answered yet" not in page
    assert "came right by itself" in page


def test_a_class_that_stays_is_one_alert_about_who_teaches_it(stopped_clock, client_as, each_minute):
    lab = stopped_clock
    class_of_three(lab)
    lab.now = at(10, 13).end + timedelta(minutes=20)
    each_minute()
    page = text(client_as("technician").get("/duty"))
    assert page.count("Overdue to leave") == 1
    assert "The class First prints too, as far as is known." in page


def test_a_booking_of_its_own_follows_whoever_leaves_late_told(stopped_clock, client_as):
    """What a phone tells late frees the rest of the time from when they went, not from when it was told."""
    lab = stopped_clock
    booking = lab.book("Film sink", at(10, 12), actor="instructor")
    lab.now = TEN
    press(client_as("member"), f"/bookings/{booking.id}/arrive", at=f"/bookings/{booking.id}")
    lab.tick(minutes=60)
    told_late(client_as("instructor"), lab, key(lab, "member"), "out", minutes=20)
    lab.session.refresh(booking)
    assert booking.left_at == lab.now - timedelta(minutes=20)
