"""Pages of courses: all of them, setting one up, one course, its roster, moving a meeting."""

from collections.abc import Sequence
from typing import Any

from flask import flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.bookings.forms import minute_of
from labsys.bookings.models import Booking
from labsys.bookings.pages import time_choices
from labsys.bookings.rules import span_in_words
from labsys.bookings.terms import TermTaken
from labsys.courses import dates, foresight, grid, pages, queries, rules, service, waste_room, words
from labsys.courses.blueprint import bp
from labsys.courses.forms import CourseForm, MoveForm, decided
from labsys.courses.models import Course
from labsys.database import db
from labsys.inductions import queries as inductions
from labsys.people import queries as people
from labsys.people.access import current_person, permits, this_act
from labsys.people.forms import RosterForm
from labsys.people.permissions import Permission
from labsys.places import queries as places
from labsys.processes import queries as processes
from labsys.records import queries as records
from labsys.timetable.local_time import to_local

COURSES_A_PAGE = 25
PROBLEMS_SHOWN = 100


@bp.get("/courses")
@permits(Permission.BOOK_FOR_OTHERS)
def index() -> ResponseReturnValue:
    """Show the courses, the newest first."""
    before_id = request.args.get("before", type=row_key)
    rows = queries.courses(db.session, before_id=before_id, limit=COURSES_A_PAGE + 1)
    shown, earlier = cut_page(rows, limit=COURSES_A_PAGE)
    students = queries.counts_of_students(db.session, [course.id for course in shown])
    now = clock.now()
    lines = [pages.course_line(course, students=students.get(course.id, 0), zone=g.zone, now=now) for course in shown]
    return render_template("courses/index.html", lines=lines, earlier=earlier, is_paged=before_id is not None)


@bp.route("/courses/add", methods=["GET", "POST"])
@permits(Permission.BOOK_CLASS)
def add() -> ResponseReturnValue:
    """Show the form of a course; show its dates and its roster with all that stands against them; set it up."""
    form = _course_form()
    planned: list[dates.Planned] = []
    if form.validate_on_submit() and form.read_rows():
        with refusals(form):
            entry = form.entry
            service.check_entry(entry)
            planned = _look(entry)
            if form.seen.data == form.mark and "look" not in request.form:
                try:
                    course = service.set_up(
                        this_act(form), entry=entry, dates=decided(planned, sent=request.form), rows=form.usable
                    )
                except TermTaken:
                    planned = _look(entry)
                    raise
                return saved(_done(course, form), ".show", course_id=course.id)
            form.seen.data = form.mark
    views = pages.date_views(planned, zone=g.zone, sent=request.form)
    return form_page(
        "courses/add.html",
        form,
        dates=views,
        booked=sum(not view.is_left_out for view in views),
        problems=form.problems[:PROBLEMS_SHOWN],
    )


@bp.get("/courses/<int:course_id>")
@permits(Permission.BOOK_FOR_OTHERS)
def show(course_id: int) -> ResponseReturnValue:
    """Show one course: its meetings, who came to each, and what will go wrong at the next."""
    course = queries.course_or_raise(db.session, course_id)
    now = clock.now()
    views = pages.meeting_views(course, zone=g.zone, now=now)
    coming = next((view for view in views if view.state == "next"), None)
    roster = queries.enrolled(db.session, course_id=course_id)
    booking = next((meeting.booking for meeting in course.meetings if coming and meeting.id == coming.id), None)
    answers = _foreseen(course, booking, roster)
    attendances = queries.attendances(db.session, meeting_ids=[view.id for view in views])
    return render_template(
        "courses/show.html",
        course=course,
        hours=pages.hours_in_words(course),
        meetings=views,
        coming=coming,
        coming_booking=booking,
        ordinal=words.ordinal,
        roster=roster,
        grid=grid.rows(roster, meetings=views, attendances=attendances, answers=answers),
        came=grid.counts(attendances),
        barred=[answer for answer in answers if not answer.is_clear],
        said=foresight.in_a_sentence(answers),
        waste=waste_room.too_little_room(db.session, course) if coming else [],
        if_emptied=waste_room.IF_EMPTIED,
    )


def _foreseen(course: Course, booking: Booking | None, roster: Sequence[queries.Enrolled]) -> list[foresight.MayStart]:
    """Who may start at the next meeting; nobody is asked about where none comes."""
    if booking is None:
        return []
    return foresight.who_may_start(db.session, course=course, booking=booking, roster=roster, now=clock.now())


@bp.route("/courses/<int:course_id>/roster", methods=["GET", "POST"])
@permits(Permission.BOOK_CLASS)
def add_students(course_id: int) -> ResponseReturnValue:
    """Show the form of a roster; show what is wrong row by row; add those with whom nothing is wrong."""
    course = queries.course_or_raise(db.session, course_id)
    form = RosterForm()
    if form.validate_on_submit() and form.read_rows() and "save" in request.form:
        if len(form.usable) > service.PART:
            job_id = service.ask_for_students(this_act(form), course_id=course_id, rows=form.usable)
            return redirect(url_for("jobs.show", job_id=job_id), 303)
        with refusals(form):
            before = queries.counts_of_students(db.session, [course_id]).get(course_id, 0)
            service.add_students(this_act(form), course_id=course_id, rows=form.usable)
            added = queries.counts_of_students(db.session, [course_id]).get(course_id, 0) - before
            return saved(f"{added} added to the roster.", ".show", course_id=course_id)
    return form_page("courses/roster.html", form, course=course, problems=form.problems[:PROBLEMS_SHOWN])


@bp.post("/courses/students/<int:student_id>/remove")
@permits(Permission.BOOK_CLASS)
def remove_student(student_id: int) -> ResponseReturnValue:
    """Take somebody off a roster."""
    student = queries.student_or_raise(db.session, student_id)
    course_id = student.course_id
    with refusals_at(".show", course_id=course_id):
        student = service.remove_student(this_act(), student_id=student_id)
    return saved(f"{student.name} is off the roster.", ".show", course_id=course_id)


@bp.route("/courses/meetings/<int:meeting_id>/move", methods=["GET", "POST"])
@permits(Permission.BOOK_CLASS)
def move(meeting_id: int) -> ResponseReturnValue:
    """Show the form that moves a meeting, or move it."""
    meeting = queries.meeting_or_raise(db.session, meeting_id)
    course = queries.course_or_raise(db.session, meeting.course_id)
    form = MoveForm(**_stands_at(meeting, course))
    form.offer_times(_minutes(form.starts.data, form.ends.data))
    if form.validate_on_submit():
        with refusals(form):
            span = form.span(zone=g.zone)
            service.move_meeting(this_act(form), meeting_id=meeting_id, span=span, override=form.override.data or "")
            moved = f"It meets {span_in_words(span, zone=g.zone)} now. Everybody with an account is told by mail."
            return saved(moved, ".show", course_id=course.id)
    return form_page("courses/move.html", form, course=course, meeting=meeting)


def _course_form() -> CourseForm:
    now = clock.now()
    country, part = rules.REGION_OF_NATION.get(records.nation(db.session), ("", ""))
    minutes = _minutes()
    form = CourseForm(
        instructors=[current_person().id],
        first_day=to_local(now, zone=g.zone).date(),
        starts=minutes[0] if minutes else None,
        ends=minutes[0] + 120 if minutes else None,
        country=country,
        part=part,
    )
    form.offer_times(minutes)
    form.offer(
        stations=places.stations(db.session),
        people=[(person.id, person.name) for person in people.people_who_may(db.session, Permission.BOOK_CLASS)],
        processes=[(process.id, process.name) for process in processes.processes(db.session)],
        inductions=[(induction.id, induction.name) for induction in inductions.inductions(db.session)],
    )
    return form


def _look(entry: service.CourseEntry) -> list[dates.Planned]:
    return dates.look(db.session, term=entry.term, wanted=entry.wanted, zone=g.zone, now=clock.now())


def _done(course: Any, form: CourseForm) -> str:
    booked = sum(meeting.booking_id is not None for meeting in course.meetings)
    out = len(course.meetings) - booked
    left = f", {out} left out" if out else ""
    if form.remark:
        flash(form.remark, "problem")
    return f"{course.name} is set up: {booked} meetings booked{left}, {len(form.usable)} on the roster."


def _stands_at(meeting: Any, course: Any) -> dict[str, Any]:
    """What the form that moves a meeting begins from: as it stands, or as the rule has it."""
    if meeting.booking is None:
        return {"day": meeting.day, "starts": course.starts_minute, "ends": course.ends_minute}
    start, end = (to_local(at, zone=g.zone) for at in (meeting.booking.starts_at, meeting.booking.ends_at))
    return {"day": start.date(), "starts": minute_of(start), "ends": minute_of(end) or 24 * 60}


def _minutes(*also: Any) -> list[int]:
    """The quarter-hours at which something may be open, and those of a meeting as it stands."""
    starts, ends = also or (None, None)
    known = [minute for minute in (starts, ends - 15 if ends else None) if isinstance(minute, int)]
    return sorted({*time_choices(places.widest_week(db.session)), *known})
