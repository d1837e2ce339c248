"""The page of the bench: quick questions, each with its answer beside it."""

from dataclasses import dataclass

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from labsys.answers import refusals
from labsys.bench.forms import Question
from labsys.bench.questions import GROUPS
from labsys.bench.results import Answer, WhichOne
from labsys.database import db
from labsys.equipment import queries as equipment
from labsys.equipment.rules import Instruments
from labsys.labware import queries as labware
from labsys.people.access import permits
from labsys.people.permissions import Permission

bp = Blueprint("bench", __name__)


@dataclass(frozen=True)
class Shown:
    """A question on the page, and its answer if it was asked and could be answered."""

    form: Question
    is_asked: bool
    answer: Answer | WhichOne | None = None


@bp.get("/bench")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show all questions, and answer the one in the address."""
    instruments = equipment.instruments(db.session)
    groups = [(name, [_shown(question, instruments) for question in questions]) for name, questions in GROUPS]
    failed = any(shown.form.errors for _, questions in groups for shown in questions)
    return render_template("bench/index.html", groups=groups), 422 if failed else 200


def _shown(question: type[Question], instruments: Instruments) -> Shown:
    if request.args.get("ask") != question.key:
        fresh = question(formdata=None)
        fresh.offer(instruments)
        return Shown(fresh, is_asked=False)
    form = question(formdata=request.args)
    if not form.validate():
        return Shown(form, is_asked=True)
    answer = None
    with refusals(form):
        answer = form.work_out(labware.cylinder_rows(db.session), instruments)
    return Shown(form, True, answer)
