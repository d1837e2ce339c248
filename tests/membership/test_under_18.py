"""Somebody under 18 works with a named adult who answers for them: through the pages, as each role meets it."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from flask.testing import FlaskClient
from sqlalchemy import delete, select
from werkzeug.test import TestResponse

from labsys.bookings import supervising
from labsys.bookings.models import Booking
from labsys.config import this_config
from labsys.devices import service as devices
from labsys.jobs.kinds import Task
from labsys.mail.models import OutgoingMail
from labsys.membership import ages, guardians, service
from labsys.membership.models import AgeStatement
from labsys.people import service as people
from labsys.people.models import Role
from labsys.places.models import Room, Stated
from labsys.records.models import Admits, RecordEntry, Safeguarding
from labsys.restrictions.rules import NOT_ON_A_SHARED_SCREEN
from labsys.risk.models import Under18, Version
from labsys.timetable.spans import Span
from tests.support.assessing import approved
from tests.support.lab import SmallLab
from tests.support.pages import press, send, text

ClientAs = Callable[..., FlaskClient]
DAY = date(2026, 3, 3)
GUARDIAN = "Ελένη Żak"


def noon(hour: int = 12) -> datetime:
    return datetime(2026, 3, 3, hour, tzinfo=UTC)


@pytest.fixture
def scene(lab: SmallLab, monkeypatch: pytest.MonkeyPatch) -> SmallLab:
    """The member is 16, with a guardian's permission; the wet room can be looked into; the process is open to them."""
    lab.add_places()
    process = lab.add_process()
    lab.ids["process"] = process.id
    lab.ids["assessment"] = approved(lab, process).id
    see_into(lab, Stated.YES)
    grow(lab, "member", until=date(2028, 1, 1))
    permit(lab)
    lab.session.commit()
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    return lab


def see_into(lab: SmallLab, stated: Stated) -> None:
    lab.session.execute(select(Room)).scalar_one().looked_into = stated
    lab.session.commit()


def grow(lab: SmallLab, role: str, *, until: date | None, school_until: date | None = DAY) -> None:
    """What is known of somebody's age, entered by the technician."""
    who = "technician" if role != "technician" else "manager"
    ages.state_age(lab.act(who), person_id=lab.ids[role], until=until, school_until=school_until if until else None)


def permit(lab: SmallLab, *, ends_on: date = date(2027, 12, 31)) -> None:
    guardians.enter_permission(
        lab.act("technician"),
        person_id=lab.ids["member"],
        guardian=GUARDIAN,
        given_on=date(2026, 2, 1),
        ends_on=ends_on,
        paper="folder 3",
    )


def booked(
    lab: SmallLab, client: FlaskClient, *, supervisor: str | None = "instructor", hour: int = 12, **more: object
) -> TestResponse:
    fields: dict[str, object] = {
        "station": lab.ids["Film sink"],
        "day": "2026-03-03",
        "starts": hour * 60,
        "ends": hour * 60 + 60,
        "process_id": lab.ids["process"],
        "size": "",
        "count": 0,
        "note": "",
        "supervisor": lab.ids[supervisor] if supervisor else 0,
        "second_adult": 0,
    }
    return send(client, "/bookings/book", {**fields, **more})


def beside(lab: SmallLab, role: str = "instructor", hour: int = 12) -> Booking:
    """Somebody is booked in the same room for the same time."""
    return lab.book("Enlarger", Span(noon(hour), noon(hour + 1)), role=role)


def test_a_student_of_16_books_and_begins_with_a_supervisor_who_is_there(scene: SmallLab, client_as: ClientAs) -> None:
    member = client_as("member")
    assert "Supervised by" in text(member.get("/bookings/book"))
    refused = booked(scene, member)
    assert refused.status_code == 422
    assert "Ines Carrow is not booked there for all of the time." in text(refused)
    theirs = beside(scene)
    made = booked(scene, member)
    assert made.status_code == 303, text(made)
    own = text(member.get(made.location))
    assert "Supervised by Ines Carrow" in own
    assert "Ines Carrow is not here. Nothing begins before a supervisor has arrived." in own
    assert "Suspended" not in own
    scene.now = noon(12) - timedelta(minutes=5)
    too_soon = press(member, f"{made.location}/arrive", at=made.location)
    assert "Nothing begins before" in text(member.get(too_soon.location))
    press(client_as("instructor"), f"/bookings/{theirs.id}/arrive", at=f"/bookings/{theirs.id}")
    begun = press(member, f"{made.location}/arrive", at=made.location)
    assert "Arrived." in text(member.get(begun.location))


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"supervisor": None}, "Name a supervisor."),
        ({"process_id": 0}, "Choose the process: what is not decided is not open to people under 18."),
        ({"supervisor": "technician"}, "Sol Haddad is not booked there for all of the time."),
        ({"hour": 13}, "Ines Carrow is not booked there for all of the time."),
    ],
)
def test_what_is_missing_is_said_to_them(scene: SmallLab, client_as: ClientAs, changes: dict, says: str) -> None:
    beside(scene)
    refused = booked(scene, client_as("member"), **changes)
    assert refused.status_code == 422
    assert says in text(refused)
    assert scene.count(Booking) == 1


@pytest.mark.parametrize(
    ("verdict", "with_whom", "says"),
    [
        (Under18.NO, "", "its assessment says no"),
        (Under18.WITH, "a technician at the sink", "is open to people under 18 only with a technician at the sink"),
        (Under18.WITH, "an instructor in the room", ""),
        (Under18.WITH, "the head of art", "only with the head of art"),
        (Under18.YES, "", ""),
    ],
)
def test_only_what_is_assessed_as_open_to_them(
    lab: SmallLab, client_as: ClientAs, monkeypatch: pytest.MonkeyPatch, verdict: Under18, with_whom: str, says: str
) -> None:
    lab.add_places()
    process = lab.add_process()
    lab.ids["process"] = process.id
    approved(lab, process, under_18=verdict, under_18_with=with_whom)
    see_into(lab, Stated.YES)
    grow(lab, "member", until=date(2028, 1, 1))
    permit(lab)
    beside(lab)
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    answer = booked(lab, client_as("member"))
    assert answer.status_code == (422 if says else 303), text(answer)
    assert says in text(answer)


def test_without_an_approved_assessment_it_is_not_open(
    lab: SmallLab, client_as: ClientAs, monkeypatch: pytest.MonkeyPatch
) -> None:
    lab.add_places()
    lab.ids["process"] = lab.add_process().id
    see_into(lab, Stated.YES)
    grow(lab, "member", until=date(2028, 1, 1))
    permit(lab)
    beside(lab)
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    assert "it has no approved assessment" in text(booked(lab, client_as("member")))


def test_no_permission_no_booking_and_one_that_ended_is_none(scene: SmallLab, client_as: ClientAs) -> None:
    beside(scene)
    technician, member = client_as("technician"), client_as("member")
    page = f"/membership/{scene.ids['member']}"
    assert f"{GUARDIAN} , 1 Feb 2026 to 31 Dec 2027" in text(technician.get(page))
    assert press(technician, f"{page}/permission/withdraw", at=page).status_code == 303
    assert "taken back" in text(technician.get(page))
    assert "No guardian's permission is on file for that day" in text(booked(scene, member))
    typed = {"guardian": "Józef Żak", "given_on": "2026-03-01", "ends_on": "2026-03-02", "paper": ""}
    assert send(technician, f"{page}/permission", typed).status_code == 303
    assert "No guardian's permission" in text(booked(scene, member))  # it ends the day before
    assert send(technician, f"{page}/permission", {**typed, "ends_on": "2026-03-03"}).status_code == 303
    assert booked(scene, member).status_code == 303


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"given_on": "2026-03-03"}, "Enter the day it was signed."),
        ({"ends_on": "2026-02-28"}, "It ends before it was given."),
        ({"ends_on": "2145-01-01"}, "Check the year."),
        ({"guardian": "Łukasz Żak"}, "That is their own name."),
        ({"guardian": ""}, "Enter who signed it."),
    ],
)
def test_a_permission_that_cannot_be_is_refused(scene: SmallLab, client_as: ClientAs, typed: dict, says: str) -> None:
    right = {"guardian": "محمد الأمين", "given_on": "2026-03-01", "ends_on": "2026-09-01", "paper": ""}
    page = f"/membership/{scene.ids['member']}/permission"
    refused = send(client_as("instructor"), page, {**right, **typed})
    assert refused.status_code == 422
    assert says in text(refused)
    assert send(client_as("instructor"), page, right).status_code == 303


def test_who_turns_18_before_the_day_needs_nobody(scene: SmallLab, client_as: ClientAs) -> None:
    grow(scene, "member", until=DAY)
    assert booked(scene, client_as("member"), supervisor=None).status_code == 303
    grow(scene, "member", until=DAY + timedelta(days=1))
    assert "Name a supervisor." in text(booked(scene, client_as("member"), supervisor=None, hour=15))


def test_a_supervisor_is_an_adult_who_may_and_is_somebody_else(scene: SmallLab, client_as: ClientAs) -> None:
    instructor = client_as("instructor")
    beside(scene)
    grow(scene, "instructor", until=date(2026, 9, 1))
    told = text(booked(scene, client_as("technician"), person=scene.ids["member"]))
    assert "Ines Carrow is not known to be 18 or over." in told
    scene.session.execute(delete(AgeStatement).where(AgeStatement.person_id == scene.ids["instructor"]))
    scene.session.commit()
    told = text(booked(scene, client_as("technician"), person=scene.ids["member"]))
    assert "Ines Carrow is not known to be 18 or over." in told  # not stated is not adult
    grow(scene, "instructor", until=None)
    people.close_account(scene.act("manager"), person_id=scene.ids["instructor"])
    offered = text(client_as("technician").get("/bookings/book"))
    assert "Ines Carrow" not in offered
    assert instructor.get("/bookings/book").status_code == 303  # signed out
    people.change_roles(scene.act("manager"), person_id=scene.ids["member"], roles=[Role.MEMBER, Role.INSTRUCTOR])
    themselves = booked(scene, client_as("member"), supervisor="member")
    assert "Nobody supervises themselves." in text(themselves)


def test_an_instructor_books_for_them_and_comes_along(scene: SmallLab, client_as: ClientAs) -> None:
    instructor = client_as("instructor")
    made = booked(scene, instructor, person=scene.ids["member"])
    assert made.status_code == 303, text(made)
    page = text(instructor.get(made.location))
    assert "Supervised by Ines Carrow" in page
    assert "Suspended" not in page


def test_a_supervisor_who_cancels_suspends_it_and_everybody_concerned_reads_so(
    scene: SmallLab, client_as: ClientAs
) -> None:
    member, instructor, technician = client_as("member"), client_as("instructor"), client_as("technician")
    theirs = beside(scene)
    made = booked(scene, member)
    assert press(instructor, f"/bookings/{theirs.id}/cancel", at=f"/bookings/{theirs.id}").status_code == 303
    scene.now = noon(11) + timedelta(minutes=45)
    for client, whose in ((member, "Your booking"), (instructor, "Łukasz Żak"), (technician, "Łukasz Żak")):
        shown = text(client.get(made.location))
        assert "Suspended: no start as it stands." in shown
        assert "Ines Carrow is not booked there for all of the time." in shown
        today = text(client.get("/"))
        assert whose in today
        assert "suspended, no start as it stands" in today
    refused = press(member, f"{made.location}/arrive", at=made.location)
    assert "Ines Carrow is not booked there" in text(member.get(refused.location))
    mail = scene.session.execute(select(OutgoingMail).where(OutgoingMail.person_id == scene.ids["member"])).scalars()
    subjects = [letter.subject for letter in mail]
    assert sum(subject.startswith("Suspended:") for subject in subjects) == 1
    # Another takes it on, but nothing begins before she has arrived.
    assert press(technician, f"{made.location}/supervise/come", at=made.location).status_code == 303
    assert "Suspended" not in text(member.get(made.location))
    refused = press(member, f"{made.location}/arrive", at=made.location)
    assert "Sol Haddad is not here." in text(member.get(refused.location))
    assert press(technician, f"{made.location}/supervise/arrive", at=made.location).status_code == 303
    press(member, f"{made.location}/arrive", at=made.location)
    assert "Arrived" in text(member.get(made.location))
    # And where she goes, the work stops.
    assert press(technician, f"{made.location}/supervise/leave", at=made.location).status_code == 303
    assert "Stop: nobody supervises this now." in text(member.get(made.location))
    assert "may not go on" in text(instructor.get("/"))


def test_a_supervisor_who_came_along_says_that_they_cannot(scene: SmallLab, client_as: ClientAs) -> None:
    instructor = client_as("instructor")
    made = booked(scene, instructor, person=scene.ids["member"])
    assert press(instructor, f"{made.location}/supervise/not-come", at=made.location).status_code == 303
    assert "Suspended: no start as it stands." in text(client_as("member").get(made.location))
    assert press(instructor, f"{made.location}/supervise/come", at=made.location).status_code == 303
    assert "Suspended" not in text(client_as("member").get(made.location))


def test_the_class_of_a_supervisor_does_not_say_that_they_stand_there(scene: SmallLab, client_as: ClientAs) -> None:
    beside(scene)
    made = booked(scene, client_as("member"))
    scene.now = noon()
    own = scene.session.execute(select(Booking).where(Booking.person_id == scene.ids["instructor"])).scalar_one()
    own.arrived_at, own.class_name = scene.now, "First prints"
    scene.session.commit()
    assert "Ines Carrow is not here." in text(client_as("member").get(made.location))
    own.class_name = ""
    scene.session.commit()
    assert "Ines Carrow is not here." not in text(client_as("member").get(made.location))


def test_what_falls_away_elsewhere_is_noticed_by_the_minute_and_told_once(scene: SmallLab, client_as: ClientAs) -> None:
    made = booked(scene, client_as("instructor"), person=scene.ids["member"])
    permission = guardians.permissions_of(scene.session, scene.ids["member"])[0]
    guardians.withdraw_permission(scene.act("technician"), person_id=scene.ids["member"], permission_id=permission.id)
    before = scene.count(OutgoingMail)
    task = Task(scene.session, this_config(), {}, lambda: scene.now, lambda **_: None, lambda: False)
    for _ in range(2):
        supervising.look_again_at_all(task)
    assert scene.count(OutgoingMail) == before + 2  # to them, and to the instructor who booked it
    assert "No guardian's permission is on file" in text(client_as("member").get(made.location))


@pytest.mark.parametrize(
    ("rule", "looked_into", "second", "says"),
    [
        (Safeguarding.EITHER, Stated.NOT_STATED, False, "Wet room cannot be looked into, or nobody has said so."),
        (Safeguarding.EITHER, Stated.NO, True, ""),
        (Safeguarding.EITHER, Stated.YES, False, ""),
        (Safeguarding.TWO_ADULTS, Stated.YES, False, "Name a second adult who is booked there too."),
        (Safeguarding.TWO_ADULTS, Stated.NOT_STATED, True, ""),
        (Safeguarding.LOOKED_INTO, Stated.NO, True, "Wet room cannot be looked into"),
    ],
)
def test_the_labs_safeguarding_rule(
    scene: SmallLab, client_as: ClientAs, rule: Safeguarding, looked_into: Stated, second: bool, says: str
) -> None:
    service.set_rules(scene.act("manager"), admits_under_18=Admits.YES, safeguarding=rule)
    see_into(scene, looked_into)
    beside(scene)
    beside(scene, "technician")
    answer = booked(scene, client_as("member"), second_adult=scene.ids["technician"] if second else 0)
    assert answer.status_code == (422 if says else 303), text(answer)
    assert says in text(answer)


def test_a_second_adult_is_neither_of_the_two_and_is_booked_there(scene: SmallLab, client_as: ClientAs) -> None:
    see_into(scene, Stated.NO)
    beside(scene)
    member = client_as("member")
    for who, says in (
        ("instructor", "The second adult is somebody else again."),
        ("member", "The second adult is somebody else again."),
        ("manager", "Μαρία Ιωάννου is not booked there for all of the time."),
    ):
        assert says in text(booked(scene, member, second_adult=scene.ids[who]))


def test_who_answers_for_somebody_of_school_age_is_given_the_findings(scene: SmallLab, client_as: ClientAs) -> None:
    grow(scene, "member", until=date(2028, 1, 1), school_until=None)  # not stated is of school age
    technician, member = client_as("technician"), client_as("member")
    beside(scene)
    made = booked(scene, member)
    lacking = "Who answers for them has not been given what the assessment of Black-and-white film found."
    assert lacking in text(member.get(made.location))
    printed = text(technician.get(f"/assessments/{scene.ids['assessment']}/findings"))
    assert "What can do harm" in printed
    assert "Rinse. 20 minutes." in printed
    page = f"/assessments/findings-for/{scene.ids['member']}"
    assert f'value="{GUARDIAN}"' in technician.get(page).text
    version_id = scene.session.execute(select(Version.id)).scalar_one()
    assert send(technician, page, {"version_id": version_id, "given_to": GUARDIAN}).status_code == 303
    assert f"Black-and-white film {GUARDIAN}" in text(technician.get(page))
    assert lacking not in text(member.get(made.location))


def test_a_lab_that_admits_none_books_nobody_who_has_not_said_or_is_under_18(
    scene: SmallLab, client_as: ClientAs
) -> None:
    service.set_rules(scene.act("manager"), admits_under_18=Admits.NO)
    member, instructor = client_as("member"), client_as("instructor")
    beside(scene)
    assert "This lab admits nobody under 18." in text(booked(scene, member))
    scene.session.execute(delete(AgeStatement).where(AgeStatement.person_id == scene.ids["member"]))
    scene.session.commit()
    assert "You have not said whether you are 18 or over." in text(booked(scene, member))
    told = text(booked(scene, instructor, person=scene.ids["member"]))
    assert "Łukasz Żak has not said whether they are 18 or over." in told
    assert send(member, "/account/age", {"age": "adult"}).status_code == 303
    assert booked(scene, member).status_code == 303


def test_somebody_under_18_holds_no_class(scene: SmallLab, client_as: ClientAs) -> None:
    grow(scene, "instructor", until=date(2026, 9, 1))
    fields = {"station": scene.ids["Enlarger"], "day": "2026-03-03", "starts": 720, "ends": 780, "process_id": 0}
    more = {"size": "", "count": 0, "note": "", "class_name": "First prints", "units": 2}
    told = send(client_as("instructor"), "/bookings/book-class", {**fields, **more})
    assert "Somebody under 18 holds no class." in text(told)


def test_a_shared_tablet_tells_nothing_of_anybodys_age(scene: SmallLab, client_as: ClientAs) -> None:
    theirs = beside(scene)
    made = booked(scene, client_as("member"))
    press(client_as("instructor"), f"/bookings/{theirs.id}/cancel", at=f"/bookings/{theirs.id}")
    tablet = client_as("manager")
    send(tablet, "/devices/enrol", name="Dry side, by the door")
    card = devices.issue_card(scene.act("manager"), person_id=scene.ids["member"])

    def visit() -> None:
        send(tablet, "/tablet", code=card.code)

    visit()
    assert tablet.get("/account/age").status_code == 403
    for path in ("/", "/bookings", "/bookings/book", made.location):
        shown = text(tablet.get(path)).casefold()
        assert not any(word in shown for word in ("under 18", "supervis", "suspended", "guardian")), path
    told = text(booked(scene, tablet, hour=15))
    assert NOT_ON_A_SHARED_SCREEN in told
    assert "under 18" not in told
    assert "supervis" not in told.casefold()


def test_neither_record_nor_mail_nor_search_tells_of_an_age(scene: SmallLab, client_as: ClientAs) -> None:
    theirs = beside(scene)
    booked(scene, client_as("member"))
    press(client_as("instructor"), f"/bookings/{theirs.id}/cancel", at=f"/bookings/{theirs.id}")
    scene.session.rollback()
    told = " ".join(entry.payload or "" for entry in scene.session.execute(select(RecordEntry)).scalars())
    written = " ".join(f"{row.subject} {row.body}" for row in scene.session.execute(select(OutgoingMail)).scalars())
    for secret in ("2028-01-01", GUARDIAN, "under 18 until"):
        assert secret not in told
        assert secret not in written
    assert "18" not in written.replace("2018", "")
    found = text(client_as("manager").get(f"/find?q={GUARDIAN}"))
    assert f"{GUARDIAN} ," not in found
