"""Mixing and replenishing: first the plan, sent by GET so that it stands in the address, then what was measured out."""

from typing import Any

from flask import flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, row_key, saved
from labsys.baths import pages, queries, same_again, service
from labsys.baths.blueprint import bp
from labsys.baths.cards import card
from labsys.baths.forms import MeasuredForm, MixForm, MixPlanForm, ReplenishForm, ReplenishPlanForm
from labsys.baths.models import Bath
from labsys.competences.asked import of_mixing_at
from labsys.competences.views import refused_page
from labsys.database import db
from labsys.forms import given
from labsys.inductions import gate as inductions
from labsys.labware import queries as labware
from labsys.ledger.rules import show
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission
from labsys.products import queries as product_queries
from labsys.products.hazards import hazards_of
from labsys.products.models import Product
from labsys.store.models import Bottle
from labsys.timetable.local_time import to_local


@bp.route("/baths/mix", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def mix() -> ResponseReturnValue:
    """Choose the product, plan the bath, then enter what was measured out. The plan stands in the address."""
    product_id = request.args.get("product_id", type=row_key)
    line_id = request.args.get("line_id", type=row_key)
    if product_id is None:
        products = queries.products_with_bottles(db.session)
        standings = product_queries.standings(db.session, [product for product, _ in products], now=clock.now())
        return render_template("baths/mix_product.html", products=products, standings=standings, line_id=line_id)
    product = product_queries.product_or_raise(db.session, product_id)
    if refused := _refused(product, heading=f"Mix {product.name}", back=url_for(".mix", line_id=line_id)):
        return refused
    lines = queries.lines(db.session)
    is_planned = "volume" in request.args
    begin = {} if is_planned else pages.suggestions(product=product, lines=lines, line_id=line_id)
    planned = MixPlanForm(formdata=request.args if is_planned else None, meta={"csrf": False}, **begin)
    planned.offer(product=product, lines=lines)
    if not is_planned or not planned.validate():
        bottles = queries.bottles_to_mix_from(db.session, product_id=product.id)
        standing = product_queries.standing(db.session, product, now=clock.now())
        return form_page(
            "baths/mix_plan.html", planned, product=product, standing=standing, lines=lines, bottles=bottles
        )
    plan = pages.MixPlan(
        product=product,
        water_parts_milli=planned.water_parts_milli,
        working_ul=given(planned.volume.amount),
        line=next(line for line in lines if line.id == planned.line_id.data),
        place=planned.place.data,
        holding=planned.holding.data,
        capacity_ul=given(planned.capacity.amount),
    )
    return _measure_mix(plan)


@bp.route("/baths/<int:bath_id>/again", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def mix_again(bath_id: int) -> ResponseReturnValue:
    """Mix a bath again as it was: all of it is filled in, to save as planned or with what was measured."""
    bath = queries.bath_or_raise(db.session, bath_id)
    here = url_for(".show", bath_id=bath_id)
    if refused := _refused(bath.product, heading=f"Mix {bath.name} again", back=here):
        return refused
    if why_changed := same_again.why_changed(db.session, bath):
        flash(why_changed, "problem")
        return redirect(url_for(".mix", product_id=bath.product_id, line_id=bath.line_id), 303)
    plan = pages.MixPlan(
        product=bath.product,
        water_parts_milli=bath.water_parts_milli,
        working_ul=same_again.volume_again(bath),
        line=bath.line,
        place=bath.place,
        holding=bath.holding,
        capacity_ul=bath.vessel.capacity,
    )
    return _measure_mix(plan, again=bath)


def _measure_mix(plan: pages.MixPlan, *, again: Bath | None = None) -> ResponseReturnValue:
    form = MixForm(name=again.name if again else plan.name, capacity=pages.typed_volume(plan.capacity_ul))
    bottles = _offer_bottles(form, plan.product)
    planned = None
    if again:
        today = to_local(clock.now(), zone=g.zone).date()
        planned = same_again.out_of(list(bottles.values()), plan.amounts.from_bottle, today=today)
    if planned and form.as_planned.data:
        form.take_as_planned(planned, water_ul=plan.amounts.water_ul)
    if form.validate_on_submit():
        with refusals(form):
            bath = service.mix_bath(
                this_act(form),
                product_id=plan.product.id,
                water_parts_milli=plan.water_parts_milli,
                line_id=plan.line.id,
                place=plan.place,
                name=given(form.name.data),
                holding=plan.holding,
                capacity_ul=given(form.capacity.amount),
                working_ul=plan.working_ul,
                taken=form.taken,
                water_ul=given(form.water.amount),
                in_service=form.begins.data == "service",
                mixed_at=given(form.when.instant),
                is_as_planned=bool(planned and form.as_planned.data),
            )
            return saved(f"{bath.name} {bath.code} is mixed. Print its label and fix it on.", ".show", bath_id=bath.id)
    replaced = queries.in_service_at_place(db.session, line_id=plan.line.id, place=plan.place)
    return form_page(
        "baths/mix.html",
        form,
        plan=plan,
        replaced=replaced,
        bottles=bottles,
        again=again,
        planned=[(bottles[part.bottle_id], show(part.amount, plan.product.unit)) for part in planned or ()],
        **_measuring(plan.product, water_parts_milli=plan.water_parts_milli, working_ul=plan.working_ul),
    )


@bp.route("/baths/<int:bath_id>/replenish", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def replenish(bath_id: int) -> ResponseReturnValue:
    """Plan what to add to a bath, then enter what was measured out."""
    bath = queries.bath_or_raise(db.session, bath_id)
    here = url_for(".show", bath_id=bath_id)
    if refused := _refused(bath.product, heading=f"Replenish {bath.name} {bath.code}", back=here):
        return refused
    is_planned = "volume" in request.args
    planned = ReplenishPlanForm(formdata=request.args if is_planned else None, meta={"csrf": False})
    if not is_planned or not planned.validate():
        return form_page("baths/replenish_plan.html", planned, bath=bath, shown=card(bath, now=clock.now()))
    working_ul = given(planned.volume.amount)
    form = ReplenishForm()
    bottles = _offer_bottles(form, bath.product)
    if form.validate_on_submit():
        with refusals(form):
            service.replenish(
                this_act(form),
                bath_id=bath_id,
                working_ul=working_ul,
                taken=form.taken,
                water_ul=given(form.water.amount),
                mixed_at=given(form.when.instant),
            )
            return saved(f"{bath.name} {bath.code} is replenished.", ".show", bath_id=bath_id)
    return form_page(
        "baths/replenish.html",
        form,
        bath=bath,
        bottles=bottles,
        **_measuring(bath.product, water_parts_milli=bath.water_parts_milli, working_ul=working_ul),
    )


def _refused(product: Product, *, heading: str, back: str) -> ResponseReturnValue | None:
    """The page that says what is lacked to mix from a product now, and who helps; None where nothing is."""
    now = clock.now()
    subjects = [inductions.mixing_of(product)]
    missing = inductions.missing_for(db.session, person=current_person(), subjects=subjects, at=now, now=now)
    asked = of_mixing_at(db.session, product, at=now)
    return refused_page(asked, missing=missing, heading=heading, back=back)


def _offer_bottles(form: MeasuredForm, product: Product) -> dict[int, Bottle]:
    """Give the form one row a bottle, the oldest opened first; what was sent keeps its rows."""
    named = [row.form.bottle_id.data for row in form.bottles if row.form.bottle_id.data is not None]
    bottles = queries.bottles_to_mix_from(db.session, product_id=product.id, named=named)
    for bottle in bottles:
        if bottle.id not in named:
            form.bottles.append_entry({"bottle_id": bottle.id})
    form.count_in(product.unit)
    return {bottle.id: bottle for bottle in bottles}


def _measuring(product: Product, *, water_parts_milli: int, working_ul: int) -> dict[str, Any]:
    """What the pages for measuring out show beside the form."""
    owned = labware.cylinder_rows(db.session)
    return {
        "worked_out": pages.worked_out(
            product=product,
            water_parts_milli=water_parts_milli,
            working_ul=working_ul,
            cylinders=labware.cylinders_for(owned, product.kind),
            water_cylinders=labware.cylinders_for_water(owned, product.kind),
        ),
        "unchecked": labware.unchecked_in_words(owned, product.kind),
        "advice": hazards_of(product).pouring,
        "standing": product_queries.standing(db.session, product, now=clock.now()),
    }
