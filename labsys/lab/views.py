"""The page of the lab's own settings."""

from dataclasses import asdict

from flask import Blueprint, g, request
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, saved
from labsys.lab import service
from labsys.lab.forms import LabSettingsForm
from labsys.lab.rules import settings_of
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission

bp = Blueprint("lab", __name__)


@bp.route("/lab", methods=["GET", "POST"])
@permits(Permission.KEEP_LAB)
def index() -> ResponseReturnValue:
    """Show the lab's settings, or put them right."""
    form = LabSettingsForm(data=asdict(settings_of(g.lab)) if request.method == "GET" else None)
    form.offer(present=g.lab.nation)
    if form.validate_on_submit():
        with refusals(form):
            service.change_lab(this_act(form), settings=form.settings())
            return saved("The lab's settings are saved.", ".index")
    return form_page("lab/index.html", form, code_prefix=g.lab.code_prefix)
