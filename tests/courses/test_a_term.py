"""What an instructor does of a term: in one form and few touches, from a list of eighteen to the printed register."""

import re

import pytest
from sqlalchemy import select

from labsys.courses.models import Meeting
from labsys.inductions import signing
from labsys.membership.ages import state_age
from labsys.people import service as people
from labsys.people.models import Role
from tests.courses.test_setting_up import MONDAY, furnished, send_again
from tests.support.pages import as_it_stands, form_of, links, page_at, pdf_text, press, source, text

__all__ = ["furnished"]


@pytest.fixture
def eighteen(furnished):
    """Fifteen who hold what the enlarger needs, and three who do not."""
    induction = furnished.add_induction("Skin care", station_ids=frozenset({furnished.ids["Enlarger"]}))
    furnished.appoint(induction)
    invited = [
        people.invite_person(
            furnished.act("manager"), name=f"Student {number:02}", email=f"s{number}@example.org", roles=[Role.MEMBER]
        ).person
        for number in range(1, 19)
    ]
    for person in invited:
        state_age(furnished.act("manager"), person_id=person.id, until=None)
    signing.sign_off_many(
        furnished.act("instructor"),
        person_ids=[person.id for person in invited[:15]],
        induction_ids=[induction.id],
        taught_at=furnished.now,
    )
    waiting = [row.id for row in furnished.session.query(signing.SignOff).filter_by(confirmed_at=None)]
    signing.confirm_by_sheet(furnished.act("instructor"), sign_off_ids=waiting, sheet="the green folder")
    return "\n".join(f"{person.name}, {person.email}" for person in invited)


@pytest.mark.sqlite_only
def test_a_course_of_eighteen_for_twelve_weeks_in_one_form_and_at_most_25_touches(furnished, eighteen, client_as):
    instructor = client_as("instructor")
    touches = 1
    empty = instructor.get("/courses/add")
    changed = {
        "name": "First prints",
        "term": "spring 2026",
        "station": str(furnished.ids["Enlarger"]),
        "units": "4",
        "first_day": MONDAY.isoformat(),
        "meetings": "12",
        "starts": "1080",
        "ends": "1200",
        "roster": eighteen,
    }
    asked = instructor.post("/courses/add", data={**as_it_stands(form_of(source(empty))), **changed})
    touches += len(changed) + 1
    assert "Dates: 12, of which 9 are booked" in text(asked)
    done = send_again(instructor, asked)
    touches += 1
    page = page_at(instructor, done.location)
    said = re.sub(r"\s+", " ", text(instructor.get(done.location)))
    assert "Three of 18 may not start." in said
    assert [name for name in ("Student 16", "Student 17", "Student 18") if f"{name}: Skin care." in said] == [
        "Student 16",
        "Student 17",
        "Student 18",
    ]
    easter = furnished.session.scalars(select(Meeting).where(Meeting.left_out.contains("Easter"))).one()
    move = f"/courses/meetings/{easter.id}/move"
    assert move in links(page)
    moved = instructor.post(move, data={**as_it_stands(form_of(page_at(instructor, move))), "day": "2026-04-07"})
    touches += 3
    assert moved.status_code == 303
    issued = press(instructor, f"/documents/attendance{done.location.removeprefix('/courses')}", at=done.location)
    touches += 1
    paper = pdf_text(instructor.get(issued.location).get_data())
    assert "Student 18" in paper
    assert "5: 7 Apr" in paper
    assert touches <= 25
    assert touches == 16  # a touch is a control changed, or a link or button pressed
