"""Jobs as people meet them: all of them, one while it runs, and the file it made."""

from flask import Blueprint, Response, current_app, flash, make_response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys.answers import cut_page, refusals_at, row_key, saved
from labsys.config import this_config
from labsys.database import db
from labsys.jobs import files, pages, queries, rules, service
from labsys.jobs.forms import AskForm
from labsys.jobs.kinds import Kind, kinds_of
from labsys.jobs.models import Job
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may
from labsys.records.errors import NotFound

REFRESHED_EVERY_S = 3
JOBS_A_PAGE = 25
bp = Blueprint("jobs", __name__)


@bp.get("/jobs")
@permits(Permission.SEE_JOBS)
def index() -> ResponseReturnValue:
    """Show what the lab does by itself, and what people asked for, newest first."""
    before_id, kinds, viewer = request.args.get("before", type=row_key), kinds_of(current_app), current_person()
    read = queries.asked_for(db.session, before_id=before_id, limit=JOBS_A_PAGE + 1)
    asked_for, older = cut_page(read, limit=JOBS_A_PAGE)
    return render_template(
        "jobs/index.html",
        buttons=[(kind, AskForm(formdata=None).submission_key.data) for kind in _with_button()],
        periodic=[pages.line_of(job, kinds=kinds, viewer=viewer) for job in queries.periodic(db.session)],
        asked_for=[pages.line_of(job, kinds=kinds, viewer=viewer) for job in asked_for],
        before_id=before_id,
        older=older,
    )


@bp.post("/jobs/ask")
@permits(Permission.SEE_JOBS)
def ask() -> ResponseReturnValue:
    """Queue what a button asks for, and go to where its progress is seen."""
    form = AskForm()
    form.kind.choices = [(kind.name, kind.button) for kind in _with_button()]
    if not form.validate():
        flash("There is no such job to ask for here. Choose one of the buttons.", "problem")
        return redirect(url_for(".index"), 303)
    kind = kinds_of(current_app)[form.kind.data]
    job = service.ask(this_act(form), kind=kind)
    return redirect(url_for(".show", job_id=job.id), 303)


@bp.get("/jobs/<int:job_id>")
@permits(Permission.SEE_LAB)
def show(job_id: int) -> ResponseReturnValue:
    """Show one job; while it is not over the page comes anew by itself, unless it is asked to keep still."""
    line = pages.line_of(_job_to_open(job_id), kinds=kinds_of(current_app), viewer=current_person())
    comes_anew = line.is_moving and not line.job.is_periodic and "still" not in request.args
    answer = make_response(render_template("jobs/show.html", line=line, job=line.job, comes_anew=comes_anew))
    if comes_anew:
        answer.headers["Refresh"] = str(REFRESHED_EVERY_S)
    return answer


@bp.get("/jobs/<int:job_id>/file")
@permits(Permission.SEE_LAB)
def file(job_id: int) -> ResponseReturnValue:
    """Give out the file that a job made, if it is still what was made."""
    job = _job_to_open(job_id)
    if job.digest is None or job.file_name is None:
        raise NotFound("file of job", job_id)
    with refusals_at(".show", job_id=job_id):
        content = files.read(this_config().files, job_id=job.id, digest=job.digest)
    answer = Response(content, mimetype=job.media_type)
    answer.headers.set("Content-Disposition", "attachment", filename=job.file_name)
    return answer


@bp.post("/jobs/<int:job_id>/try-again")
@permits(Permission.SEE_JOBS)
def try_again(job_id: int) -> ResponseReturnValue:
    """Put a job that failed back among those that wait."""
    with refusals_at(".index"):
        service.try_again(this_act(), job_id=job_id, kinds=kinds_of(current_app))
    return saved("It is tried again now.", ".index")


def _job_to_open(job_id: int) -> Job:
    job = queries.job_or_raise(db.session, job_id)
    kind = kinds_of(current_app).get(job.kind)
    rules.require_open(current_person(), kind=kind, asked_by_id=job.asked_by_id)
    return job


def _with_button() -> list[Kind]:
    """The kinds that this person may ask for on the page of jobs."""
    kinds = kinds_of(current_app).values()
    return [kind for kind in kinds if kind.button and may(current_person(), kind.opened_by)]
