"""Tests of baths: writing one down, how often they are made, and the reference strip of a line."""

from flask import request
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, saved
from labsys.baths import queries, testing
from labsys.baths.blueprint import bp
from labsys.baths.check_forms import CHECK_FORMS
from labsys.baths.due import TEST_HEADS, kinds_of_check
from labsys.baths.models import Check, CheckKind
from labsys.baths.tested import fresh_clearing, in_order, limits_of
from labsys.baths.testing_forms import AimForm, RulesForm
from labsys.chemistry.acidity import ph_moves_by
from labsys.chemistry.control_strips import SEARCH_ORDER
from labsys.database import db
from labsys.forms import given
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission


@bp.route("/baths/<int:bath_id>/check", methods=["GET", "POST"])
@permits(Permission.TEST_BATH)
def check(bath_id: int) -> ResponseReturnValue:
    """Write down a test of a bath."""
    bath = queries.bath_or_raise(db.session, bath_id)
    kinds = kinds_of_check(bath)
    asked = request.args.get("kind")
    kind = CheckKind(asked) if asked in list(CheckKind) else kinds[0]
    form = CHECK_FORMS[kind]()
    if form.validate_on_submit():
        with refusals(form):
            tested = testing.check_bath(
                this_act(form), bath_id=bath_id, kind=kind, found=form.found, checked_at=given(form.when.instant)
            )
            earlier = [before for before in in_order(bath) if before.kind is kind and before.id != tested.id]
            return saved(_written_down(tested, earlier[-1] if earlier else None), ".show", bath_id=bath_id)
    return form_page(
        "baths/check.html",
        form,
        bath=bath,
        kinds=kinds,
        kind=kind,
        names=TEST_HEADS,
        fresh=fresh_clearing(bath),
        limits=limits_of(bath, kind),
        aim=queries.aim_of_line(db.session, bath.line_id) if kind is CheckKind.STRIP else None,
    )


def _written_down(tested: Check, before: Check | None) -> str:
    """What a test showed, and what to do next where there is something."""
    said = [f"Written down: {tested.finding}."]
    if tested.outside:
        second = "" if before is not None and before.outside else " Run a second strip before the work stops."
        said.append(f"Outside: {'; '.join(tested.outside)}.{second} Look in this order: {'; '.join(SEARCH_ORDER)}.")
    if tested.kind is CheckKind.PH and before and before.milli_c and tested.milli_c:
        apart = abs(tested.milli_c - before.milli_c) / 1000
        if apart and (moved := ph_moves_by(ph=tested.value, celsius_apart=apart)):
            said.append(f"It was {apart:g} °C off the last reading: that alone moves it by about {moved:.2f}.")
    return " ".join(said)


@bp.route("/baths/<int:bath_id>/check-rules", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def check_rules(bath_id: int) -> ResponseReturnValue:
    """Say how often baths like this one are tested, and between which limits."""
    bath = queries.bath_or_raise(db.session, bath_id)
    form = RulesForm.begin(kinds_of_check(bath), bath.check_rules)
    if form.validate_on_submit():
        with refusals(form):
            testing.state_check_rules(this_act(form), bath_id=bath_id, stated=form.stated)
            return saved("From now on it is tested so.", ".show", bath_id=bath_id)
    return form_page("baths/check_rules.html", form, bath=bath, usual_silver=limits_of(bath, CheckKind.SILVER))


@bp.route("/baths/lines/<int:line_id>/reference-strip", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def reference_strip(line_id: int) -> ResponseReturnValue:
    """Read the reference strip that a line's control strips aim at."""
    line = queries.line_or_raise(db.session, line_id)
    form = AimForm.begin()
    if form.validate_on_submit():
        with refusals(form):
            aim = testing.set_aim(
                this_act(form),
                line_id=line_id,
                box=given(form.box.data),
                densities=form.densities.densities,
                limits=form.limits,
            )
            steps = f"Read step {aim.speed_step} (speed point) and step {aim.middle_step} (middle) of each strip."
            return saved(f"The reference strip is read. {steps}", ".line", line_id=line_id)
    return form_page("baths/reference_strip.html", form, line=line, aim=queries.aim_of_line(db.session, line_id))
