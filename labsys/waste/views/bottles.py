"""The page on which a bottle is thrown away: into a container, or it is said how it left."""

from flask import flash, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, saved
from labsys.competences.asked import TO_HAND_OVER
from labsys.competences.gate import lacked_by
from labsys.database import db
from labsys.forms import given
from labsys.ledger.models import Unit
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission
from labsys.store import queries as store
from labsys.store.models import WayOut
from labsys.waste import bottles, queries
from labsys.waste.blueprint import bp
from labsys.waste.bottle_forms import ThrowAwayForm
from labsys.waste.destinations import destinations
from labsys.waste.measured import asking
from labsys.waste.rules import Stopped
from labsys.waste.sewer_rules import NotToSewer


@bp.route("/store/bottles/<int:bottle_id>/throw-away", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def throw_away(bottle_id: int) -> ResponseReturnValue:
    """Say where all that was in a bottle went: the right containers first, then other ways to leave."""
    bottle = store.bottle_or_raise(db.session, bottle_id)
    poured = bottles.as_poured(bottle, amount=bottle.vessel.level)
    is_liquid = bottle.vessel.unit is Unit.UL
    held = queries.contents(db.session, queries.containers_here(db.session)) if is_liquid else {}
    sewer = queries.sewer_answer(db.session, poured=poured, at=clock.now())
    into = destinations(poured=poured, product=bottle.product, held=held.values(), why_not_to_sewer=sewer.why_not)
    form = asking(ThrowAwayForm, sewer.limits)()
    form.offer(into, bottle=bottle)
    stopped = None
    if form.validate_on_submit():
        way, container_id = form.chosen
        with refusals(form):
            try:
                bottles.throw_away(
                    this_act(form),
                    bottle_id=bottle_id,
                    way=way,
                    amount=given(form.amount.amount),
                    left_at=form.left_at.instant or clock.now(),
                    container_id=container_id,
                    note=form.note.data or "",
                    is_done=bool(form.record_done.data),
                    readings=form.readings,
                )
            except (Stopped, NotToSewer) as stop:
                stopped = stop
                raise
            if container_id and (warning := into.of(container_id).warning):
                flash(f"{warning} {into.of(container_id).advice}".strip(), "problem")
            return saved(f"{bottle.code} has left the store: {way}.", "store.bottle", bottle_id=bottle_id)
    lacks = lacked_by(db.session, person=current_person(), asked=TO_HAND_OVER, now=clock.now())
    return form_page(
        "waste/throw_away.html",
        form,
        bottle=bottle,
        into=into,
        stopped=stopped,
        is_liquid=is_liquid,
        lacks=lacks,
        WayOut=WayOut,
        back=url_for("store.bottle", bottle_id=bottle_id),
    )
