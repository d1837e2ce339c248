"""The session sheet, which hangs at the wet side. Its page form is the page of its plan."""

from flask import url_for

from labsys.database import DbSession
from labsys.documents.document import Address, Document, form_from
from labsys.documents.occasion import Occasion
from labsys.documents.session_sheet.collected import collect
from labsys.documents.session_sheet.drawn import draw
from labsys.labware import queries as labware
from labsys.people.permissions import Permission
from labsys.planning import queries as planning
from labsys.planning.asked import AskedPlan
from labsys.planning.forms import PlanForm
from labsys.processes import queries as processes


def _form(session: DbSession, _: Occasion, address: Address | None) -> PlanForm:
    """The plan sent. Raises NotFound where there is no such process."""
    form = form_from(PlanForm, address)
    process = planning.process_with_products(session, form.process_id.data or 0)
    form.offer(
        processes=processes.processes(session),
        process=process,
        vessels=labware.working_vessels(session, in_use_only=True),
        film_times=planning.film_times_of(session, process),
    )
    return form


def _plan(form: PlanForm, asked: AskedPlan | None) -> str:
    return url_for("planning.plan", **(asked.address if asked else {"process_id": form.process_id.data}))


SESSION_SHEET = Document(
    kind="session sheet",
    path="session-sheet",
    may_see=Permission.BOOK_FOR_OTHERS,  # it names the inductions somebody lacks
    may_issue=Permission.SEE_LAB,
    own_may_be_seen=True,
    form=_form,
    read=PlanForm.asked,
    written=lambda asked, data: asked.address,
    collect=collect,
    title=lambda data: data.title,
    draw=draw,
    has_page=False,
    back=_plan,
    incomplete="The plan is not complete, so no sheet was issued. Fill it in again.",
)
