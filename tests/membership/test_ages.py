"""What the lab knows of somebody's age: stated once, asked by day, and never the mild side where it was not stated."""

from collections.abc import Callable
from datetime import date

import pytest
from flask.testing import FlaskClient
from sqlalchemy import delete

from labsys.membership import ages, service
from labsys.membership.ages import is_under_18
from labsys.membership.models import AgeStatement
from labsys.membership.rules import MembershipRefused
from labsys.people.permissions import NotPermitted
from labsys.records.models import Admits
from tests.support.lab import SmallLab
from tests.support.pages import send, text

ClientAs = Callable[..., FlaskClient]
BIRTHDAY = date(2026, 9, 14)


def forget_age(lab: SmallLab, role: str) -> None:
    """As if nobody had stated it."""
    lab.session.execute(delete(AgeStatement).where(AgeStatement.person_id == lab.ids[role]))
    lab.session.commit()


def admit(lab: SmallLab, admits: Admits = Admits.YES) -> None:
    service.set_rules(lab.act("manager"), admits_under_18=admits)


@pytest.fixture
def scene(lab: SmallLab, monkeypatch: pytest.MonkeyPatch) -> SmallLab:
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    forget_age(lab, "member")
    return lab


def test_a_student_states_until_when_they_are_under_18_and_turns_18_on_that_day(
    scene: SmallLab, client_as: ClientAs
) -> None:
    member = client_as("member")
    answer = send(member, "/account/age", {"age": "under 18", "until": "2026-09-14", "school_until": "2026-06-27"})
    assert answer.status_code == 303, text(answer)
    assert "Known of you: under 18 until 14 Sep 2026" in text(member.get("/account/age"))
    who = scene.ids["member"]
    assert is_under_18(scene.session, who, on=date(2026, 9, 13))
    assert not is_under_18(scene.session, who, on=BIRTHDAY)  # between booking and date they turn 18
    assert not ages.is_known_adult(scene.session, who, on=date(2026, 9, 13))
    assert ages.is_known_adult(scene.session, who, on=BIRTHDAY)


@pytest.mark.parametrize(("admits", "counts"), [(Admits.NOT_STATED, False), (Admits.YES, True), (Admits.NO, True)])
def test_who_has_not_said_counts_as_under_18_once_the_lab_asks(lab: SmallLab, admits: Admits, counts: bool) -> None:
    forget_age(lab, "member")
    admit(lab, admits)
    assert is_under_18(lab.session, lab.ids["member"], on=BIRTHDAY) is counts
    assert not ages.is_known_adult(lab.session, lab.ids["member"], on=BIRTHDAY)


def test_nobody_stated_to_be_under_18_makes_themselves_older(scene: SmallLab, client_as: ClientAs) -> None:
    member = client_as("member")
    send(member, "/account/age", {"age": "under 18", "until": "2026-09-14", "school_until": ""})
    assert "Whoever keeps the memberships puts it right" in text(member.get("/account/age"))
    with pytest.raises(MembershipRefused):
        ages.state_age(scene.act("member"), person_id=scene.ids["member"], until=None)
    staff = client_as("instructor")
    path = f"/membership/{scene.ids['member']}/age"
    assert send(staff, path, {"age": "adult", "until": "", "school_until": ""}).status_code == 303
    assert "Known 18 or over" in text(staff.get(f"/membership/{scene.ids['member']}"))


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"age": "under 18", "until": "2026-03-02"}, "That day is not to come."),
        ({"age": "under 18", "until": "2044-03-03"}, "Nobody is under 18 for so long."),
        ({"age": "under 18", "until": "2944-03-03"}, "Nobody is under 18 for so long."),
        ({"age": "under 18", "until": "3944-03-03"}, "Check the year."),
        ({"age": "under 18", "until": "14.9.2026"}, "write a day of the calendar"),
        ({"age": "under 18"}, "Say until when."),
        ({"age": "under 18", "until": "2026-09-14", "school_until": "2026-09-15"}, "School age ends before"),
        ({"age": "12"}, "on the list"),
        ({}, "Choose one of the two."),
    ],
)
def test_days_that_cannot_be_are_refused(scene: SmallLab, client_as: ClientAs, typed: dict, says: str) -> None:
    answer = send(client_as("member"), "/account/age", typed)
    assert answer.status_code == 422
    assert says.casefold() in text(answer).casefold()
    assert ages.statement_of(scene.session, scene.ids["member"]) is None


def test_the_lab_is_asked_whether_people_under_18_come_here(scene: SmallLab, client_as: ClientAs) -> None:
    manager, member = client_as("manager"), client_as("member")
    admit(scene, Admits.NOT_STATED)
    assert "Nobody has said whether people under 18 come here" in text(manager.get("/"))
    assert "The lab has not said yet" in text(member.get("/account/age"))
    assert send(manager, "/membership/rules", {"admits_under_18": "no"}).status_code == 303
    assert "Nobody has said whether" not in text(manager.get("/"))
    assert "This lab admits nobody under 18" in text(member.get("/account/age"))


def test_a_member_states_nobody_elses_age(lab: SmallLab) -> None:
    with pytest.raises(NotPermitted):
        ages.state_age(lab.act("member"), person_id=lab.ids["instructor"], until=None)
