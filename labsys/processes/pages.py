"""What the page of a process shows: its steps in words."""

from dataclasses import dataclass

from labsys.processes.models import Process, ProcessStep
from labsys.products.rules import show_dilution
from labsys.quantities import MILLI, duration, figure


@dataclass(frozen=True)
class StepView:
    step: ProcessStep
    solution: str
    time: str
    temperature: str


def steps(process: Process) -> tuple[StepView, ...]:
    return tuple(
        StepView(
            step=step,
            solution="" if step.water_parts_milli is None else show_dilution(step.water_parts_milli),
            time=duration(step.seconds) if step.seconds else "",
            temperature=_temperature(step),
        )
        for step in process.steps
    )


def _temperature(step: ProcessStep) -> str:
    if step.temperature_milli_c is None:
        return ""
    usual = f"{figure(step.temperature_milli_c, MILLI)} °C"
    return f"{usual} ± {figure(step.tolerance_milli_c, MILLI)} °C" if step.tolerance_milli_c else usual
