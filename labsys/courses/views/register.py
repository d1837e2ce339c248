"""Pages of the attendance register: tick, scan, say that one is here, confirm who stayed."""

from flask import flash, g, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, saved
from labsys.bookings.models import Booking
from labsys.bookings.rules import span_in_words
from labsys.config import this_config
from labsys.courses import at_the_door, attending, foresight, queries
from labsys.courses.blueprint import bp
from labsys.courses.forms import EndForm, RegisterForm, ScanForm
from labsys.courses.models import Meeting
from labsys.database import db
from labsys.drawing.qr import qr_code
from labsys.forms import LabForm
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission
from labsys.timetable.spans import Span


@bp.route("/courses/meetings/<int:meeting_id>/register", methods=["GET", "POST"])
@permits(Permission.BOOK_CLASS)
def register(meeting_id: int) -> ResponseReturnValue:
    """Show the register of a meeting, or note who is here."""
    meeting, booking = _meeting(meeting_id)
    course = queries.course_or_raise(db.session, meeting.course_id)
    roster = queries.enrolled(db.session, course_id=meeting.course_id)
    here = [row.student_id for row in queries.attendances(db.session, meeting_ids=[meeting_id])]
    form = RegisterForm(here=here, shown=" ".join(map(str, here)))
    form.offer([(row.student.id, row.student.name) for row in roster])
    if form.validate_on_submit():
        with refusals(form):
            attending.take_register(
                this_act(form), meeting_id=meeting_id, here=form.here.data or (), shown_here=form.shown_here
            )
            count = len(queries.attendances(db.session, meeting_ids=[meeting_id]))
            return saved(f"{count} of {len(roster)} are here.", ".register", meeting_id=meeting_id)
    has_begun = booking.arrived_at is not None or not here or meeting.ended_at is not None
    answers = foresight.who_may_start(db.session, course=course, booking=booking, roster=roster, now=clock.now())
    door_address = this_config().public_url + url_for(".door", course_id=course.id)
    return form_page(
        "courses/register.html",
        form,
        course=course,
        meeting=meeting,
        times=_times(booking),
        here=here,
        details={str(one.enrolled.student.id): f"not yet: {one.why}" for one in answers if not one.is_clear},
        said=foresight.in_a_sentence(answers),
        stopped="" if has_begun else attending.why_not_begun(this_act(), booking),
        scanning=ScanForm(formdata=None),
        door_code=qr_code(door_address, title="Leads students to this meeting"),
    )


@bp.post("/courses/meetings/<int:meeting_id>/scan")
@permits(Permission.BOOK_CLASS)
def scan(meeting_id: int) -> ResponseReturnValue:
    """Note an arrival by a scanned card."""
    form = ScanForm()
    if not form.validate():
        flash(" ".join(form.code.errors) or "Scan the card again.", "problem")
        return redirect(url_for(".register", meeting_id=meeting_id), 303)
    with refusals_at(".register", meeting_id=meeting_id):
        attendance = attending.scan(this_act(form), meeting_id=meeting_id, code=form.code.data or "")
    student = queries.student_or_raise(db.session, attendance.student_id)
    return saved(f"{student.name} is here.", ".register", meeting_id=meeting_id)


@bp.get("/courses/<int:course_id>/here")
@permits(Permission.SEE_LAB)
def door(course_id: int) -> ResponseReturnValue:
    """Lead to the meeting that is on, or the next: what the code at the door of a course stands for."""
    course = queries.course_or_raise(db.session, course_id)
    meeting_id = at_the_door.meeting_on(course.meetings, now=clock.now())
    if meeting_id is None:
        return render_template("courses/here.html", course=course, door=None)
    return redirect(url_for(".here", meeting_id=meeting_id))


@bp.route("/courses/meetings/<int:meeting_id>/here", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def here(meeting_id: int) -> ResponseReturnValue:
    """Say, as a student, that one is here; the page also says when it is, and what one lacks."""
    meeting = queries.meeting_or_raise(db.session, meeting_id)
    form = LabForm()
    if form.validate_on_submit():
        with refusals(form):
            attending.come(this_act(form), meeting_id=meeting_id)
            return saved("You are on the register.", ".here", meeting_id=meeting_id)
    door = at_the_door.look(db.session, meeting=meeting, person=current_person(), now=clock.now())
    times = _times(door.booking) if door.booking else ""
    return form_page("courses/here.html", form, course=door.course, door=door, times=times)


@bp.route("/courses/meetings/<int:meeting_id>/end", methods=["GET", "POST"])
@permits(Permission.BOOK_CLASS)
def end(meeting_id: int) -> ResponseReturnValue:
    """Show who came, all ticked as having stayed; confirm who stayed and what they were taught."""
    meeting, booking = _meeting(meeting_id)
    course = queries.course_or_raise(db.session, meeting.course_id)
    came_ids = {row.student_id for row in queries.attendances(db.session, meeting_ids=[meeting_id])}
    roster = queries.enrolled(db.session, course_id=meeting.course_id)
    came = [(row.student.id, row.student.name) for row in roster if row.student.id in came_ids]
    form = EndForm(stayed=[student_id for student_id, _ in came])
    form.offer(came=came, inductions=[(induction.id, induction.name) for induction in course.inductions])
    if form.validate_on_submit():
        with refusals(form):
            ended = attending.end_meeting(
                this_act(form),
                meeting_id=meeting_id,
                stayed=form.stayed.data or (),
                not_shown=form.not_shown.data or (),
                induction_ids=form.inductions.data or (),
            )
            return saved(_ended(ended, stayed=len(form.stayed.data or ())), ".show", course_id=course.id)
    return form_page("courses/end.html", form, course=course, meeting=meeting, times=_times(booking), came=came)


def _meeting(meeting_id: int) -> tuple[Meeting, Booking]:
    """A meeting that stands; one that does not leads to its course, and says so."""
    meeting = queries.meeting_or_raise(db.session, meeting_id)
    with refusals_at(".show", course_id=meeting.course_id):
        return meeting, attending.booking_of(meeting)


def _times(booking: Booking) -> str:
    return span_in_words(Span(booking.starts_at, booking.ends_at), zone=g.zone)


def _ended(ended: attending.Ended, *, stayed: int) -> str:
    said = f"{stayed} stayed."
    if ended.signed_off:
        said += f" {ended.signed_off} signed off: it counts once each confirms it."
    if ended.without_account:
        said += f" Not signed off, for want of an account: {', '.join(ended.without_account)}."
    return said
