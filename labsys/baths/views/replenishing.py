"""Replenishing: with what and at which rate, what is due, and what was really measured out and bled off."""

from flask import redirect, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, saved
from labsys.baths import pages, queries, replenishing, ways
from labsys.baths.blueprint import bp
from labsys.baths.cards import card
from labsys.baths.models import Bath, Way
from labsys.baths.replenish_forms import RateForm, ReplenishForm, ReplenishPlanForm
from labsys.baths.views.mixing import measuring, offer_bottles, refused_for, today_here
from labsys.database import db
from labsys.forms import given
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.quantities import typed_volume
from labsys.waste import queries as waste
from labsys.waste.destinations import Destination, destinations


@bp.route("/baths/<int:bath_id>/rate", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def set_rate(bath_id: int) -> ResponseReturnValue:
    """Say with what a bath is replenished, and how much of it for an area."""
    bath = queries.bath_or_raise(db.session, bath_id)
    form = RateForm()
    offered = queries.products_with_bottles(db.session, today=today_here())
    alike = [each for each, _ in offered if each.kind is bath.product.kind]
    form.product_id.choices = [(product.id, product.name) for product in alike]
    if form.validate_on_submit():
        with refusals(form):
            replenishing.set_rate(
                this_act(form),
                bath_id=bath_id,
                product_id=form.product_id.data,
                water_parts_milli=form.water_parts_milli,
                rate_ul=given(form.volume.amount),
                rate_mm2=form.rate_mm2,
                source=given(form.source.data),
            )
            return saved(f"Noted how {bath.name} {bath.code} is replenished.", ".show", bath_id=bath_id)
    return form_page("baths/rate.html", form, bath=bath)


@bp.route("/baths/<int:bath_id>/replenish", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def replenish(bath_id: int) -> ResponseReturnValue:
    """Plan what to add to a bath, then enter what was measured out."""
    bath = queries.bath_or_raise(db.session, bath_id)
    if bath.way is Way.REPLENISHED and bath.replenishing is None:
        return redirect(url_for(".set_rate", bath_id=bath_id), 303)
    product, water_parts_milli = replenishing.replenisher_of(bath)
    here, heading = url_for(".show", bath_id=bath_id), f"Replenish {bath.name} {bath.code}"
    if refused := refused_for(product, heading=heading, back=here):
        return refused
    is_planned = "volume" in request.args
    due = ways.to_replenish_ul(bath)
    begin = {"volume": typed_volume(due)} if due else {}
    planned = ReplenishPlanForm(formdata=request.args if is_planned else None, meta={"csrf": False}, **begin)
    if is_planned and planned.validate():
        with refusals(planned):
            ways.check_may_replenish(bath, working_ul=given(planned.volume.amount))
    if not is_planned or planned.errors:
        return form_page(
            "baths/replenish_plan.html", planned, bath=bath, shown=card(bath, now=clock.now()), due=due, product=product
        )
    working_ul = given(planned.volume.amount)
    to_bleed = ways.to_bleed_ul(bath, added_ul=working_ul)
    containers = _containers(bath) if bath.replenishing else ()
    form = ReplenishForm(
        bleed=typed_volume(to_bleed) if to_bleed else None,
        container_id=containers[0].value if len(containers) == 1 else None,
    )
    form.offer(containers)
    bottles = offer_bottles(form, product)
    if form.validate_on_submit():
        with refusals(form):
            bled = form.bleed.amount
            replenishing.replenish(
                this_act(form),
                bath_id=bath_id,
                working_ul=working_ul,
                taken=form.taken,
                water_ul=given(form.water.amount),
                mixed_at=given(form.when.instant),
                bleed=replenishing.Bleed(form.container_id.data, bled) if bled else None,
            )
            return saved(f"{bath.name} {bath.code} is replenished.", ".show", bath_id=bath_id)
    return form_page(
        "baths/replenish.html",
        form,
        bath=bath,
        product=product,
        bottles=bottles,
        to_bleed=to_bleed,
        containers=containers,
        **measuring(product, water_parts_milli=water_parts_milli, working_ul=working_ul),
    )


def _containers(bath: Bath) -> tuple[Destination, ...]:
    """The right containers for what is bled off a bath."""
    held = waste.contents(db.session, waste.containers_here(db.session))
    return destinations(
        poured=pages.as_poured(bath), product=bath.product, held=held.values(), why_not_to_sewer=""
    ).right
