"""Pages of what the lab owns: measuring cylinders, tanks and trays. Plans say which to take, and how far to fill it."""

from typing import Any

from flask import Blueprint, request
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, saved
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import CylinderClass
from labsys.database import db
from labsys.labware import pages, queries, service
from labsys.labware.forms import VESSEL_FORMS, CylinderForm
from labsys.labware.models import WorkingVessel, WorkingVesselKind
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.quantities import UL_PER_ML, figure

bp = Blueprint("labware", __name__)


@bp.route("/store/cylinders", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def cylinders() -> ResponseReturnValue:
    """List the measuring cylinders of the lab, or add one."""
    form = CylinderForm()
    if form.validate_on_submit():
        with refusals(form):
            service.add_cylinder(
                this_act(form),
                nominal_ml=form.nominal_ml.amount or 0,
                division_ul=form.division.amount or 0,
                least_ul=form.least.amount,
                accuracy_class=CylinderClass(form.accuracy_class.data),
                kept_for=SolutionKind(form.kept_for.data) if form.kept_for.data else None,
            )
            return saved("The cylinder is on the list.", ".cylinders")
    owned = [pages.cylinder_view(cylinder) for cylinder in queries.cylinder_rows(db.session)]
    return form_page("labware/cylinders.html", form, cylinders=owned)


@bp.route("/store/tanks", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def tanks() -> ResponseReturnValue:
    """List the tanks and trays of the lab, or add one: a tank, or by ?kind=tray a tray."""
    asked = request.args.get("kind", "")
    kind = WorkingVesselKind(asked) if asked in list(WorkingVesselKind) else WorkingVesselKind.TANK
    form = VESSEL_FORMS[kind]()
    if form.validate_on_submit():
        with refusals(form):
            added = service.add_vessel(this_act(form), entry=form.entry)
            return saved(f"{added.name} is on the list.", ".tanks")
    owned = [pages.vessel_view(vessel) for vessel in queries.working_vessels(db.session)]
    return form_page("labware/tanks.html", form, vessels=owned, kind=kind)


@bp.route("/store/tanks/<int:vessel_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def change_tank(vessel_id: int) -> ResponseReturnValue:
    """Change a tank or tray, or take it out of use."""
    vessel = queries.working_vessel_or_raise(db.session, vessel_id)
    form = VESSEL_FORMS[vessel.kind](data=_typed(vessel) if request.method == "GET" else None)
    if form.validate_on_submit():
        with refusals(form):
            changed = service.change_vessel(
                this_act(form), vessel_id=vessel_id, entry=form.entry, in_use=form.in_use.data
            )
            return saved(f"{changed.name} is changed.", ".tanks")
    return form_page("labware/change_tank.html", form, vessel=vessel)


def _typed(vessel: WorkingVessel) -> dict[str, Any]:
    return {
        "name": vessel.name,
        "capacity": figure(vessel.capacity_ul, UL_PER_ML),
        "length_mm": vessel.length_mm,
        "width_mm": vessel.width_mm,
        "depth_mm": vessel.depth_mm,
        "source": vessel.source,
        "in_use": vessel.closed_at is None,
        "fills": [
            {"size": fill.size, "count": fill.count, "volume": figure(fill.volume_ul, UL_PER_ML)}
            for fill in vessel.fills
        ],
    }
