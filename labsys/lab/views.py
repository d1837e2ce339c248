"""The page of the lab's own settings, and the help page, which needs neither an account nor the database."""

from dataclasses import asdict

from flask import Blueprint, g, request
from flask.typing import ResponseReturnValue

from labsys.answers import chosen_look, form_page, refusals, saved
from labsys.lab import help_page, service
from labsys.lab.forms import LabSettingsForm
from labsys.lab.rules import settings_of
from labsys.people.access import ALWAYS, permits, this_act
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
            help_page.keep_copy(service.change_lab(this_act(form), settings=form.settings()))
            return saved("The lab's settings are saved.", ".index")
    return form_page("lab/index.html", form, code_prefix=g.lab.code_prefix)


@bp.get("/help")
@permits(ALWAYS)
def show_help() -> ResponseReturnValue:
    """Say what to do first and whom to ring."""
    return help_page.help_page(help_page.HELP, look=chosen_look())


@bp.get("/help/no-network")
@permits(ALWAYS)
def no_network() -> ResponseReturnValue:
    """The same for a device that reaches nothing: it keeps this page, and shows it in place of any other."""
    return help_page.help_page(help_page.NO_NETWORK, look=chosen_look())
