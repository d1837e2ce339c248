"""When the power is gone: the pack on paper, and what stood on its sheets entered once, with the real times."""

from datetime import timedelta

import pytest

from labsys.baths.models import LateUse, Use
from labsys.duty.models import Presence
from labsys.people.acts import Act
from labsys.people.models import Role
from labsys.people.service import invite_person
from labsys.timetable.spans import Span
from tests.offline.test_from_a_phone import rows
from tests.support.lab import SmallLab
from tests.support.pages import as_it_stands, form_of, pdf_text, press, source, text


def copy(client, lab: SmallLab, *came: dict[str, str], went: list[dict[str, str]] = [], opened: str = ""):  # noqa: B006
    """Copy lines of paper into the page and send it."""
    data = as_it_stands(form_of(opened or source(client.get("/downtime"))))
    for name, lines in (("came", came), ("went", went)):
        for number, line in enumerate(lines):
            for field, typed in line.items():
                data[f"{name}-{number}-{field}"] = typed
    return client.post("/downtime", data=data)


def rolls(lab: SmallLab, who: str, at: str, count: int, **more: str) -> dict[str, str]:
    return {"who": who, "at": at, "line": str(lab.film_line_id), "what": "film 120", "count": str(count), **more}


def test_what_is_on_paper_is_entered_once_with_its_times_for_the_people_named(at_noon, client_as):
    lab = at_noon
    instructor = client_as("instructor")
    start = lab.now - timedelta(hours=2)  # booked from ten to two, and it is noon
    booking = lab.book("Film sink", Span(start, start + timedelta(hours=4)), now=start - timedelta(hours=1))
    opened = source(instructor.get("/downtime"))
    came = (
        {"who": "łukasz żak", "came": "10:05", "left": "11:40"},
        {"who": "technician@example.org", "came": "10.10"},
        {"who": "Nobody Known", "came": "10:20"},
        {"who": "Ines Carrow", "came": "25:00"},
    )
    went = [
        rolls(lab, "Łukasz Żak", "10:30", 2),
        rolls(lab, "Ines Carrow", "11:00", 12, class_name="First films"),
        rolls(lab, "Łukasz Żak", "13:00", 2),
    ]
    answer = copy(instructor, lab, *came, went=went, opened=opened)
    assert answer.status_code == 422
    page = text(answer)
    for said in ("Nobody here is called Nobody Known.", "“25:00” is no time of day.", "13:00 is in the future."):
        assert said in page
    assert source(answer).count(">entered<") == 4
    # Sent again with what was wrong put right, what was entered stays as it is.
    again = form_of(source(answer))
    data = {**as_it_stands(again), "came-2-who": "Μαρία Ιωάννου", "came-3-came": "10:25", "went-2-at": "11:30"}
    done = instructor.post("/downtime", data=data)
    assert done.status_code == 303
    assert instructor.post("/downtime", data=data).status_code == 303
    lab.session.expire_all()
    assert (booking.arrived_at, booking.left_at) == (start + timedelta(minutes=5), start + timedelta(minutes=100))
    assert [row.came_at for row in rows(lab, Presence)] == [start + timedelta(minutes=m) for m in (10, 20, 25)]
    uses = rows(lab, Use)
    assert [(use.person_id, use.recorded_by_id, use.count, use.class_name) for use in uses] == [
        (lab.ids["member"], lab.ids["instructor"], 2, ""),
        (lab.ids["instructor"], lab.ids["instructor"], 12, "First films"),
        (lab.ids["member"], lab.ids["instructor"], 2, ""),
    ]
    assert [use.used_at - start for use in uses] == [timedelta(minutes=m) for m in (30, 60, 90)]
    assert "3 people are known to be in the building." in text(instructor.get("/building"))


@pytest.mark.sqlite_only
def test_paper_of_another_day_two_of_a_name_and_a_bath_dumped_since(at_noon, client_as):
    lab = at_noon
    technician, instructor = client_as("technician"), client_as("instructor")
    fixer = lab.log(1).baths[-1].bath
    lab.tick(hours=30)
    lab.dump(fixer, lab.open_container(), volume_ml=2_400)
    lab.tick(days=2)
    manager = Act(lab.session, by=lab.person("manager"), now=lab.now)
    invite_person(manager, name="Sol Haddad", email="other.sol@example.org", roles=[Role.MEMBER])
    day = {"day": "2026-03-03"}
    data = as_it_stands(form_of(source(instructor.get("/downtime"))))
    wrong = {
        **data,
        **day,
        **{"came-0-who": "Łukasz Żak", "came-0-came": "13:00"},
        **{"came-1-who": "Sol Haddad", "came-1-came": "13:00", "came-1-left": "14:00"},
    }
    page = text(instructor.post("/downtime", data=wrong))
    assert "They came on another day: write when they went." in page
    assert "Several people are called Sol Haddad. Write the e-mail address." in page
    right = {
        **data,
        **day,
        **{"came-0-who": "Łukasz Żak", "came-0-came": "22:00", "came-0-left": "00:30"},
        **{f"went-0-{name}": typed for name, typed in rolls(lab, "Łukasz Żak", "23:00", 3).items()},
    }
    assert "waits for the technician" in text(instructor.get(instructor.post("/downtime", data=right).location))
    (late,) = rows(lab, LateUse)
    assert (late.person_id, late.recorded_by_id) == (lab.ids["member"], lab.ids["instructor"])
    stays = [row.left_at - row.came_at for row in rows(lab, Presence)]
    assert stays == [timedelta(hours=2, minutes=30)]
    assert "Late uses" in text(technician.get("/"))
    # Whoever keeps the baths decides at once, and a manager who logs no uses is not asked for any.
    data = as_it_stands(form_of(source(technician.get("/downtime"))))
    went = {f"went-0-{name}": typed for name, typed in rolls(lab, "Łukasz Żak", "22:30", 1).items()}
    assert technician.post("/downtime", data={**data, **day, **went}).status_code == 303
    assert [use.count for use in rows(lab, Use)] == [1, 1]
    assert 'name="went-0-who"' not in source(client_as("manager").get("/downtime"))
    assert "Copy the first line of a sheet." in text(copy(technician, lab))


@pytest.mark.sqlite_only
def test_the_pack_holds_what_the_lab_works_from_without_power(at_noon, client_as):
    lab = at_noon
    induction = lab.add_induction("Skin care")
    lab.appoint(induction)
    lab.log(49)
    technician = client_as("technician")
    shown = text(technician.get("/documents/downtime"))
    issued = press(technician, "/documents/downtime", at="/documents/downtime")
    printed = pdf_text(technician.get(issued.location).data)
    fixer = rows(lab, Use)[0].baths[-1].bath
    for word in (
        "Ring 999.",
        "Rinse. 20 minutes.",
        "Keyholder",
        "Sol Haddad",
        fixer.code,
        "near its end",
        "Skin care (",
        "Łukasz Żak",
        "nothing: may not start alone",
        "What went through Film line",
        "What went through Paper line",
        "Who came and went",
        "NOBODY HAS BEEN TOLD. Ring 999",
    ):
        assert word.casefold() in printed.casefold(), word
        assert word.casefold() in shown.casefold(), word
    assert client_as("member").get("/documents/downtime").status_code == 403
