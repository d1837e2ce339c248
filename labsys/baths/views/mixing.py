"""Mixing: first the plan, sent by GET so that it stands in the address, then what was measured out."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from flask import flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, row_key, saved
from labsys.baths import pages, queries, same_again, service, ways
from labsys.baths.blueprint import bp
from labsys.baths.cards import dilution_in_words
from labsys.baths.forms import MeasuredForm, MixForm, MixPlanForm
from labsys.baths.models import Bath, Place, Way
from labsys.competences.asked import of_mixing_at
from labsys.competences.models import Competence
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
from labsys.quantities import typed_volume
from labsys.store import queries as store
from labsys.store.models import Bottle
from labsys.timetable.local_time import to_local


@bp.route("/baths/mix", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def mix() -> ResponseReturnValue:
    """Choose the product, plan the bath, then enter what was measured out. The plan stands in the address."""
    product_id = request.args.get("product_id", type=row_key)
    line_id = request.args.get("line_id", type=row_key)
    if product_id is None:
        products = queries.products_with_bottles(db.session, today=today_here())
        standings = product_queries.standings(db.session, [product for product, _ in products], now=clock.now())
        return render_template("baths/mix_product.html", products=products, standings=standings, line_id=line_id)
    product = product_queries.product_or_raise(db.session, product_id)
    if refused := refused_for(product, heading=f"Mix {product.name}", back=url_for(".mix", line_id=line_id)):
        return refused
    lines = queries.lines(db.session)
    is_planned = "volume" in request.args
    begin = {} if is_planned else pages.suggestions(product=product, lines=lines, line_id=line_id)
    planned = MixPlanForm(formdata=request.args if is_planned else None, meta={"csrf": False}, **begin)
    planned.offer(product=product, lines=lines)
    if not is_planned or not planned.validate():
        bottles = store.offered(db.session, product_id=product.id, today=today_here())
        standing = product_queries.standing(db.session, product, now=clock.now())
        return form_page(
            "baths/mix_plan.html", planned, product=product, standing=standing, lines=lines, bottles=bottles
        )
    plan = pages.MixPlan(
        product=product,
        water_parts_milli=planned.water_parts_milli,
        working_ul=given(planned.volume.amount),
        line=next(line for line in lines if line.id == planned.line_id.data),
        place=Place(planned.place.data),
        holding=planned.holding.data,
        capacity_ul=given(planned.capacity.amount),
        way=Way(planned.way.data),
    )
    return _measure_mix(plan)


@bp.route("/baths/<int:bath_id>/again", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def mix_again(bath_id: int) -> ResponseReturnValue:
    """Mix a bath again as it was: all of it is filled in, to save as planned or with what was measured."""
    bath = queries.bath_or_raise(db.session, bath_id)
    here = url_for(".show", bath_id=bath_id)
    if refused := refused_for(bath.product, heading=f"Mix {bath.name} again", back=here):
        return refused
    if why_changed := same_again.why_changed(db.session, bath):
        flash(why_changed, "problem")
        return redirect(url_for(".mix", product_id=bath.product_id, line_id=bath.line_id), 303)
    if drawn := bath.batches[0].stock_part:
        return redirect(url_for(".draw", bath_id=drawn.stock_id, **_plan_again(bath)), 303)
    plan = pages.MixPlan(
        product=bath.product,
        water_parts_milli=bath.water_parts_milli,
        working_ul=same_again.volume_again(bath),
        line=bath.line,
        place=bath.place,
        holding=bath.holding,
        capacity_ul=bath.vessel.capacity,
        way=bath.way,
    )
    return _measure_mix(plan, again=bath)


def _plan_again(bath: Bath) -> dict[str, Any]:
    """The plan of a bath, as an address says it."""
    return {
        "typed_dilution": dilution_in_words(bath.water_parts_milli),
        "volume": typed_volume(same_again.volume_again(bath)),
        "line_id": bath.line_id,
        "place": bath.place.value,
        "holding": bath.holding.value,
        "way": bath.way.value,
        "capacity": typed_volume(bath.vessel.capacity),
    }


def _measure_mix(plan: pages.MixPlan, *, again: Bath | None = None) -> ResponseReturnValue:
    form = MixForm(name=again.name if again else plan.name, capacity=typed_volume(plan.capacity_ul))
    bottles = offer_bottles(form, plan.product)
    planned = None
    if again:
        planned = same_again.out_of(list(bottles.values()), plan.amounts.from_bottle, today=today_here())
    if planned and form.as_planned.data:
        form.take_as_planned(planned, water_ul=plan.amounts.water_ul)
    replaced = queries.in_service_at_place(db.session, line_id=plan.line.id, place=plan.place)
    if plan.place is not Place.DEVELOPER or len(replaced) != 1:
        del form.seasoned
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
                in_service=form.begins.data == "service" and plan.way is not Way.STOCK,
                mixed_at=given(form.when.instant),
                is_as_planned=bool(planned and form.as_planned.data),
                label_waits=again is not None,
                way=plan.way,
                rate_of=again.replenishing if again else None,
                seasoned=_seasoned(form, replaced),
            )
            label = "Its label waits to be printed." if again else "Print its label and fix it on."
            return saved(f"{bath.name} {bath.code} is mixed. {label}", ".show", bath_id=bath.id)
    return form_page(
        "baths/mix.html",
        form,
        plan=plan,
        replaced=replaced,
        bottles=bottles,
        again=again,
        planned=[(bottles[part.bottle_id], show(part.amount, plan.product.unit)) for part in planned or ()],
        **measuring(plan.product, water_parts_milli=plan.water_parts_milli, working_ul=plan.working_ul),
    )


def _seasoned(form: MixForm, replaced: Sequence[Bath]) -> ways.Seasoned | None:
    """What goes in of the bath that stands in the place, where the form asks for it and somebody said so."""
    if not form.seasoned or not form.seasoned.amount:
        return None
    return ways.Seasoned(replaced[0].id, form.seasoned.amount)


def refused_for(product: Product, *, heading: str, back: str, is_drawn: bool = False) -> ResponseReturnValue | None:
    """The page that says what is lacked to mix from a product now, and who helps; None where nothing is."""
    now = clock.now()
    subjects = [inductions.mixing_of(product)]
    missing = inductions.missing_for(db.session, person=current_person(), subjects=subjects, at=now, now=now)
    asked = of_mixing_at(db.session, product, at=now)
    if is_drawn:
        asked = [each for each in asked if each.competence is not Competence.POWDERS]
    return refused_page(asked, missing=missing, heading=heading, back=back)


def today_here() -> date:
    """The day by the lab's clock."""
    return to_local(clock.now(), zone=g.zone).date()


def offer_bottles(form: MeasuredForm, product: Product) -> dict[int, Bottle]:
    """Give the form one row a bottle, the first to lapse first; what was sent keeps its rows."""
    named = [row.form.bottle_id.data for row in form.bottles if row.form.bottle_id.data is not None]
    bottles = store.offered(db.session, product_id=product.id, named=named, today=today_here())
    for bottle in bottles:
        if bottle.id not in named:
            form.bottles.append_entry({"bottle_id": bottle.id})
    form.count_in(product.unit)
    return {bottle.id: bottle for bottle in bottles}


def measuring(product: Product, *, water_parts_milli: int, working_ul: int, is_drawn: bool = False) -> dict[str, Any]:
    """What the pages for measuring out show beside the form."""
    owned = labware.cylinder_rows(db.session)
    return {
        "worked_out": pages.worked_out(
            product=product,
            water_parts_milli=water_parts_milli,
            working_ul=working_ul,
            cylinders=labware.cylinders_for(owned, product.kind),
            water_cylinders=labware.cylinders_for_water(owned, product.kind),
            is_drawn=is_drawn,
        ),
        "unchecked": labware.unchecked_in_words(owned, product.kind),
        "advice": hazards_of(product).pouring,
        "standing": product_queries.standing(db.session, product, now=clock.now()),
    }
