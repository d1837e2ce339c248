"""The attendance register, as instructor and students meet it: coming confirms nothing, staying is confirmed."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import select

from labsys.bookings import service as bookings
from labsys.bookings.models import Booking
from labsys.chemistry.sizes import Material
from labsys.courses import attending, importing, service
from labsys.courses.models import Attendance, Student
from labsys.devices import service as devices
from labsys.duty import service as duty
from labsys.duty.rules import CompanyRefused
from labsys.inductions import signing
from labsys.inductions.models import SignOff
from labsys.jobs.models import Job, JobState
from labsys.membership.ages import state_age
from labsys.people.models import Role
from labsys.people.roster import Row
from labsys.processes import service as processes
from labsys.processes.service import StepEntry
from tests.courses.test_setting_up import MONDAY, entry, furnished, weekly
from tests.support.lab import SmallLab
from tests.support.pages import HTML, as_it_stands, fill_in, form_of, pdf_text, press, source, text, tree

__all__ = ["furnished"]

ROWS = [
    Row(1, "Łukasz Żak", "member@example.org"),
    Row(2, "Sol Haddad", "technician@example.org"),
    Row(3, "Θάλεια Ρήγα", "thalia@example.org"),
]


@pytest.fixture
def course(furnished: SmallLab):
    """Two Mondays; who may use an enlarger is taught skin care, which the instructor holds."""
    induction = furnished.add_induction("Skin care", station_ids=frozenset({furnished.ids["Enlarger"]}))
    furnished.appoint(induction)
    furnished.ids["induction"] = induction.id
    made = service.set_up(
        furnished.act("instructor"), entry=entry(furnished, induction_ids=(induction.id,)), dates=weekly(2), rows=ROWS
    )
    furnished.ids["course"] = made.id
    furnished.ids["meeting"] = made.meetings[0].id
    return made


def begin_evening(lab, *, minutes=0):
    """It is Monday, six o'clock and so many minutes."""
    lab.now = datetime(MONDAY.year, MONDAY.month, MONDAY.day, 18, tzinfo=UTC) + timedelta(minutes=minutes)


def student(lab, email):
    return lab.session.scalars(select(Student.id).where(Student.email == email)).one()


@pytest.mark.sqlite_only
def test_the_page_says_days_ahead_who_may_not_start(furnished, course, client_as):
    page = text(client_as("instructor").get(f"/courses/{course.id}"))
    assert "Three of three may not start." in page
    assert "Łukasz Żak: Skin care." in page
    assert "Θάλεια Ρήγα: no account yet." in page
    signed = furnished.sign_off(furnished.session.get_one(type(course.inductions[0]), furnished.ids["induction"]))
    assert signed.confirmed_at
    page = text(client_as("instructor").get(f"/courses/{course.id}"))
    assert "Two of three may not start." in page


@pytest.mark.sqlite_only
def test_somebody_under_18_on_the_roster_may_not_start_before_all_is_there(furnished, course, client_as):
    induction = furnished.session.get_one(type(course.inductions[0]), furnished.ids["induction"])
    furnished.sign_off(induction)
    state_age(furnished.act("technician"), person_id=furnished.ids["member"], until=date(2028, 1, 1))
    page = text(client_as("instructor").get(f"/courses/{course.id}"))
    assert "Łukasz Żak: No guardian's permission is on file for that day" in page
    assert "Choose the process: what is not decided is not open to people under 18" in page
    state_age(furnished.act("technician"), person_id=furnished.ids["member"], until=None)
    assert "No guardian's permission" not in text(client_as("instructor").get(f"/courses/{course.id}"))


@pytest.mark.sqlite_only
def test_an_evening_is_ticked_scanned_ended_and_signed_for(furnished, course, client_as):
    card = devices.issue_card(furnished.act("manager"), person_id=furnished.ids["technician"])
    begin_evening(furnished, minutes=-20)
    instructor = client_as("instructor")
    register = f"/courses/meetings/{furnished.ids['meeting']}/register"
    ticked = fill_in_ticks(instructor, register, here=[student(furnished, "thalia@example.org")])
    assert "1 of 3 are here." in text(instructor.get(ticked.location))
    scanned = press(instructor, register.replace("register", "scan"), at=register, code=card.code)
    assert "Sol Haddad is here." in text(instructor.get(scanned.location))
    here = fill_in_plain(client_as("member"), register.replace("register", "here"))
    assert here.status_code == 303
    assert furnished.count(Attendance) == 3
    assert furnished.session.scalars(select(Booking.arrived_at).order_by(Booking.starts_at)).first() is not None
    assert furnished.session.scalars(select(SignOff).where(SignOff.person_id == furnished.ids["member"])).all() == []
    begin_evening(furnished, minutes=115)
    end = register.replace("register", "end")
    asked = instructor.get(end)  # one touch; then the induction, one exception, and the button
    typed = as_it_stands(form_of(source(asked)))
    typed["inductions"] = [str(furnished.ids["induction"])]
    typed["not_shown"] = [str(student(furnished, "technician@example.org"))]
    done = instructor.post(end, data=typed)
    said = text(instructor.get(done.location))
    assert "3 stayed. 1 signed off: it counts once each confirms it." in said
    assert "Not signed off, for want of an account: Θάλεια Ρήγα." in said
    (signed,) = furnished.session.scalars(select(SignOff).where(SignOff.is_appointment.is_(False))).all()
    assert signed.person_id == furnished.ids["member"]
    assert signed.confirmed_at is None
    again = instructor.post(end, data={**typed, "submission_key": "another-key-1"})
    assert again.status_code == 422
    assert "Who stayed was confirmed already." in text(again)


@pytest.mark.sqlite_only
def test_the_first_who_comes_is_counted_but_the_class_does_not_begin_while_its_instructor_may_not(
    furnished, course, client_as
):
    signed = furnished.session.scalars(select(SignOff)).one()
    signing.withdraw(furnished.act("manager"), sign_off_id=signed.id, reason="For the test")
    begin_evening(furnished, minutes=5)
    register = f"/courses/meetings/{furnished.ids['meeting']}/register"
    here = fill_in_plain(client_as("member"), register.replace("register", "here"))
    assert here.status_code == 303
    booking = furnished.session.scalars(select(Booking).order_by(Booking.starts_at)).first()
    assert booking.arrived_at is None
    assert furnished.count(Attendance) == 1
    instructor = client_as("instructor")
    page = text(instructor.get(register))
    assert "The class has not begun. You are not cleared for this yet. Skin care is needed" in page
    assert "Who came is counted in any case." in page
    assert "Łukasz Żak" in text(instructor.get("/building"))
    again = signing.appoint_holder(
        furnished.act("manager"),
        induction_id=furnished.ids["induction"],
        person_id=furnished.ids["instructor"],
        taught_at=furnished.now,
    )
    signing.confirm(furnished.act("instructor"), sign_off_id=again.id)
    ticks = [student(furnished, email) for email in ("member@example.org", "technician@example.org")]
    fill_in_ticks(instructor, register, here=ticks)
    furnished.session.expire_all()
    assert booking.arrived_at is not None
    assert "The class has not begun." not in text(instructor.get(register))


@pytest.mark.sqlite_only
def test_every_process_of_a_course_stands_with_its_bookings_and_is_asked_about(furnished):
    """The second of two asks for somebody who is not there: the next term is not booked."""
    first, second = (process_with(furnished, name) for name in ("Toning", "Iron prints"))
    whole = entry(furnished, process_ids=(first, second))
    course = service.set_up(furnished.act("instructor"), entry=whole, dates=weekly(2))
    booking = course.meetings[0].booking
    assert (booking.process_id, [process.id for process in booking.also]) == (first, [second])
    duty.set_staffing(
        furnished.act("technician"),
        station_id=None,
        process_id=second,
        least_people=1,
        role=Role.MANAGER,
        induction_id=None,
        staffed_only=False,
    )
    later = weekly(2, first=MONDAY + timedelta(days=28))
    with pytest.raises(CompanyRefused, match="Iron prints asks for a manager"):
        service.set_up(furnished.act("instructor"), entry=replace(whole, term_name="later"), dates=later)


def process_with(lab, name):
    steps = [StepEntry(name="Rinse", product_id=lab.ids["product fixer"], water_parts_milli=4_000)]
    return processes.add_process(lab.act("technician"), name=name, material=Material.FIBRE, note="", steps=steps).id


def fill_in_ticks(client, path, **ticked):
    forms = tree(source(client.get(path))).iter(HTML + "form")
    form = next(form for form in forms if "here" in {control.get("name") for control in form.iter()})
    return client.post(path, data={**as_it_stands(form), **ticked})


def fill_in_plain(client, path):
    return client.post(path, data=as_it_stands(form_of(source(client.get(path)))))


@pytest.mark.sqlite_only
def test_a_tick_by_mistake_is_taken_back_and_a_scan_meanwhile_is_kept(furnished, course, client_as):
    begin_evening(furnished)
    meeting_id, member = furnished.ids["meeting"], student(furnished, "member@example.org")
    sol = student(furnished, "technician@example.org")
    attending.take_register(furnished.act("instructor"), meeting_id=meeting_id, here=[member], shown_here=[])
    attending.come(furnished.act("technician"), meeting_id=meeting_id)
    attending.take_register(furnished.act("instructor"), meeting_id=meeting_id, here=[], shown_here=[member])
    assert furnished.session.scalars(select(Attendance.student_id)).all() == [sol]


@pytest.mark.sqlite_only
def test_too_early_and_not_on_the_roster_are_said(furnished, course, client_as):
    door = f"/courses/{course.id}/here"
    member, adviser = client_as("member"), client_as("safety adviser")
    here = member.get(door).location
    assert here == f"/courses/meetings/{furnished.ids['meeting']}/here"
    early = text(member.get(here))
    assert "It is too early" in early
    assert "You may not start yet Skin care." in early
    begin_evening(furnished, minutes=-10)
    open_page = source(member.get(here))
    stranger = text(adviser.get(here))
    assert "You are not on the roster." in stranger
    assert "I am here" not in stranger
    assert furnished.count(Attendance) == 0
    done = member.post(here, data=as_it_stands(form_of(open_page)))
    assert "You are on the register, since 17:50." in text(member.get(done.location))
    begin_evening(furnished, minutes=60 * 24 * 30)
    assert "No meeting of it is to come." in text(member.get(door))


@pytest.mark.sqlite_only
def test_the_code_at_the_door_asks_to_sign_in_and_then_leads_to_the_meeting(furnished, course, app):
    begin_evening(furnished)
    asked = app.test_client().get(f"/courses/{course.id}/here")
    assert asked.location == f"/sign-in?next=/courses/{course.id}/here"


@pytest.mark.sqlite_only
def test_a_meeting_that_was_called_off_says_so_to_a_student(furnished, course, client_as):
    booking = furnished.session.scalars(select(Booking).order_by(Booking.starts_at)).first()
    bookings.cancel(furnished.act("instructor"), booking_id=booking.id)
    page = text(client_as("member").get(f"/courses/meetings/{furnished.ids['meeting']}/here"))
    assert "This meeting does not take place." in page
    assert (
        f"/courses/meetings/{course.meetings[1].id}/here"
        == client_as("member").get(f"/courses/{course.id}/here").location
    )


@pytest.mark.sqlite_only
def test_the_register_is_printed(furnished, course, client_as):
    instructor = client_as("instructor")
    at = f"/courses/{course.id}"
    issued = press(instructor, f"/documents/attendance/{course.id}", at=at)
    said = pdf_text(instructor.get(issued.location).get_data())
    assert "First prints, spring 2026, taught by Ines Carrow." in said
    assert "Θάλεια Ρήγα" in said
    assert "1: 9 Mar" in said
    assert "Scan when you come" in said


@pytest.mark.sqlite_only
def test_twenty_thousand_rows_are_added_in_parts_by_a_job_and_again_add_nobody(furnished, course, client_as):
    many = "\n".join(f"Guest {number},g{number}@example.org" for number in range(20_000))
    instructor = client_as("instructor")
    roster = f"/courses/{course.id}/roster"
    looked = fill_in(instructor, roster, roster=many)
    assert "20000 of 20000 rows can go on the roster" in text(looked)
    asked = instructor.post(roster, data={**as_it_stands(form_of(source(looked))), "save": "yes"})
    assert asked.location.startswith("/jobs/")
    job = furnished.session.scalars(select(Job).where(Job.kind == service.ADD_STUDENTS)).one()
    assert job.state is JobState.WAITING


def test_a_part_of_a_roster_is_added_once_however_often_it_is_sent(furnished, course):
    rows = [Row(number, f"Guest {number}", f"g{number}@example.org") for number in range(service.PART)]
    for _ in range(2):
        service.add_students(furnished.act("instructor"), course_id=course.id, rows=rows)
    service.add_students(furnished.act("instructor"), course_id=course.id, rows=ROWS)
    assert furnished.count(Student) == service.PART + len(ROWS)
    assert importing.ADD_LONG_ROSTER.name == service.ADD_STUDENTS


@pytest.mark.sqlite_only
def test_whoever_is_taught_on_monday_books_thursday_and_starts_only_once_it_is_signed(furnished, course, client_as):
    member = client_as("member")
    thursday = {"station": str(furnished.ids["Enlarger"]), "day": "2026-03-12", "starts": "840", "ends": "960"}
    booked = fill_in(member, "/bookings/book", **thursday)
    assert booked.status_code == 303
    page = text(member.get(booked.location))
    assert "No start before this is signed off and confirmed" in page
    assert "Skin care , needed for Enlarger: never signed off." in page
    earlier = fill_in(member, "/bookings/book", **{**thursday, "day": "2026-03-06"})  # before it is taught
    assert earlier.status_code == 422
    assert "You are not cleared for this yet." in text(earlier)
    furnished.now = datetime(2026, 3, 12, 14, tzinfo=UTC)
    refused = press(member, f"{booked.location}/arrive", at=booked.location)
    assert "You are not cleared for this yet." in text(member.get(refused.location))
    assert furnished.session.get_one(Booking, int(booked.location.rpartition("/")[2])).arrived_at is None


@pytest.mark.sqlite_only
def test_a_meeting_that_is_called_off_or_over_lets_nobody_book_ahead(furnished, course, client_as):
    thursday = {"station": str(furnished.ids["Enlarger"]), "day": "2026-03-19", "starts": "840", "ends": "960"}
    for meeting in course.meetings:
        bookings.cancel(furnished.act("instructor"), booking_id=meeting.booking_id)
    refused = fill_in(client_as("member"), "/bookings/book", **thursday)
    assert refused.status_code == 422
    assert "Skin care" in text(refused)


@pytest.mark.sqlite_only
def test_the_page_says_ahead_that_the_used_solution_has_nowhere_to_go(furnished, client_as):
    """Three film baths of 2.5 L stand in service; the container of used fixer takes 1 L, the others have none."""
    furnished.mix_film_line()
    furnished.open_container(capacity_ml=1_000)
    process = furnished.add_process()
    told = entry(furnished, process_ids=(process.id,))
    made = service.set_up(furnished.act("instructor"), entry=told, dates=weekly(1))
    page = text(client_as("instructor").get(f"/courses/{made.id}"))
    assert "Used fixer has room for 1.5 L less than this class makes." in page
    assert "Used developer has room for 2.5 L less than this class makes." in page
    furnished.open_container(capacity_ml=2_000)
    assert "Used fixer has room" not in text(client_as("instructor").get(f"/courses/{made.id}"))
