"""What people do with processes: write one down, change it. The record keeps what each change replaced."""

from collections.abc import Sequence
from dataclasses import dataclass

from labsys.chemistry.sizes import Material
from labsys.database import flush_or_refuse
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.processes import queries
from labsys.processes.models import Process, ProcessStep
from labsys.products import rules as products

_NAME = {"constraint": "uq_processes_name", "columns": "processes.name"}


@dataclass(frozen=True, kw_only=True)
class StepEntry:
    name: str
    product_id: int | None = None
    water_parts_milli: int | None = None
    seconds: int | None = None
    temperature_milli_c: int | None = None
    tolerance_milli_c: int | None = None
    changes: int | None = None
    any_film: bool = False
    in_the_dark: bool = False
    air: str = ""
    note: str = ""
    source: str = ""


@act
def add_process(act: Act, *, name: str, material: Material, note: str, steps: Sequence[StepEntry]) -> Process:
    """Write down a way of working as ordered steps. Raises NotPermitted or ProductRefused."""
    require(act.actor, Permission.KEEP_STOCK)
    if queries.process_by_name(act.session, name) is not None:
        raise _name_taken(name)
    process = Process(name=name, material=material, note=note, version=1, steps=_steps(steps))
    act.session.add(process)
    flush_or_refuse(act.session, _name_taken(name), **_NAME)
    act.tell("process.added", about=process, facts=_facts(process))
    return process


@act
def change_process(
    act: Act, *, process_id: int, name: str, note: str, steps: Sequence[StepEntry], version: int | None = None
) -> Process:
    """Change a process in place: what was booked or laid out for it goes on with the new steps.

    Its material stays: sizes planned for it would mean nothing in another. `version` is the one the change started
    from. Raises NotPermitted, NotFound, ProductRefused, or EntriesMoved where the version has moved on.
    """
    require(act.actor, Permission.KEEP_STOCK)
    process = queries.process_or_raise(act.session, process_id, lock=True)
    products.check_version(seen=version, stands=process.version)
    same_name = queries.process_by_name(act.session, name)
    if same_name is not None and same_name.id != process.id:
        raise _name_taken(name)
    before = _facts(process)
    process.steps.clear()
    act.session.flush()  # the old steps go before the new ones come, or their positions would collide
    process.name, process.note, process.steps = name, note, _steps(steps)
    process.version += 1
    process.changed_at = act.now
    flush_or_refuse(act.session, _name_taken(name), **_NAME)
    facts = {**_facts(process), "was": before}
    act.tell("process.changed", about=process, facts=facts)
    return process


def _steps(entries: Sequence[StepEntry]) -> list[ProcessStep]:
    return [ProcessStep(position=position, **vars(entry)) for position, entry in enumerate(entries, 1)]


def _name_taken(name: str) -> products.ProductRefused:
    return products.ProductRefused(f"There is a process called {name} already.", field="name")


def _facts(process: Process) -> dict[str, object]:
    return {
        "name": process.name,
        "material": process.material,
        "note": process.note,
        "version": process.version,
        "steps": [{name: getattr(step, name) for name in StepEntry.__dataclass_fields__} for step in process.steps],
    }
