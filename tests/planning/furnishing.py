"""What a plan is made from in a small lab: a film process and a paper process on its products."""

from typing import Any

from labsys.chemistry.sizes import Material
from labsys.processes import service as processes
from labsys.processes.models import Process
from labsys.processes.service import StepEntry
from tests.support.lab import SmallLab


def add_film_process(lab: SmallLab, **changes: Any) -> Process:
    """Load, develop 1+6 for 8 min, stop 1+19, fix 1+4, wash in 8 changes; all at 20 °C."""
    developer, stop, fixer = (lab.ids[f"product {kind}"] for kind in ("developer", "stop", "fixer"))
    steps = [
        StepEntry(name="Load the tank", in_the_dark=True, note="In the loading room."),
        step_at_20("Develop", product_id=developer, water_parts_milli=6_000, seconds=480, any_film=True),
        step_at_20("Stop", product_id=stop, water_parts_milli=19_000, seconds=60),
        step_at_20("Fix", product_id=fixer, water_parts_milli=4_000, seconds=300),
        step_at_20("Wash", seconds=480, changes=8),
    ]
    fields: dict[str, Any] = {"name": "Film, PQ 1+6", "material": Material.FILM, "note": "", "steps": steps}
    return processes.add_process(lab.act("technician"), **{**fields, **changes})


def add_paper_process(lab: SmallLab) -> Process:
    """Stop 1+19 and fix 1+9 for RC paper."""
    steps = [
        step_at_20("Stop", product_id=lab.ids["product stop"], water_parts_milli=19_000, seconds=30),
        step_at_20("Fix", product_id=lab.ids["product fixer"], water_parts_milli=9_000, seconds=120),
    ]
    return add_film_process(lab, name="RC prints", material=Material.RC, steps=steps)


def step_at_20(name: str, **fields: Any) -> StepEntry:
    return StepEntry(name=name, temperature_milli_c=20_000, **fields)
