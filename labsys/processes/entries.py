"""Between the form of a process and its steps: what was typed as entries, entries as they would be typed."""

from typing import Any

from labsys.forms import filled
from labsys.processes.forms import ProcessForm, StepRow
from labsys.processes.models import Process, ProcessStep
from labsys.processes.service import StepEntry
from labsys.products.rules import show_dilution
from labsys.quantities import MILLI, duration, figure


def step_entries(form: ProcessForm) -> list[StepEntry]:
    """Return the steps of a form that was found valid."""
    return [_entry(row) for row in filled(form.steps)]


def typed(process: Process) -> dict[str, Any]:
    """Return a process as it would be typed, to begin a change from."""
    return {
        "name": process.name,
        "note": process.note,
        "steps": [_typed_step(one) for one in process.steps],
        "version": str(process.version),
    }


def _entry(row: StepRow) -> StepEntry:
    return StepEntry(
        name=row.name.data or "",
        product_id=int(row.product_id.data) if row.product_id.data else None,
        water_parts_milli=row.milli,
        seconds=row.seconds,
        temperature_milli_c=row.celsius.amount,
        tolerance_milli_c=row.tolerance.amount,
        changes=row.changes.amount,
        in_the_dark=row.in_the_dark.data,
        air=row.air.data or "",
        note=row.note.data or "",
        source=row.source.data or "",
    )


def _typed_step(one: ProcessStep) -> dict[str, Any]:
    return {
        "name": one.name,
        "product_id": str(one.product_id or ""),
        "dilution": "" if one.water_parts_milli is None else show_dilution(one.water_parts_milli),
        "time": duration(one.seconds) if one.seconds else "",
        "celsius": figure(one.temperature_milli_c, MILLI),
        "tolerance": figure(one.tolerance_milli_c, MILLI),
        "changes": figure(one.changes, 1),
        "in_the_dark": one.in_the_dark,
        "air": one.air,
        "note": one.note,
        "source": one.source,
    }
