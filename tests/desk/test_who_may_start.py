"""The first page on inductions: who may not start today, what waits for its person, and what lapses soon."""

from datetime import timedelta

import pytest

from labsys.bookings.rules import Plan
from labsys.chemistry.care import SolutionKind
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
    assert "lapses on 2 March, before then" in duties(look("member"))[0].why


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("hour", "is_now"), [(11.25, False), (11.5, True)])
def test_it_is_pressing_once_they_may_arrive(look: Look, day: SmallLab, hour: float, is_now: bool) -> None:
    day.book("Film sink", at(12, 14))
    day.add_induction("Sink", station_ids=frozenset({day.ids["Film sink"]}))
    until(day, hour)
    assert duties(look("instructor"))[0].why.startswith("now ") is is_now


@pytest.mark.sqlite_only
def test_whoever_has_come_or_whose_time_is_over_is_asked_nothing(look: Look, day: SmallLab) -> None:
    came = day.book("Film sink", at(10, 12))
    day.book("Enlarger", at(10, 12), role="technician")
    until(day, 10)
    arrive(day, came)
    day.add_induction("Both", station_ids=frozenset({day.ids["Film sink"], day.ids["Enlarger"]}))
    assert [row.what for row in duties(look("instructor"))] == ["Sol Haddad"]
    until(day, 12)
    assert duties(look("instructor")) == []


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
