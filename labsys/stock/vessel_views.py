"""Pages of the tanks and trays the lab owns: plans say which to take, and how far to fill it."""

from dataclasses import dataclass
from typing import Any

from flask import request
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, saved
from labsys.database import db
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.quantities import UL_PER_ML, show_volume
from labsys.stock import queries, vessel_service
from labsys.stock.entries import figure
from labsys.stock.forms.vessel import VESSEL_FORMS
from labsys.stock.models import WorkingVessel, WorkingVesselKind
from labsys.stock.vessel_rules import for_a_hand, tray_ul
from labsys.stock.views import bp


@dataclass(frozen=True)
class VesselView:
    """A tank or tray in words."""

    vessel: WorkingVessel
    capacity: str
    takes: tuple[str, ...]


@bp.route("/store/tanks", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def tanks() -> ResponseReturnValue:
    """List the tanks and trays of the lab, or add one: a tank, or by ?kind=tray a tray."""
    asked = request.args.get("kind", "")
    kind = WorkingVesselKind(asked) if asked in list(WorkingVesselKind) else WorkingVesselKind.TANK
    form = VESSEL_FORMS[kind]()
    if form.validate_on_submit():
        with refusals(form):
            added = vessel_service.add_vessel(this_act(form), entry=form.entry)
            return saved(f"{added.name} is on the list.", ".tanks")
    owned = [_view(one) for one in queries.working_vessels(db.session)]
    return form_page("stock/tanks.html", form, vessels=owned, kind=kind)


@bp.route("/store/tanks/<int:vessel_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def change_tank(vessel_id: int) -> ResponseReturnValue:
    """Change a tank or tray, or take it out of use."""
    vessel = queries.working_vessel_or_raise(db.session, vessel_id)
    form = VESSEL_FORMS[vessel.kind](data=_typed(vessel) if request.method == "GET" else None)
    if form.validate_on_submit():
        with refusals(form):
            changed = vessel_service.change_vessel(
                this_act(form), vessel_id=vessel_id, entry=form.entry, in_use=form.in_use.data
            )
            return saved(f"{changed.name} is changed.", ".tanks")
    return form_page("stock/change_tank.html", form, vessel=vessel)


def _view(vessel: WorkingVessel) -> VesselView:
    if vessel.length_mm is not None and vessel.width_mm is not None and vessel.depth_mm is not None:
        filled = for_a_hand(tray_ul(length_mm=vessel.length_mm, width_mm=vessel.width_mm, depth_mm=vessel.depth_mm))
        takes: tuple[str, ...] = (
            f"{vessel.length_mm} × {vessel.width_mm} mm inside; {show_volume(filled)} at {vessel.depth_mm} mm",
        )
    else:
        takes = tuple(f"{one.count} of {one.size} in {show_volume(one.volume_ul)}" for one in vessel.fills)
    return VesselView(vessel, show_volume(vessel.capacity_ul), takes)


def _typed(vessel: WorkingVessel) -> dict[str, Any]:
    return {
        "name": vessel.name,
        "capacity": figure(vessel.capacity_ul, UL_PER_ML),
        "length_mm": figure(vessel.length_mm, 1),
        "width_mm": figure(vessel.width_mm, 1),
        "depth_mm": figure(vessel.depth_mm, 1),
        "source": vessel.source,
        "in_use": vessel.closed_at is None,
        "fills": [
            {"size": one.size, "count": str(one.count), "volume": figure(one.volume_ul, UL_PER_ML)}
            for one in vessel.fills
        ],
    }
