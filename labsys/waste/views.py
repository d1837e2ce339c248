"""Pages about waste: what stands where, pouring, quarantine, handing over."""

from flask import Blueprint, current_app, flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys.answers import cut_page, form_page, refusals, row_key, saved
from labsys.config import Config
from labsys.database import db
from labsys.forms import given
from labsys.hazards.waste_codes import ATTRIBUTION
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.quantities import show_volume
from labsys.waste import pages, queries, rules, service
from labsys.waste.forms import ContainerForm, ContainerLevelForm, PourForm, ReleaseForm, StreamForm, collect_form

bp = Blueprint("waste", __name__)

COLLECTIONS_A_PAGE = 10


@bp.route("/waste")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show the streams with their containers, and the collections, newest first."""
    before_id = request.args.get("before", type=row_key)
    streams = pages.streams_with_containers(queries.streams(db.session), queries.containers_here(db.session))
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
    """Show a container: what it takes, what it must not meet, what was poured in, its quarantines."""
    config: Config = current_app.config["LABSYS"]
    container = queries.container_or_raise(db.session, container_id)
    return render_template(
        "waste/container.html",
        view=pages.view_of(container),
        container=container,
        scan_code=pages.scan_code(container, public_url=config.public_url),
        takes=pages.taken_by(container.stream, products=queries.products_of(db.session, container.stream.code)),
        pours=queries.pours_into(db.session, container_id),
        collection_id=queries.collection_id_of(db.session, container_id),
    )


@bp.route("/waste/containers/<int:container_id>/pour", methods=["GET", "POST"])
@permits(Permission.POUR_WASTE)
def pour(container_id: int) -> ResponseReturnValue:
    """Show the form of a pour, or record it; a wrong one leads to the advice."""
    container = queries.container_or_raise(db.session, container_id)
    form = PourForm(waste_code=container.stream.code)
    form.waste_code.choices = pages.code_choices(own=container.stream)
    if form.validate_on_submit():
        with refusals(form):
            made = service.pour(
                this_act(form),
                container_id=container_id,
                poured=rules.Poured(given(form.what.data), str(form.waste_code.data), given(form.volume.amount)),
                poured_at=given(form.poured_at.instant),
            )
            if made.wrong_because:
                flash(f"Recorded. {made.wrong_because} Do first what stands below.", "problem")
                return redirect(url_for(".container", container_id=container_id), 303)
            return saved(f"{show_volume(made.volume_ul)} recorded.", ".container", container_id=container_id)
    return form_page("waste/pour.html", form, view=pages.view_of(container), container=container)


@bp.route("/waste/containers/<int:container_id>/release", methods=["GET", "POST"])
@permits(Permission.KEEP_WASTE)
def release(container_id: int) -> ResponseReturnValue:
    """Show the form that ends a quarantine, or end it."""
    container = queries.container_or_raise(db.session, container_id)
    form = ReleaseForm()
    if form.validate_on_submit():
        with refusals(form):
            released = service.release_from_quarantine(
                this_act(form), container_id=container_id, note=given(form.note.data)
            )
            return saved(f"{released.label} is out of quarantine.", ".container", container_id=container_id)
    return form_page("waste/release.html", form, container=container)


@bp.route("/waste/containers/<int:container_id>/level", methods=["GET", "POST"])
@permits(Permission.KEEP_WASTE)
def correct_level(container_id: int) -> ResponseReturnValue:
    """Show the form that sets a container's level to what was found, or set it."""
    container = queries.container_or_raise(db.session, container_id)
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
            return saved(message, ".container", container_id=container_id)
    return form_page("waste/correct_level.html", form, view=pages.view_of(container), container=container)


@bp.route("/waste/collect", methods=["GET", "POST"])
@permits(Permission.KEEP_WASTE)
def collect() -> ResponseReturnValue:
    """Show what can be handed over, or hand it over under one consignment note code."""
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
        containers=[pages.view_of(container) for container in here],
        ticked=set(form.containers.data or request.args.getlist("container", type=row_key)),
        suggestion=suggestion,
    )


@bp.route("/waste/collections/<int:collection_id>")
@permits(Permission.SEE_LAB)
def collection(collection_id: int) -> ResponseReturnValue:
    """Show a collection: what the book and the carrier said of each container, and what does not fit."""
    made = queries.collection_or_raise(db.session, collection_id)
    view = pages.view_of_collection(made, nation=g.lab.nation, zone=g.zone)
    return render_template("waste/collection.html", view=view)
