"""An exhausted bath changed over in two touches: a card that says what to do, and that it is done."""

from collections.abc import Sequence
from dataclasses import dataclass

from flask import flash, g, redirect, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, saved
from labsys.baths import change_over, pages, queries, rules, same_again
from labsys.baths.blueprint import bp
from labsys.baths.cards import card
from labsys.baths.forms import ChangeOverForm, SpareForm
from labsys.baths.models import Bath
from labsys.baths.views.mixing import measuring, offer_bottles, today_here
from labsys.competences.asked import of_mixing_at
from labsys.competences.views import refused_page
from labsys.database import db
from labsys.forms import given
from labsys.inductions import gate as inductions
from labsys.ledger.rules import show
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission
from labsys.products import rules as products
from labsys.products.hazards import hazards_of
from labsys.quantities import typed_volume
from labsys.store import queries as store
from labsys.store.models import Bottle
from labsys.timetable.local_time import to_local
from labsys.waste import queries as waste
from labsys.waste.destinations import Destination, destinations


@dataclass(frozen=True)
class Planned:
    """What a bath is mixed again from, bottle by bottle in words, and with how much water."""

    taken: Sequence[rules.Taken]
    from_bottles: Sequence[tuple[Bottle, str]]
    water_ul: int


@bp.route("/baths/<int:bath_id>/change-over", methods=["GET", "POST"])
@permits(Permission.LOG_USE)
def change_bath_over(bath_id: int) -> ResponseReturnValue:
    """Show what to pour away where, what to mix again from which bottle, and write it down as done."""
    old = queries.bath_or_raise(db.session, bath_id)
    now, person = clock.now(), current_person()
    shown = card(old, now=now)
    spare = change_over.spare_for(db.session, old, now=now)
    if why_not := change_over.why_not_now(db.session, old, state=shown.life.state, has_spare=spare is not None):
        flash(why_not, "problem")
        return redirect(url_for(".show", bath_id=bath_id), 303)
    asked = [*change_over.asked_of(person), *([] if spare else of_mixing_at(db.session, old.product, at=now))]
    subjects = [] if spare else [inductions.mixing_of(old.product)]
    missing = inductions.missing_for(db.session, person=person, subjects=subjects, at=now, now=now)
    heading = f"Change {old.name} {old.code} over"
    if refused := refused_page(asked, missing=missing, heading=heading, back=url_for(".show", bath_id=bath_id)):
        return refused
    containers = _with_room(old)
    form = SpareForm() if spare else ChangeOverForm()
    form.offer(containers)
    if not form.is_submitted():
        form.container_id.data = containers[0].value if containers else None
        form.volume.data = typed_volume(old.vessel.level)
    planned = None if spare else _plan(old, form)
    if form.validate_on_submit():
        with refusals(form):
            fresh = change_over.change_over(
                this_act(form),
                bath_id=bath_id,
                container_id=form.container_id.data,
                volume_ul=given(form.volume.amount),
                spare_id=spare.id if spare else None,
                taken=[] if isinstance(form, SpareForm) else form.taken,
                water_ul=0 if isinstance(form, SpareForm) else given(form.water.amount),
                is_as_planned=bool(planned and form.as_planned.data),
            )
            words = f"{old.name} {old.code} is dumped and {fresh.code} is in service in its place."
            label = "" if spare else " Its label waits to be printed: until then, its code and the time on tape."
            return saved(words + label, ".show", bath_id=fresh.id)
    return form_page(
        "baths/change_over.html",
        form,
        old=old,
        shown=shown,
        spare=spare,
        containers=containers,
        planned=planned,
        keepers=[] if person.name in (here := change_over.keepers_here(db.session)) else here,
        **({"advice": hazards_of(old.product, water_parts_milli=old.water_parts_milli).working} if spare else {}),
        **({} if spare else _mixing_page(old, form)),
    )


def _with_room(old: Bath) -> list[Destination]:
    """The right containers that take all of a bath, the fullest first, so that one is filled before another."""
    held = waste.contents(db.session, waste.containers_here(db.session))
    into = destinations(poured=pages.as_poured(old), product=old.product, held=held.values(), why_not_to_sewer="")
    room = {key: each.container.vessel.capacity - each.container.vessel.level for key, each in held.items()}
    fitting = [container for container in into.right if room[container.value] >= old.vessel.level]
    return sorted(fitting, key=lambda container: room[container.value])


def _plan(old: Bath, form: ChangeOverForm) -> Planned | None:
    """What mixing it again takes; None where the bottles hold too little. Fills in the form that says it was so."""
    bottles = offer_bottles(form, old.product)
    amounts = products.amounts(
        dilution=products.dilution_of_milli(old.water_parts_milli),
        working_ul=same_again.volume_again(old),
        powder_mg_per_l=old.product.powder_mg_per_l,
    )
    today = to_local(clock.now(), zone=g.zone).date()
    taken = same_again.out_of(list(bottles.values()), amounts.from_bottle, today=today)
    if taken is None:
        return None
    if form.as_planned.data:
        form.take_as_planned(taken, water_ul=amounts.water_ul)
    in_words = [(bottles[part.bottle_id], show(part.amount, old.product.unit)) for part in taken]
    return Planned(taken, in_words, amounts.water_ul)


def _mixing_page(old: Bath, form: ChangeOverForm) -> dict[str, object]:
    named = [row.form.bottle_id.data for row in form.bottles if row.form.bottle_id.data is not None]
    rows = store.offered(db.session, product_id=old.product_id, named=named, today=today_here())
    working_ul = same_again.volume_again(old)
    shown = measuring(old.product, water_parts_milli=old.water_parts_milli, working_ul=working_ul)
    return {"bottles": {bottle.id: bottle for bottle in rows}, **shown}
