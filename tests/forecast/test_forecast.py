"""The forecast as people meet it: kept by the runner, said on every page in the same words, and judged afterwards."""

import csv
import io
import re
from datetime import timedelta

import pytest
from sqlalchemy import select

from labsys.baths.models import Bath, BathLine, Place
from labsys.bookings import service as bookings
from labsys.bookings.models import Booking
from labsys.bookings.rules import Plan
from labsys.chemistry.care import SolutionKind
from labsys.courses import service as courses
from labsys.courses.dates import Decided
from labsys.courses.rules import Term
from labsys.forecast.keeping import KEEP_FORECAST, keep
from labsys.forecast.models import BathForecast, ClassForecast, ClassOutcome, Run, Verdict
from labsys.jobs.runner import Runner
from labsys.timetable.spans import Span
from tests.support.lab import SmallLab, do
from tests.support.pages import send, text

DAYS_SEEN, CLASS_WANTS = 16, 12


@pytest.fixture
def told(lab: SmallLab, client_as, monkeypatch):
    """What a role reads at an address, white space made one."""
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)

    def read(role: str, path: str) -> str:
        answer = client_as(role).get(path)
        assert answer.status_code == 200, f"{path}: {answer.status}"
        return re.sub(r" (?=[:.,])", "", re.sub(r"\s+", " ", text(answer)))

    return read


@pytest.fixture
def busy(lab: SmallLab) -> dict[Place, Bath]:
    """A roll a day for sixteen days through 2.5 L of developer, stop and fixer: good for 25, 50 and 50 rolls."""
    keys = lab.begin(_busy)
    return {place: lab.session.get_one(Bath, key) for place, key in keys.items()}


def _busy(lab: SmallLab) -> dict[Place, int]:
    lab.add_places()
    lab.session.get_one(BathLine, lab.film_line_id).process_id = lab.add_process().id
    lab.session.commit()
    baths = lab.mix_film_line()
    for _ in range(DAYS_SEEN):
        lab.log(1)
        lab.tick(days=1)
    return {place: bath.id for place, bath in baths.items()}


def film_class(lab: SmallLab, *, days: int = 2, count: int = CLASS_WANTS, name: str = "First film") -> Booking:
    """A class at six on a day to come."""
    start = lab.now.replace(hour=18, minute=0) + timedelta(days=days)
    process_id = lab.session.get_one(BathLine, lab.film_line_id).process_id
    return do(
        bookings.book_class,
        lab.session,
        actor=lab.person("instructor"),
        person_id=lab.ids["instructor"],
        station_id=lab.ids["Film sink"],
        span=Span(start, start + timedelta(hours=2)),
        units=1,
        class_name=name,
        plan=Plan(process_id=process_id, size="120" if count else "", count=count),
        now=lab.tick(),
    )


def spare(lab: SmallLab) -> Bath:
    return lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500, in_service=False)


def test_enough_for_the_class_is_said_in_the_same_words_on_every_page_and_judged_after_it(
    app, lab, busy, told, monkeypatch
):
    """Worked by hand: 16 rolls are gone, one a day. To come before the class are the rest of today and two days more: 3
    rolls, by a quieter time 2.1, by a busier one 4.2. Of the developer's 25 that leaves 4 to 6 whole ones, of the
    fixer's 50 it leaves 29 to 31; the class wants 12.
    """
    developer, fixer = busy[Place.DEVELOPER], busy[Place.FIXER]
    booking = film_class(lab)
    booking_page, bath_page, fixer_page = f"/bookings/{booking.id}", f"/baths/{developer.id}", f"/baths/{fixer.id}"
    question = "Enough for First film on Fri 20 Mar, 18:00?"
    for page in (booking_page, bath_page):
        assert "not been worked out yet" in told("instructor", page)
    monkeypatch.setitem(app.extensions, "labsys-jobs", {KEEP_FORECAST.name: KEEP_FORECAST})
    assert Runner(app, clock_now=lambda: lab.now).step() == 1
    lab.session.expire_all()
    no = "12 rolls are likely, 4 to 6 left by then. Mix a fresh one before 18:00."
    assert f"{question} No: {no}" in told("technician", bath_page)
    assert "it ends here" in told("technician", bath_page)  # on the ribbon of its diary
    assert f"{question} Yes: 12 rolls are likely, 29 to 31 left by then." in told("member", fixer_page)
    for role in ("technician", "instructor"):
        today = told(role, "/")
        assert "Enough for the classes to come?" in today
        assert f"No Film developer {developer.code}: no, {no}" in today
        on_booking = told(role, booking_page)
        assert f"{question} No." in on_booking
        assert f"Film developer {developer.code}: no, {no}" in on_booking
        assert f"Film fixer {fixer.code}: yes, 12 rolls are likely, 29 to 31 left by then." in on_booking
    assert "Enough for the classes to come?" not in told("member", "/")
    assert re.search(r"As of \d\d:\d\d today\.", told("instructor", booking_page))
    assert "between" in told("technician", "/forecast") or "It ends on" in told("technician", "/forecast")

    waiting = spare(lab)
    keep(lab.session, now=lab.tick())
    assert f"The spare {waiting.code} can take its place." in told("instructor", booking_page)
    lab.log(1)  # after it was worked out: what was said is not said any more
    assert f"{question} Not known: more went through it since it was worked out" in told("member", fixer_page)
    assert f"{question} Yes" not in told("member", fixer_page)
    assert "it ends here" not in told("technician", bath_page)
    assert keep(lab.session, now=lab.tick()) is not None
    assert keep(lab.session, now=lab.tick()) is None  # nothing has changed
    assert f"{question} Yes" in told("member", fixer_page)

    lab.tick(days=1)  # and the runner stands still
    for path in (booking_page, fixer_page, "/forecast", "/"):
        page = told("technician", path)
        assert "not of today" in page, path
        assert f"{question} Yes" not in page
        assert "As of" not in page
    assert "it ends here" not in told("technician", bath_page)

    lab.now = booking.ends_at - timedelta(minutes=30)
    lab.log(CLASS_WANTS, role="instructor", class_name="First film")
    lab.now = booking.ends_at + timedelta(hours=1)
    assert keep(lab.session, now=lab.now) is not None
    judged = lab.session.execute(
        select(ClassForecast.verdict, ClassForecast.outcome).join(ClassForecast.bath).where(Bath.id == developer.id)
    ).all()
    assert (Verdict.NO, ClassOutcome.FAILED) in judged
    of_fixer = select(ClassForecast.outcome).where(ClassForecast.bath_id == fixer.id)
    assert set(lab.session.execute(of_fixer).scalars()) == {ClassOutcome.LASTED}
    past = told("technician", "/forecast/past")
    assert "In 1 a bath did not last; of these 0 had said that it was enough." in past
    assert "Classes forecast wrongly None so far." in past
    assert lab.count(Run) == 2  # of each day the first, and the one that stands


def test_what_nobody_can_know_is_never_enough(lab, busy, told):
    """No plan, too short a history, no keeping time, no capacity, a class changed since: each says what is missing."""
    fixer = busy[Place.FIXER]
    unplanned = film_class(lab, count=0)
    keep(lab.session, now=lab.tick())
    page = told("instructor", f"/bookings/{unplanned.id}")
    assert "Not known." in page
    assert "nobody said what First film will do, and it has worked here 0 times, 3 are needed." in page
    assert ": yes," not in page
    assert "When it ends is not known: nobody said what First film will do" in told("member", f"/baths/{fixer.id}")
    planned = film_class(lab, days=3, count=2, name="Second film")
    page = told("instructor", f"/bookings/{planned.id}")
    assert "it has not been worked out yet; that takes up to ten minutes." in page

    paper = lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=2_000, paper=True)
    lab.mix(SolutionKind.STOP, water_parts=9, working_ml=1_000, paper=True)  # no capacity is set for 1+9
    keep(lab.session, now=lab.tick())
    assert "the usual work of Paper line has been seen for 0 of the 14 days that are needed." in told(
        "member", f"/baths/{paper.id}"
    )
    rows = {
        row.bath.place: row
        for row in lab.session.query(BathForecast).join(Bath).filter(Bath.line_id == lab.paper_line_id)
    }
    assert rows[Place.STOP].why_not_known == "no capacity is set"
    assert all(row.earliest_at is None for row in rows.values())

    lab.session.get_one(Bath, fixer.id).product.ages.clear()
    lab.session.commit()
    lab.log(1)
    keep(lab.session, now=lab.tick())
    answers = told("technician", f"/baths/{fixer.id}")
    assert "no keeping time is set for a tank with a floating lid" in answers
    assert "Yes:" not in answers


@pytest.mark.sqlite_only
def test_a_course_and_the_page_of_the_forecast_tell_the_same_and_a_short_store_is_a_duty(lab, busy, told):
    process_id = lab.session.get_one(BathLine, lab.film_line_id).process_id
    start = lab.now.replace(hour=18, minute=0) + timedelta(days=2)
    course = courses.set_up(
        lab.act("instructor"),
        entry=courses.CourseEntry(
            "Evening film",
            "spring 2026",
            Term(start.date(), 1080, 1200, "FREQ=WEEKLY;COUNT=1"),
            lab.ids["Film sink"],
            1,
            (lab.ids["instructor"],),
            process_ids=(process_id,),
        ),
        dates=[Decided(start.date(), Span(start, start + timedelta(hours=2)))],
        rows=(),
    )
    keep(lab.session, now=lab.tick())
    page = told("instructor", f"/courses/{course.id}")
    assert "Enough for Evening film on Fri 20 Mar, 18:00? Not known." in page
    assert "nobody said what Evening film will do" in page
    meeting = course.meetings[0].booking
    meeting.planned_size, meeting.planned_count = "120", 12
    lab.session.commit()
    lab.log(1)
    keep(lab.session, now=lab.tick())
    page, whole = told("instructor", f"/courses/{course.id}"), told("instructor", "/forecast")
    said = re.search(
        r"Film developer (\S+): no, (12 rolls are likely, [^.]*left by then\. Mix a fresh one before 18:00\.)", page
    )
    assert said is not None
    assert f"Film developer {said[1]}: no, {said[2]}" in whole
    short = (
        r"PQ liquid concentrate By the forecast of 18 Mar 2026 too little is left for what will be mixed, from \d+ Apr"
    )
    assert re.search(short, told("technician", "/"))


def test_the_shopping_list_is_in_sizes_that_are_sold_on_the_page_and_as_csv(lab, busy, told, client_as):
    """Worked by hand: a litre of concentrate has given 357 mL. The developer has 9 rolls left; at a roll a day, or 1.4
    in a busier time, two more are mixed within five weeks, 714 mL of the 643 mL that are left: 71 mL are missing.
    """
    keep(lab.session, now=lab.tick())
    technician, product_id = client_as("technician"), lab.ids["product developer"]
    assert re.search(
        r"PQ liquid concentrate buy 1 × 1 L Too little is left .*? 643 mL", told("technician", "/forecast/cover")
    )
    sizes = f"/forecast/products/{product_id}/sizes"
    assert send(technician, sizes, sizes="500, many").status_code == 422
    assert send(technician, sizes, sizes="5 L, 500 mL").status_code == 303
    page = told("technician", "/forecast/cover")
    assert "buy 1 × 500 mL Too little is left" in page
    assert "Week by week" in page
    rows = list(csv.DictReader(io.StringIO(technician.get("/forecast/shopping.csv").get_data(as_text=True))))
    developer = next(row for row in rows if row["Product"] == "PQ liquid concentrate")
    assert developer["To buy"] == "1 × 500 mL"
    assert developer["In the store, not past its date"] == "643 mL"
    assert developer["Forecast"].startswith("As of ")
    assert next(row for row in rows if row["Product"] == "Acetic stop concentrate")["To buy"] == "nothing"
