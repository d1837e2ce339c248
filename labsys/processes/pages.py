"""What the page of a process shows: its steps in words."""

from collections.abc import Iterable
from dataclasses import dataclass

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.equipment.rules import Counted
from labsys.processes.film_times import PPM_OF_PERCENT
from labsys.processes.models import FilmTime, Process, ProcessStep
from labsys.products.rules import show_dilution
from labsys.quantities import MILLI, duration, figure

USUAL_RANGE_MILLI_C = (18_000, 24_000)  # of the general rule of development: `labsys.chemistry.development`


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
            time=_time(step, process.material),
            temperature=_temperature(step),
        )
        for step in process.steps
    )


def _time(step: ProcessStep, material: Material) -> str:
    """How long; the time of a film developer is the film's own, unless it is said to be that of every film."""
    if material is Material.FILM and step.product is not None and step.product.kind is SolutionKind.DEVELOPER:
        written = duration(step.seconds) if step.seconds else ""
        if step.any_film:
            return f"{written or 'until done'}, any film"
        return f"by the film ({written} written)" if written else "by the film"
    return duration(step.seconds) if step.seconds else "until done"


@dataclass(frozen=True)
class FilmTimeView:
    """A row of the developing times in words, and the sum at the bench that begins from it."""

    row: FilmTime
    dilution: str
    temperature: str
    time: str
    reuse: str
    at_the_bench: dict[str, str]


def film_time_views(rows: Iterable[FilmTime], *, thermometer: Counted | None) -> list[FilmTimeView]:
    return [
        FilmTimeView(
            row=row,
            dilution=show_dilution(row.water_parts_milli),
            temperature=f"{figure(row.temperature_milli_c, MILLI)} °C",
            time=duration(row.seconds),
            reuse=_reuse(row),
            at_the_bench=_at_the_bench(row, thermometer),
        )
        for row in rows
    ]


def _reuse(row: FilmTime) -> str:
    if row.longer_ppm is None:
        return "not stated"
    if not row.longer_ppm:
        return "the same time"
    after = f" after the first {figure(row.free_milli, MILLI)}" if row.free_milli else ""
    return f"{row.longer_ppm / PPM_OF_PERCENT:g} % longer for each roll in a litre{after}"


def _at_the_bench(row: FilmTime, thermometer: Counted | None) -> dict[str, str]:
    """What the bench is asked with; the developer's own factor and range come along where they are entered."""
    own, at = row.product, figure(row.temperature_milli_c, MILLI)
    is_usual = USUAL_RANGE_MILLI_C[0] <= row.temperature_milli_c <= USUAL_RANGE_MILLI_C[1]
    low, high = ("18", "24") if is_usual else (at, at)
    return {
        "minutes": f"{row.seconds // 60}:{row.seconds % 60:02}",
        "at": at,
        "now": at,
        "q10": figure(own.q10_milli, MILLI) or "2.5",
        "low": figure(own.low_milli_c, MILLI) or low,
        "high": figure(own.high_milli_c, MILLI) or high,
        "thermometer": f"{thermometer.off:g}" if thermometer else "0.5",
        "q10_error": "0.3",
        "tau": "60",
    }


def _temperature(step: ProcessStep) -> str:
    if step.temperature_milli_c is None:
        return ""
    usual = f"{figure(step.temperature_milli_c, MILLI)} °C"
    return f"{usual} ± {figure(step.tolerance_milli_c, MILLI)} °C" if step.tolerance_milli_c else usual
