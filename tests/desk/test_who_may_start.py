"""The first page on inductions: who may not start today, what waits for its person, and what lapses soon."""

from datetime import timedelta

import pytest

from labsys.baths import uses
from labsys.bookings import service as bookings
from labsys.bookings.rules import Plan
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material, Pieces, size_of
from labsys.inductions import signing
from labsys.inductions.models import Hazard
from tests.desk.conftest import Look
from tests.desk.reading import duties, primary_acts
from tests.desk.the_day import MIDNIGHT, arrive, at, teach_process, until
from tests.support.lab import SmallLab
from tests.support.pages import links


def test_who_lacks_an_induction_is_told_all_and_those_who_help_only_what_is_missing(look: Look, day: SmallLab) -> None:
    day.book("Film sink", at(12, 14))
    induction = day.add_induction("Film sink induction", station_ids=frozenset({day.ids["Film sink"]}))
    day.appoint(induction)
    (own,) = duties(look("member"))
    assert own.what == "Your booking at 12:00"
    assert own.why == (
        "You may not start yet. Film sink induction is needed for Film sink: never signed off. "
        "Come to the induction on Mondays at six."
    )
    (row,) = duties(look("instructor"))
    assert (row.what, row.why) == ("Łukasz Żak", "Booked at 12:00, may not start yet. Missing: Film sink induction")
    assert row.act.startswith("Sign off")
    day.sign_off(induction)
    assert duties(look("member")) == duties(look("instructor")) == []


def test_what_to_sign_off_is_ticked_and_who_cannot_sign_off_sees_what_is_held(look: Look, day: SmallLab) -> None:
    day.book("Film sink", at(12, 14))
    induction = day.add_induction("Film sink induction", station_ids=frozenset({day.ids["Film sink"]}))
    member = day.ids["member"]
    assert f"/inductions/sign-off?person={member}&induction={induction.id}" in links(look("instructor"))
    page = look("manager")
    assert duties(page)[0].act.startswith("See what they hold")
    assert f"/inductions/people/{member}" in links(page)


@pytest.mark.sqlite_only
def test_members_are_told_nothing_of_each_other(look: Look, day: SmallLab) -> None:
    day.book("Film sink", at(12, 14), role="technician")
    day.add_induction("Film sink induction", station_ids=frozenset({day.ids["Film sink"]}))
    assert "Film sink induction" not in look("member")


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("kind", "stopped"), [(SolutionKind.DEVELOPER, True), (SolutionKind.FIXER, False)])
def test_the_chemicals_planned_are_asked_about_too(
    look: Look, day: SmallLab, kind: SolutionKind, stopped: bool
) -> None:
    """The developer of the small lab declares H317, its fixer nothing."""
    process = teach_process(day, kind)
    day.book("Film sink", at(12, 14), plan=Plan(process_id=process.id))
    day.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER}))
    assert bool(duties(look("instructor"))) is stopped


@pytest.mark.sqlite_only
def test_a_place_that_comes_with_the_place_is_asked_about_too(look: Look, day: SmallLab) -> None:
    day.book("Enlarger", at(12, 14))
    day.add_induction("Wet side", station_ids=frozenset({day.ids["Wet side"]}))
    assert duties(look("instructor"))[0].why.endswith("Missing: Wet side")


@pytest.mark.sqlite_only
def test_a_booking_is_asked_about_as_of_its_start(look: Look, day: SmallLab) -> None:
    """What was taught at eleven yesterday for a day is in force now and gone at twelve."""
    day.book("Film sink", at(12, 14))
    induction = day.add_induction("Sink", valid_days=1, station_ids=frozenset({day.ids["Film sink"]}))
    day.appoint(induction)
    signed = day.sign_off(induction)
    signed.taught_at, signed.lapses_at = MIDNIGHT - timedelta(hours=13), MIDNIGHT + timedelta(hours=11)
    day.session.commit()
    missing = duties(look("instructor"))[0]
    assert missing.why == "Booked at 12:00, may not start yet. Missing: Sink"
    assert "lapses on 2 March, before that time is over" in duties(look("member"))[0].why


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("hour", "is_now"), [(11.25, False), (11.5, True)])
def test_it_is_pressing_once_they_may_arrive(look: Look, day: SmallLab, hour: float, is_now: bool) -> None:
    day.book("Film sink", at(12, 14))
    day.add_induction("Sink", station_ids=frozenset({day.ids["Film sink"]}))
    until(day, hour)
    assert duties(look("instructor"))[0].why.startswith("now ") is is_now


def test_who_is_at_work_and_lacks_something_stands_there_until_they_leave(look: Look, day: SmallLab) -> None:
    came = day.book("Film sink", at(10, 12))
    day.book("Enlarger", at(10, 12), role="technician")
    until(day, 10)
    arrive(day, came)
    both = day.add_induction("Both", station_ids=frozenset({day.ids["Film sink"], day.ids["Enlarger"]}))
    rows = {row.what: row.why for row in duties(look("instructor"))}
    assert rows["Łukasz Żak"] == "now At work, booked at 10:00, may not go on. Missing: Both"
    assert rows["Sol Haddad"] == "now Booked at 10:00, may not start yet. Missing: Both"
    (own,) = duties(look("member"))
    assert own.why.startswith("You are at work and may not go on. Both is needed for Film sink: never signed off.")
    until(day, 12)
    assert [row.what for row in duties(look("instructor"))] == ["Łukasz Żak"]  # still here
    day.appoint(both)
    signed = day.sign_off(both)
    assert duties(look("instructor")) == []
    signing.withdraw(day.act("instructor"), sign_off_id=signed.id, reason="Slept.")
    assert duties(look("instructor"))[0].why.endswith("may not go on. Missing: Both")
    bookings.leave(day.act("member"), booking_id=came.id)
    assert duties(look("instructor")) == []


def test_work_logged_without_an_induction_stands_there_until_it_is_held(look: Look, day: SmallLab) -> None:
    """The developer of the line declares H317; what the member does about another induction changes nothing."""
    skin = day.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER}))
    film = day.add_induction("Film", materials=frozenset({Material.FILM}))
    for induction in (skin, film):
        day.appoint(induction)
    logged = [day.log(1), day.log(2)]
    row = ("Łukasz Żak", "now Logged work on 2 Mar 2026 without Skin care, Film")
    for role in ("instructor", "technician", "safety adviser"):
        page = look(role)
        assert [duty[:2] for duty in duties(page)] == [row]
        assert f"/inductions/sign-off?person={day.ids['member']}" in links(page)
    assert duties(look("manager"))[0][:2] == row
    assert duties(look("member")) == []
    day.sign_off(film)
    assert [duty[:2] for duty in duties(look("instructor"))] == [row]
    signed = day.sign_off(skin, confirmed=False)
    assert [duty[:2] for duty in duties(look("instructor"))] == [row]
    signing.confirm(day.act("member"), sign_off_id=signed.id)
    assert duties(look("instructor")) == []
    assert all(use.flag for use in logged)
    day.log(1, role="technician")  # what somebody else was taught since answers for nobody
    assert [duty.what for duty in duties(look("instructor"))] == [day.person("technician").name]


def test_work_that_is_taken_back_stands_there_no_more(look: Look, day: SmallLab) -> None:
    day.add_induction("Film", materials=frozenset({Material.FILM}))
    use = day.log(1)
    assert [duty.what for duty in duties(look("instructor"))] == ["Łukasz Żak"]
    roll = size_of(key="120")
    use = uses.correct_use(day.act("member"), use_id=use.id, pieces=Pieces(roll, Material.FILM, 2))
    assert [duty.what for duty in duties(look("instructor"))] == ["Łukasz Żak"]
    uses.correct_use(day.act("member"), use_id=use.id, pieces=Pieces(roll, Material.FILM, 0))
    assert duties(look("instructor")) == []


@pytest.mark.parametrize(("days", "listed"), [(27, True), (28, False)])
def test_work_without_an_induction_stands_there_for_four_weeks_at_most(
    look: Look, day: SmallLab, days: int, listed: bool
) -> None:
    day.add_induction("Film", materials=frozenset({Material.FILM}))
    day.log(1)
    day.tick(days=days)
    assert any("Logged work" in duty.why for duty in duties(look("instructor"))) is listed


def test_a_sign_off_that_waits_for_its_person_comes_first_for_them(look: Look, day: SmallLab) -> None:
    day.book("Film sink", at(12, 14))
    induction = day.add_induction("Sink", station_ids=frozenset({day.ids["Film sink"]}))
    day.appoint(induction)
    day.sign_off(induction, confirmed=False)
    until(day, 11.75)
    page = look("member")
    assert [row[:2] for row in duties(page)] == [("Your inductions", "1 sign-off counts for you once you confirm")]
    assert primary_acts(page) == ["Confirm what you were taught"]
    assert "You may not start yet." in page
    (row,) = duties(look("instructor"))
    assert row.why == "now Booked at 12:00, may not start yet. Missing: Sink, which waits for their own confirmation"
    assert row.act.startswith("Confirm by a signed sheet")


@pytest.mark.sqlite_only
def test_a_sign_off_that_stops_nothing_leaves_arriving_first(look: Look, day: SmallLab) -> None:
    day.book("Film sink", at(12, 14))
    induction = day.add_induction("Enlarger", station_ids=frozenset({day.ids["Enlarger"]}))
    day.appoint(induction)
    day.sign_off(induction, confirmed=False)
    until(day, 11.75)
    assert primary_acts(look("member")) == ["Arrive"]


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("days", "listed"), [(14, True), (15, False)])
def test_inductions_of_todays_people_that_lapse_within_a_fortnight_are_listed(
    look: Look, day: SmallLab, days: int, listed: bool
) -> None:
    induction = day.add_induction("Sink", valid_days=days, station_ids=frozenset({day.ids["Film sink"]}))
    day.appoint(induction)
    day.sign_off(induction)
    assert duties(look("technician")) == []  # nobody of theirs is booked today
    day.book("Film sink", at(12, 14))
    lapses = "Lapses soon: Sink on 16 March"
    assert [row[:2] for row in duties(look("technician"))] == ([("Łukasz Żak", lapses)] if listed else [])
    assert [row[:2] for row in duties(look("member"))] == ([("Your inductions", lapses)] if listed else [])
