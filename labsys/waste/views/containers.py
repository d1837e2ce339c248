"""Pages about waste: what stands where, pouring, quarantine, handing over."""

from flask import current_app, flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.competences.asked import TO_HAND_OVER, TO_RELEASE
from labsys.competences.views import refused_page
from labsys.config import Config
from labsys.database import db
from labsys.forms import LabForm, given, options
from labsys.hazards.waste_codes import ATTRIBUTION
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import NotPermitted, Permission
from labsys.quantities import show_volume
from labsys.timetable.local_time import to_local
from labsys.waste import pages, quarantine, queries, rules, service, sewer
from labsys.waste.blueprint import bp
from labsys.waste.contents import Contents, hazards_in
from labsys.waste.correcting import correct_pour as correct
from labsys.waste.correcting import may_correct
from labsys.waste.forms import (
    AnswerForm,
    ConsentForm,
    ContainerForm,
    ContainerLevelForm,
    CorrectPourForm,
    PouredForm,
    PourForm,
    QuarantineForm,
    ReleaseForm,
    StateForm,
    StreamForm,
    collect_form,
)
from labsys.waste.measured import asking
from labsys.waste.models import ReleaseKind, WasteContainer
from labsys.waste.stating import state_properties

COLLECTIONS_A_PAGE = 10


@bp.route("/waste")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show the streams with their containers, and the collections, newest first."""
    before_id = request.args.get("before", type=row_key)
    held = queries.contents(db.session, queries.containers_here(db.session))
    streams = pages.streams_with_containers(queries.streams(db.session), held.values())
    collections, older = cut_page(
        queries.collections(db.session, before_id=before_id, limit=COLLECTIONS_A_PAGE + 1), limit=COLLECTIONS_A_PAGE
    )
    return render_template(
        "waste/index.html", streams=streams, collections=collections, older=older, before_id=before_id
    )


@bp.route("/waste/streams/add", methods=["GET", "POST"])
@permits(Permission.KEEP_WASTE)
def add_stream() -> ResponseReturnValue:
    """Show the form of a new stream, or add it."""
    form = StreamForm()
    form.code.choices = pages.free_code_choices(queries.streams(db.session), nation=g.lab.nation)
    if form.validate_on_submit():
        with refusals(form):
            stream = service.add_stream(this_act(form), name=given(form.name.data), code=form.code.data)
            return saved(f"{stream.name} is a stream now. Open its first container.", ".index")
    return form_page("waste/add_stream.html", form, attribution=ATTRIBUTION)


@bp.route("/waste/containers/open", methods=["GET", "POST"])
@permits(Permission.KEEP_WASTE)
def open_container() -> ResponseReturnValue:
    """Show the form of a new container, or put it into use."""
    streams = queries.streams(db.session)
    form = ContainerForm(stream=request.args.get("stream", type=row_key))
    form.stream.choices = [(stream.id, f"{stream.name} {stream.code}") for stream in streams]
    if form.validate_on_submit():
        with refusals(form):
            container = service.open_container(
                this_act(form),
                stream_id=form.stream.data,
                capacity_ul=given(form.capacity.amount),
                place=form.place.data or "",
                opened_at=given(form.opened_at.instant),
            )
            message = f"{container.label} is in use. Write {container.stream.code} on it and stick its code to it."
            return saved(message, ".container", container_id=container.id)
    return form_page("waste/open_container.html", form, streams=streams)


@bp.route("/waste/containers/<int:container_id>", endpoint="container")
@permits(Permission.SEE_LAB)
def show_container(container_id: int) -> ResponseReturnValue:
    """Show a container: what is in it, what it takes, what it must not meet, what was poured in, its quarantines."""
    config: Config = current_app.config["LABSYS"]
    container, held = _with_contents(container_id)
    products = queries.products_of(db.session, container.stream.code)
    return render_template(
        "waste/container.html",
        view=pages.view_of(held),
        container=container,
        scan_code=pages.scan_code(container, public_url=config.public_url),
        takes=pages.taken_by(held, products=products),
        hazards=hazards_in(held, going_in=products),
        vent=rules.VENT,
        pours=queries.pours_into(db.session, container_id),
        may_correct=lambda pour: may_correct(current_person(), pour),
        collection_id=queries.collection_id_of(db.session, container_id),
    )


def _with_contents(container_id: int) -> tuple[WasteContainer, Contents]:
    container = queries.container_or_raise(db.session, container_id)
    return container, queries.contents(db.session, [container])[container_id]


@bp.route("/waste/containers/<int:container_id>/pour", methods=["GET", "POST"])
@permits(Permission.POUR_WASTE)
def pour(container_id: int) -> ResponseReturnValue:
    """Show the form of a pour, or record it. What should not go in is stopped first; once it is in, advice comes."""
    container, held = _with_contents(container_id)
    form = PourForm()
    form.offer(said=pages.sayings(queries.products(db.session)), container=container)
    stopped = None
    if form.validate_on_submit():
        with refusals(form):
            try:
                made = service.pour(
                    this_act(form),
                    container_id=container_id,
                    poured=form.poured,
                    poured_at=given(form.poured_at.instant),
                    is_done=bool(form.record_done.data),
                )
            except rules.Stopped as stop:
                stopped = stop
                raise
            if made.wrong_because:
                flash(f"Recorded. {made.wrong_because} Do first what stands below.", "problem")
                return redirect(url_for(".container", container_id=container_id), 303)
            return saved(f"{show_volume(made.volume_ul)} recorded.", ".container", container_id=container_id)
    return form_page("waste/pour.html", form, view=pages.view_of(held), container=container, stopped=stopped)


@bp.route("/waste/pours/<int:pour_id>/correct", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def correct_pour(pour_id: int) -> ResponseReturnValue:
    """Show the form that corrects a pour, or correct it."""
    old = queries.pour_or_raise(db.session, pour_id)
    if not may_correct(current_person(), old):
        raise NotPermitted(Permission.KEEP_WASTE)
    container = queries.container_or_raise(db.session, old.container_id)
    said = pages.sayings(queries.products(db.session))
    form = CorrectPourForm(
        volume=pages.typed_volume(old.volume_ul),
        what=old.what,
        of=pages.choice_of(old, said),
        waste_code="" if old.product_id else old.waste_code,
    )
    form.offer(said=said, container=container)
    if form.validate_on_submit():
        with refusals(form):
            poured = None if form.nothing.data else form.poured
            correct(this_act(form), pour_id=pour_id, poured=poured, reason=given(form.reason.data))
            return saved("Corrected. What was recorded first stays beside it.", ".container", container_id=container.id)
    return form_page("waste/correct_pour.html", form, old=old, container=container)


@bp.route("/waste/containers/<int:container_id>/quarantine", methods=["GET", "POST"], endpoint="quarantine")
@permits(Permission.KEEP_WASTE)
def put_in_quarantine(container_id: int) -> ResponseReturnValue:
    """Show the form that puts a container in quarantine, or do so."""
    container, held = _with_contents(container_id)
    form = QuarantineForm(reason=held.why_not_known)
    if form.validate_on_submit():
        with refusals(form):
            quarantine.quarantine(this_act(form), container_id=container_id, reason=given(form.reason.data))
            return saved(f"{container.label} is in quarantine.", ".container", container_id=container_id)
    return form_page("waste/quarantine.html", form, container=container)


@bp.route("/waste/containers/<int:container_id>/release", methods=["GET", "POST"])
@permits(Permission.RELEASE_WASTE)
def release(container_id: int) -> ResponseReturnValue:
    """Show the form that ends a quarantine, or end it; then its new label is printed."""
    container, held = _with_contents(container_id)
    here = url_for(".container", container_id=container_id)
    if refused := refused_page(TO_RELEASE, heading=f"Release {container.label} from quarantine", back=here):
        return refused
    ways = quarantine.ways_out(db.session, container)
    kinds = ways.kinds if ways else (ReleaseKind.RESTATED,)
    products = queries.products_of(db.session, container.stream.code)
    hazards = hazards_in(held, going_in=products)
    form = ReleaseForm(kind=kinds[0], components="" if held.why_not_known else held.in_words, properties=hazards.codes)
    form.offer(kinds=kinds, codes=pages.all_codes(first=container.stream.code))
    if form.validate_on_submit():
        with refusals(form):
            released = quarantine.release(
                this_act(form),
                container_id=container_id,
                kind=ReleaseKind(form.kind.data),
                note=given(form.note.data),
                restated=form.restated,
            )
            message = f"{released.label} is out of quarantine. Print its new label and stick it over the old one."
            return saved(message, ".container", container_id=container_id)
    is_own = ways is not None and current_person().id in ways.pourer_ids
    return form_page(
        "waste/release.html", form, container=container, ways=ways, is_own=is_own, left_open=hazards.left_open
    )


@bp.route("/waste/containers/<int:container_id>/properties", methods=["GET", "POST"])
@permits(Permission.RELEASE_WASTE)
def state(container_id: int) -> ResponseReturnValue:
    """Show the form that states the hazardous properties of a container, or state them."""
    container, held = _with_contents(container_id)
    hazards = hazards_in(held, going_in=queries.products_of(db.session, container.stream.code))
    form = StateForm(properties=hazards.codes)
    if form.validate_on_submit():
        with refusals(form):
            state_properties(
                this_act(form),
                container_id=container_id,
                properties=given(form.properties.data),
                reason=given(form.reason.data),
            )
            message = f"Stated. Print the new label of {container.label} and stick it over the old one."
            return saved(message, ".container", container_id=container_id)
    return form_page("waste/state.html", form, container=container, view=pages.view_of(held), hazards=hazards)


@bp.route("/waste/containers/<int:container_id>/level", methods=["GET", "POST"])
@permits(Permission.KEEP_WASTE)
def correct_level(container_id: int) -> ResponseReturnValue:
    """Show the form that sets a container's level to what was found, or set it."""
    container, held = _with_contents(container_id)
    container_was_held = container.quarantine is not None
    form = ContainerLevelForm()
    if form.validate_on_submit():
        with refusals(form):
            corrected = service.correct_level(
                this_act(form),
                container_id=container_id,
                found_ul=given(form.found.amount),
                found_at=given(form.found_at.instant),
            )
            message = f"The book says {show_volume(corrected.vessel.level)} now. The difference is kept as unexplained."
            if corrected.quarantine and not container_was_held:
                flash(f"{corrected.quarantine.reason} It is in quarantine now.", "problem")
            return saved(message, ".container", container_id=container_id)
    return form_page("waste/correct_level.html", form, view=pages.view_of(held), container=container)


@bp.route("/waste/collect", methods=["GET", "POST"])
@permits(Permission.KEEP_WASTE)
def collect() -> ResponseReturnValue:
    """Show what can be handed over, or hand it over under one consignment note code."""
    if refused := refused_page(TO_HAND_OVER, heading="Hand over to the carrier", back=url_for(".index")):
        return refused
    here = queries.containers_here(db.session)
    form = collect_form(here)
    suggestion = pages.suggested_note_code(
        g.lab, newest=queries.newest_note_code(db.session, beginning=pages.note_code_beginning(g.lab))
    )
    if form.validate_on_submit():
        with refusals(form):
            made = service.collect(
                this_act(form),
                handed_over=form.handed_over(),
                note_code=given(form.note_code.data),
                carrier=given(form.carrier.data),
                collected_at=given(form.collected_at.instant),
            )
            return saved(f"Handed over under {made.note_code}.", ".collection", collection_id=made.id)
    return form_page(
        "waste/collect.html",
        form,
        containers=[pages.view_of(held) for held in queries.contents(db.session, here).values()],
        ticked=set(form.containers.data or request.args.getlist("container", type=row_key)),
        suggestion=suggestion,
    )


@bp.route("/waste/collections/<int:collection_id>")
@permits(Permission.SEE_LAB)
def collection(collection_id: int) -> ResponseReturnValue:
    """Show a collection: what the book and the carrier said of each container, and what does not fit."""
    made = queries.collection_or_raise(db.session, collection_id)
    held = queries.contents(db.session, [line.container for line in made.lines])
    view = pages.view_of_collection(made, held=held, nation=g.lab.nation, zone=g.zone)
    return render_template("waste/collection.html", view=view)


MOST_DISCHARGES = 20


@bp.route("/waste/sewer", endpoint="sewer")
@permits(Permission.SEE_LAB)
def show_sewer() -> ResponseReturnValue:
    """Show where the sinks drain to, the consents, and what went down without one."""
    return render_template(
        "waste/sewer.html",
        consents=queries.consents(db.session),
        today=to_local(clock.now(), zone=g.zone).date(),
        discharges=queries.without_consent(db.session, limit=MOST_DISCHARGES),
    )


@bp.route("/waste/sewer/consents/add", methods=["GET", "POST"])
@permits(Permission.KEEP_SEWER)
def add_consent() -> ResponseReturnValue:
    """Show the form of a sewer consent, or enter it."""
    form = ConsentForm()
    form.codes.choices = options(dict(pages.all_codes(first="")))
    if form.validate_on_submit():
        with refusals(form):
            made = sewer.add_consent(this_act(form), entry=form.entry)
            return saved(f"Consent {made.reference} is on file.", ".sewer")
    return form_page("waste/add_consent.html", form)


@bp.route("/waste/sewer/consents/<int:consent_id>/end", methods=["POST"])
@permits(Permission.KEEP_SEWER)
def end_consent(consent_id: int) -> ResponseReturnValue:
    """End a consent from today on."""
    with refusals_at(".sewer"):
        ended = sewer.end_consent(this_act(LabForm()), consent_id=consent_id)
    return saved(f"Consent {ended.reference} holds no more.", ".sewer")


@bp.route("/waste/drained", methods=["GET", "POST"])
@permits(Permission.POUR_WASTE)
def drained() -> ResponseReturnValue:
    """Show the form of what went down the sink, or record it; then the undertaker's number stands there at once."""
    form = asking(PouredForm, queries.limits_in_force(db.session, at=clock.now()))()
    form.offer(said=pages.sayings(queries.products(db.session)))
    if form.validate_on_submit():
        with refusals(form):
            made = sewer.record_drained(
                this_act(form), poured=form.poured, discharged_at=given(form.poured_at.instant), readings=form.readings
            )
            return saved("Recorded.", ".discharge", discharge_id=made.id)
    return form_page("waste/drained.html", form)


@bp.route("/waste/discharges/<int:discharge_id>")
@permits(Permission.SEE_LAB)
def discharge(discharge_id: int) -> ResponseReturnValue:
    """Show what went down, whom to ring, and who answered for it."""
    made = queries.discharge_or_raise(db.session, discharge_id)
    return render_template("waste/discharge.html", form=AnswerForm(), made=made)


@bp.route("/waste/discharges/<int:discharge_id>/answer", methods=["POST"])
@permits(Permission.KEEP_SEWER)
def answer_discharge(discharge_id: int) -> ResponseReturnValue:
    """Answer for a discharge without consent."""
    form = AnswerForm()
    if form.validate_on_submit():
        with refusals(form):
            sewer.answer_discharge(this_act(form), discharge_id=discharge_id, answer=given(form.answer.data))
            return saved("Answered.", ".discharge", discharge_id=discharge_id)
    return form_page("waste/discharge.html", form, made=queries.discharge_or_raise(db.session, discharge_id))
