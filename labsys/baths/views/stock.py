"""A working bath drawn from a stock solution: the plan, then what was really measured out."""

from flask import request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, saved
from labsys.baths import pages, queries, service, ways
from labsys.baths.blueprint import bp
from labsys.baths.forms import WAY_NAMES, DrawForm, MixPlanForm
from labsys.baths.models import Bath, Place, Way
from labsys.baths.views.mixing import measuring, refused_for
from labsys.database import db
from labsys.forms import given, options
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.products import queries as products
from labsys.quantities import typed_volume


@bp.route("/baths/<int:bath_id>/draw", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def draw(bath_id: int) -> ResponseReturnValue:
    """Plan a working bath from a stock solution, then enter what was drawn and how much water went in."""
    stock = queries.bath_or_raise(db.session, bath_id)
    here = url_for(".show", bath_id=bath_id)
    with refusals_at(".show", bath_id=bath_id):
        ways.check_stock(stock, stock.product_id, now=clock.now())
    heading = f"Draw from {stock.name} {stock.code}"
    if refused := refused_for(stock.product, heading=heading, back=here, is_drawn=True):
        return refused
    lines = queries.lines(db.session)
    is_planned = "volume" in request.args
    begin = {} if is_planned else pages.suggestions(product=stock.product, lines=lines, line_id=stock.line_id)
    planned = MixPlanForm(formdata=request.args if is_planned else None, meta={"csrf": False}, **begin)
    planned.offer(product=stock.product, lines=lines)
    planned.way.choices = options({way: words for way, words in WAY_NAMES.items() if way is not Way.STOCK})
    if not is_planned or not planned.validate():
        standing = products.standing(db.session, stock.product, now=clock.now())
        return form_page("baths/draw_plan.html", planned, stock=stock, standing=standing)
    plan = pages.MixPlan(
        product=stock.product,
        water_parts_milli=planned.water_parts_milli,
        working_ul=given(planned.volume.amount),
        line=next(line for line in lines if line.id == planned.line_id.data),
        place=Place(planned.place.data),
        holding=planned.holding.data,
        capacity_ul=given(planned.capacity.amount),
        way=Way(planned.way.data),
        is_drawn=True,
    )
    return _measure(stock, plan)


def _measure(stock: Bath, plan: pages.MixPlan) -> ResponseReturnValue:
    form = DrawForm(name=plan.name, capacity=typed_volume(plan.capacity_ul))
    if form.as_planned.data:
        form.stock.data = typed_volume(plan.amounts.from_bottle)
        form.take_as_planned([], water_ul=plan.amounts.water_ul)
    form.water.or_nothing = True
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
                taken=[],
                water_ul=given(form.water.amount),
                in_service=form.begins.data == "service",
                mixed_at=given(form.when.instant),
                is_as_planned=bool(form.as_planned.data),
                label_waits=True,
                way=plan.way,
                drawn=ways.Drawn(stock.id, given(form.stock.amount)),
            )
            return saved(f"{bath.name} {bath.code} is drawn. Its label waits to be printed.", ".show", bath_id=bath.id)
    replaced = queries.in_service_at_place(db.session, line_id=plan.line.id, place=plan.place)
    shown = measuring(plan.product, water_parts_milli=plan.water_parts_milli, working_ul=plan.working_ul, is_drawn=True)
    return form_page("baths/draw.html", form, stock=stock, plan=plan, replaced=replaced, **shown)
