"""The first page as the day: its sentence, who is where, one's own booking, the one obvious act, and its cost."""

from collections.abc import Callable

import pytest
import time_machine
from flask.testing import FlaskClient

from labsys.baths.models import Work
from labsys.bookings.rules import Plan
from labsys.chemistry.care import SolutionKind
from labsys.inductions.models import Hazard
from labsys.jobs.models import Job
from labsys.mail.models import OutgoingMail
from labsys.membership.ages import state_age
from labsys.people import service as people
from labsys.people.models import Role
from tests.desk.conftest import Look
from tests.desk.reading import Row, duties, primary_acts, sentence
from tests.desk.the_day import arrive, at, book_class, teach_process, until
from tests.planning.furnishing import add_film_process
from tests.support.assessing import approved
from tests.support.lab import SmallLab
from tests.support.pages import hidden_field, links, source, statements

ClientAs = Callable[..., FlaskClient]


# The day in a sentence


@pytest.mark.sqlite_only
def test_a_lab_without_opening_hours_says_so(look: Look, lab: SmallLab) -> None:
    assert sentence(look("member")) == "No opening hours today, and no bath needs somebody."


@pytest.mark.sqlite_only
def test_an_empty_day_says_that_nobody_is_booked(look: Look, day: SmallLab) -> None:
    assert sentence(look("member")) == "Nobody is booked, and no bath needs somebody."


def test_the_sentence_says_who_is_booked_and_here_the_next_class_and_the_baths_in_need(
    look: Look, day: SmallLab
) -> None:
    """20 rolls of the developer's 25 leave it near its end."""
    here = day.book("Film sink", at(10, 12))
    day.book("Enlarger", at(11, 13), role="technician")
    book_class(day, at(18, 20))
    book_class(day, at(14, 16), name="First prints")
    day.log(20)
    until(day, 10)
    arrive(day, here)
    begun = "4 booked, 1 here now"
    assert sentence(look("member")) == (
        f"{begun}; the next class is First prints at 14:00, and 1 bath needs somebody before then."
    )
    until(day, 14.5)
    assert "the next class is Beginners at 18:00" in sentence(look("member"))
    until(day, 18.5)
    assert sentence(look("member")) == f"{begun}, and 1 bath needs somebody."

    # Who is where


@pytest.mark.sqlite_only
def test_free_time_on_the_board_and_in_the_list_leads_to_booking_it(look: Look, day: SmallLab) -> None:
    day.book("Film sink", at(12, 14), role="technician")
    page = look("member")
    assert '<table class="board">' in page
    free = [link for link in links(page) if link.startswith("/bookings/book?") and "from=" in link]
    sink = f"station={day.ids['Film sink']}&day=2026-03-02&from="
    assert f"/bookings/book?{sink}10:00" in free
    assert not any(f"{sink}{hour}" in link for link in free for hour in ("12:00", "13:00"))
    assert "from=" not in "".join(links(look("safety adviser")))


@pytest.mark.sqlite_only
def test_what_others_plan_is_for_those_who_book_for_others(look: Look, day: SmallLab) -> None:
    process = teach_process(day, SolutionKind.FIXER)
    day.book("Film sink", at(12, 14), role="technician", plan=Plan(process_id=process.id, size="120", count=7))
    assert "7 of 120" not in look("member")
    assert "7 of 120, Film in fixer" in look("instructor")

    # One's own booking


def test_ones_own_booking_is_there_with_its_plan_and_its_session_plan(look: Look, day: SmallLab) -> None:
    process = teach_process(day, SolutionKind.FIXER)
    booking = day.book("Film sink", at(12, 14), plan=Plan(process_id=process.id, size="120", count=3))
    page = look("member")
    _, _, after = page.partition("You: Film sink, 12:00 to 14:00")
    assert after.index("3 of 120, Film in fixer.") < after.index("Who is where")
    assert {f"/bookings/{booking.id}", f"/plan?booking_id={booking.id}"} <= set(links(page))
    assert "You: Film sink" not in look("technician")
    until(day, 14)
    assert "You: Film sink" not in look("member")


def test_arriving_is_the_obvious_act_from_half_an_hour_before(look: Look, day: SmallLab, client_as: ClientAs) -> None:
    booking = day.book("Film sink", at(12, 14))
    until(day, 11.25)
    assert primary_acts(look("member")) == ["Log a use"]
    until(day, 11.5)
    page = look("member")
    assert primary_acts(page) == ["Arrive"]
    client = client_as("member")
    token = hidden_field(source(client.get("/")), "csrf_token")
    assert client.post(f"/bookings/{booking.id}/arrive", data={"csrf_token": token}).status_code == 303
    day.session.refresh(booking)
    assert booking.is_here
    page = look("member")
    assert primary_acts(page) == ["Log a use"]
    assert "here now" in page
    assert "1 booked, 1 here now" in sentence(page)


@pytest.mark.sqlite_only
def test_without_baths_to_log_in_a_member_books(look: Look, lab: SmallLab) -> None:
    lab.add_places()
    assert primary_acts(look("member")) == ["Book a place"]

    # The instructor's class, the manager's mail


def test_a_class_is_signed_off_before_it_and_its_work_logged_once_it_has_begun(look: Look, day: SmallLab) -> None:
    booking = book_class(day, at(14, 16))
    assert primary_acts(look("instructor")) == ["Sign off the class"]
    until(day, 13.75)
    assert primary_acts(look("instructor")) == ["Arrive"]
    arrive(day, booking)
    until(day, 15)
    page = look("instructor")
    assert primary_acts(page) == ["Log the class's work"]
    assert links(page).count(f"/baths/lines/{day.film_line_id}/log") == 1


@pytest.mark.sqlite_only
def test_mail_that_needs_somebody_is_for_those_who_see_the_outbox(look: Look, day: SmallLab) -> None:
    day.session.add(
        OutgoingMail(
            person_id=day.ids["member"],
            reason_key="a test",
            subject="Changed",
            body="",
            created_at=day.now,
            send_at=day.now,
            given_up_at=day.now,
        )
    )
    day.session.commit()
    page = look("manager")
    assert [row[:2] for row in duties(page)] == [("Mail", "1 message not sent; somebody has to decide")]
    assert primary_acts(page) == ["See the outbox"]
    for role in ("technician", "safety adviser", "instructor"):
        assert duties(look(role)) == []


@pytest.mark.sqlite_only
def test_a_record_that_does_not_hold_stands_first_for_those_who_see_the_record(look: Look, day: SmallLab) -> None:
    day.session.add(
        Job(
            kind="verify",
            parameters="{}",
            once_key="verify",
            asked_at=day.now,
            due_at=day.now,
            last_error="The record does not hold. Entry 2: its content was altered.",
        )
    )
    day.session.commit()
    for role in ("manager", "safety adviser"):
        assert duties(look(role))[0].why == "now The record does not hold. Entry 2: its content was altered."
    for role in ("technician", "instructor", "member"):
        assert "does not hold" not in look(role)


@pytest.mark.sqlite_only
def test_the_adviser_finds_who_holds_what_when_nothing_waits(look: Look, day: SmallLab) -> None:
    assert primary_acts(look("safety adviser")) == ["Who holds what"]

    # What it costs


@pytest.mark.parametrize("role", ["member", "instructor", "technician", "safety adviser", "manager"])
def test_the_page_costs_as_many_queries_however_full_the_day_is(
    client_as: ClientAs, day: SmallLab, clock: time_machine.Traveller, role: str
) -> None:
    """Bookings, people and baths are doubled and more; every one of those booked lacks something."""
    process = teach_process(day, SolutionKind.DEVELOPER)
    plan = Plan(process_id=process.id, size="120", count=2)
    day.book("Film sink", at(10, 12), plan=plan)
    day.add_induction("Sink", station_ids=frozenset({day.ids["Film sink"]}))
    skin = day.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER}))
    day.appoint(skin)
    day.sign_off(skin, "technician")  # who mixes what is in it
    day.open_container()
    client = client_as(role)

    def count() -> tuple[int, list[Row]]:
        clock.move_to(day.tick(), tick=False)
        with statements() as sent:
            page = source(client.get("/"))
        return sum(statement.startswith("SELECT") for statement in sent), duties(page)

    few, _ = count()
    line_id = day.add_line("Second film line", Work.FILM).id
    for kind, parts in ((SolutionKind.DEVELOPER, 6), (SolutionKind.STOP, 19), (SolutionKind.FIXER, 4)):
        for in_service in (True, False):
            day.mix(kind, water_parts=parts, working_ml=1_000, line_id=line_id, in_service=in_service)
    day.log(10, line_id=line_id)
    day.open_container(capacity_ml=1_000)
    for number in range(3):
        day.add_product(SolutionKind.STOP, confirmed=False, name=f"Stop concentrate {number}")
        name = f"Person {number}"
        day.ids[name] = people.invite_person(
            day.act("manager"), name=name, email=f"person{number}@example.org", roles=[Role.MEMBER]
        ).person.id
        state_age(day.act("manager"), person_id=day.ids[name], until=None)
        day.sign_off(skin, name)
        day.book("Enlarger", at(12, 14), actor="instructor", role=name)
    book_class(day, at(18, 20))
    for number in range(3):  # every product of an approved assessment is read with all that it is judged by
        approved(day, add_film_process(day, name=f"Film {number}"))
    wet_side = day.add_induction("Wet side", station_ids=frozenset({day.ids["Wet side"]}))
    day.appoint(wet_side)
    day.sign_off(wet_side, "member", confirmed=False)
    many, listed = count()
    # what is in each waste container, the classes to come, and equipment
    assert many == few <= (21 if role in ("member", "instructor") else 25)
    if role == "instructor":
        assert listed[1].why.startswith("now Logged work on 2 Mar 2026 without ")
        assert [row.what for row in listed] == ["Łukasz Żak", "Łukasz Żak", "Person 0", "Person 1", "Person 2"]
