"""The page of a session plan: what to mix, which bath to use, how warm and how long."""

from flask import Blueprint, g, render_template, request
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import MultiDict

from labsys import clock
from labsys.answers import form_page, refusals, row_key
from labsys.bookings.models import Booking
from labsys.database import LARGEST_ROW, db
from labsys.forms import LabForm
from labsys.labware import queries as labware
from labsys.people.access import current_person, permits
from labsys.people.permissions import Permission
from labsys.planning import pages, queries
from labsys.planning.forms import PlanForm
from labsys.planning.plan import IN_THE_DARK
from labsys.processes import queries as process_queries
from labsys.processes.models import Process
from labsys.restrictions.gate import why_not_open

bp = Blueprint("planning", __name__)


@bp.get("/plan")
@permits(Permission.SEE_LAB)
def plan() -> ResponseReturnValue:
    """Show the form of a plan and, once enough is chosen, the plan. The address holds all of it."""
    processes = process_queries.processes(db.session)
    if not processes:
        return render_template("planning/no_process.html")
    booking = queries.booking_for(db.session, booking_id=_row("booking_id"), viewer=current_person())
    process = _process(processes, booking)
    form = PlanForm(formdata=_filled_in(booking, process), meta={"csrf": False})
    vessels = labware.working_vessels(db.session, in_use_only=True)
    times = queries.film_times_of(db.session, process)
    form.offer(processes=processes, process=process, vessels=vessels, film_times=times)
    if process is None or not form.size.data:
        return render_template("planning/plan.html", form=form, page=None)
    page = None
    if form.validate():
        with refusals(form):
            planned = queries.planned(
                db.session,
                asked=form.asked(),
                process=process,
                booking=booking,
                vessels=vessels,
                times=times,
                viewer=current_person(),
                now=clock.now(),
                zone=g.zone,
            )
            page = pages.page_of(planned, viewer=current_person(), zone=g.zone)
    told = _told_in_confidence(process, booking)
    return form_page("planning/plan.html", form, page=page, issue=LabForm(), in_the_dark=IN_THE_DARK, not_open=told)


def _told_in_confidence(process: Process, booking: Booking | None) -> str:
    """That a process is not open to whoever reads their own plan; never at a shared tablet, and never printed."""
    person = current_person()
    if "visit" in g or (booking is not None and booking.person_id != person.id):
        return ""
    at = max(booking.starts_at, clock.now()) if booking else clock.now()
    return why_not_open(db.session, person=person, process=process, at=at)


def _process(processes: list[Process], booking: Booking | None) -> Process | None:
    """The process chosen, else that of the booking, with all that a plan is made from."""
    process_id = _row("process_id") or (booking.process_id if booking else None)
    if process_id is None and len(processes) == 1:
        process_id = processes[0].id
    return None if process_id is None else queries.process_with_products(db.session, process_id)


def _filled_in(booking: Booking | None, process: Process | None) -> MultiDict[str, str]:
    """What the address says; where it is silent, what the booking says."""
    told = MultiDict(request.args)
    begin = {"process_id": str(process.id) if process else "", "count": "1", "size": ""}
    if booking is not None and booking.planned_size:
        begin |= {"size": booking.planned_size, "count": str(booking.planned_count or 1)}
    for name, value in begin.items():
        told.setdefault(name, value)
    return told


def _row(name: str) -> int | None:
    """A row named in the address; a number that no row can have is none."""
    number = request.args.get(name, type=row_key)
    return number if number is not None and 0 < number <= LARGEST_ROW else None
