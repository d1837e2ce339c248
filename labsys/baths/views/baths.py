"""One bath: its page, dumping, putting in service, and taking its mixing back."""

from flask import flash, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.baths import change_over, pages, queries, rules, same_again, service, use_pages, ways
from labsys.baths.blueprint import bp
from labsys.baths.cards import card, dilution_in_words
from labsys.baths.diary import MOST_LOADS, diary_of, foreseen_end
from labsys.baths.forms import DumpForm
from labsys.baths.models import Bath
from labsys.baths.recall import queries as recalls
from labsys.baths.recall.rules import failed_test
from labsys.baths.recall.service import may_recall
from labsys.baths.trends import trends
from labsys.chemistry.replenishment import exchanged_share
from labsys.database import db
from labsys.forms import LabForm, given, new_key
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may
from labsys.products.hazards import hazards_of
from labsys.products.pages import pictograms
from labsys.quantities import UL_PER_ML, typed_volume
from labsys.waste import queries as waste
from labsys.waste.destinations import destinations
from labsys.waste.measured import asking
from labsys.waste.rules import Stopped
from labsys.waste.sewer_rules import NotToSewer

_USES_A_PAGE = 25
SETTLED_SHARE = 0.95  # after three turnovers: 1 - exp(-3), of the mass balance of a perfectly mixed tank


@bp.route("/baths/<int:bath_id>")
@permits(Permission.SEE_LAB)
def show(bath_id: int) -> ResponseReturnValue:
    """Show one bath: where a scan of its label leads."""
    bath = queries.bath_or_raise(db.session, bath_id)
    before = request.args.get("before", type=row_key)
    uses_and_one_more = queries.uses_of_bath(db.session, bath_id=bath_id, before_id=before, limit=_USES_A_PAGE + 1)
    uses, earlier = cut_page(uses_and_one_more, limit=_USES_A_PAGE)
    now = clock.now()
    diary = None
    if before is None:  # on the first of its pages
        loads = queries.loads_of_bath(db.session, bath_id=bath_id, limit=MOST_LOADS)
        diary = diary_of(bath, loads, now=now, foreseen=foreseen_end(db.session, bath, now=now))
    return render_template(
        "baths/show.html",
        shown=card(bath, now=now),
        diary=diary,
        dilution=dilution_in_words(bath.water_parts_milli),
        **_replenished(bath),
        hazards=(hazards := hazards_of(bath.product, water_parts_milli=bath.water_parts_milli)),
        pictograms=pictograms(hazards.label),
        strength_in_words=rules.strength_in_words,
        use_in_words=use_pages.use_in_words,
        uses=uses,
        earlier=earlier,
        before=before,
        trends=trends(bath),
        has_history=bool(uses or before or bath.checks or len(bath.batches) > 1),
        new_key=new_key,
        recalled=recalls.open_of_baths(db.session, [bath_id]),
        failed_test=failed_test(bath),
        may_recall=may_recall(current_person()),
        may_change_over=change_over.is_offered(db.session, bath, person=current_person(), now=clock.now()),
        why_changed=same_again.why_changed(db.session, bath) if may(current_person(), Permission.KEEP_BATHS) else "",
    )


def _replenished(bath: Bath) -> dict[str, object]:
    """How a replenished bath stands: what is due, and how far its replenisher has taken the place of the rest."""
    if bath.replenishing is None:
        return {}
    volumes = [min(batch.volume_ul, bath.replenishing.tank_ul) / UL_PER_ML for batch in bath.batches[1:]]
    share = exchanged_share(volumes_ml=volumes, tank_ml=bath.replenishing.tank_ul / UL_PER_ML)
    return {
        "due": ways.to_replenish_ul(bath),
        "replenisher": dilution_in_words(bath.replenishing.water_parts_milli),
        "exchanged": f"{100 * share:.0f} %",
        "is_settled": share >= SETTLED_SHARE,
    }


@bp.route("/baths/<int:bath_id>/dump", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def dump(bath_id: int) -> ResponseReturnValue:
    """Dump a bath into a container, the right ones first, or to the foul sewer."""
    bath = queries.bath_or_raise(db.session, bath_id)
    held = waste.contents(db.session, waste.containers_here(db.session))
    poured = pages.as_poured(bath)
    sewer = waste.sewer_answer(db.session, poured=poured, at=clock.now())
    into = destinations(poured=poured, product=bath.product, held=held.values(), why_not_to_sewer=sewer.why_not)
    suggested = into.right[0].value if len(into.right) == 1 else None
    form = asking(DumpForm, sewer.limits)(volume=typed_volume(bath.vessel.level), container_id=suggested)
    form.offer(into.all)
    stopped = None
    if form.validate_on_submit():
        with refusals(form):
            try:
                service.dump_bath(
                    this_act(form),
                    bath_id=bath_id,
                    container_id=form.container_id.data or None,
                    volume_ul=given(form.volume.amount),
                    dumped_at=given(form.when.instant),
                    is_done=bool(form.record_done.data),
                    readings=form.readings,
                )
            except (Stopped, NotToSewer) as stop:
                stopped = stop
                raise
            if not form.container_id.data and form.record_done.data:
                made = waste.discharge_of(db.session, vessel_id=bath.vessel_id)
                return saved("It went down the sink: that is recorded.", "waste.discharge", discharge_id=made.id)
            destination = into.of(form.container_id.data)
            if destination.warning:
                flash(f"{destination.warning} {destination.advice}".strip(), "problem")
            return saved(f"{bath.name} {bath.code} is dumped.", ".show", bath_id=bath_id)
    low, high = rules.silver_mg(bath=bath)
    silver = {"silver_low_mg": low, "silver_high_mg": high}
    return form_page("baths/dump.html", form, bath=bath, into=into, stopped=stopped, **silver)


@bp.route("/baths/<int:bath_id>/put-in-service", methods=["POST"])
@permits(Permission.KEEP_BATHS)
def put_in_service(bath_id: int) -> ResponseReturnValue:
    """Put a spare in service."""
    with refusals_at(".show", bath_id=bath_id):
        bath = service.put_in_service(this_act(LabForm()), bath_id=bath_id)
    return saved(f"{bath.name} {bath.code} is in service.", ".line", line_id=bath.line_id)


@bp.route("/baths/<int:bath_id>/undo-mixing", methods=["POST"])
@permits(Permission.KEEP_BATHS)
def undo_mixing(bath_id: int) -> ResponseReturnValue:
    """Take back the entry of a bath that was never mixed."""
    with refusals_at(".show", bath_id=bath_id):
        bath = service.undo_mixing(this_act(LabForm()), bath_id=bath_id)
    return saved(f"Mixing {bath.name} {bath.code} is taken back.", ".line", line_id=bath.line_id)
