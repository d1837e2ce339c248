"""The session plan: one table for the whole session in working order, worked out from plain values."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from labsys.baths.models import Place
from labsys.baths.rules import PLACE_OF, WORKING_ORDER
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.life import Fit, State
from labsys.chemistry.sizes import UNIT_MM2, Material
from labsys.chemistry.volumes import REEL_ML
from labsys.hazards.protective import GLOVES_OFF, Advice, Protection, Task
from labsys.planning.facts import (
    NOT_MEASURED,
    ChosenFilm,
    Conditions,
    Dangers,
    PlannedLoad,
    ProcessFacts,
    SharedBath,
    Solution,
    Step,
    advice_on,
)
from labsys.planning.loads import check_load
from labsys.planning.mixed_volume import volume_to_mix
from labsys.planning.mixing import FreshMix, fresh_mix
from labsys.planning.warmth import (
    USUAL_ROOM_CELSIUS,
    Tempered,
    Timed,
    changes_in_words,
    cold_water_warning,
    developing_time,
    slower_wash,
    temper_water,
    working_celsius,
)
from labsys.quantities import UL_PER_ML, duration, show_volume

# House rules, and common practice (no source).
_LARGE_MM = 300  # the longer side from which tongs do not carry a print
AIR_BELLS = "Tap the tank to free air bells."
IN_THE_DARK = "Total darkness: no light at all, no phone, no watch that glows."


@dataclass(frozen=True, slots=True)
class ChosenBath:
    """A shared bath that takes the place of a fresh mix, with the life it has left for this load."""

    bath: SharedBath
    for_this: str


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """One row of the table. A step with a solution has a bath or a fresh mix, never both; a wash may be tempered.

    `warnings` must not be overlooked; `remarks` are worth knowing.
    """

    number: int
    step: Step
    celsius: float | None
    timed: Timed
    protection: tuple[Protection, ...]
    bath: ChosenBath | None = None
    mix: FreshMix | None = None
    tempered: Tempered | None = None
    water_ul: int | None = None
    warnings: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def solution(self) -> Solution | None:
        return self.step.solution

    @property
    def temperature(self) -> str:
        """Temperature in words, empty where any will do."""
        return "" if self.celsius is None else f"{self.celsius:g} °C"

    @property
    def tolerance(self) -> str:
        """How far off the temperature may be, in words; empty where nothing is said."""
        return "" if self.step.celsius_off is None else f"± {self.step.celsius_off:g} °C"

    @property
    def time(self) -> str:
        """Time in words: what the process gives, corrected, or that it is not known."""
        if self.timed.seconds is not None:
            return duration(self.timed.seconds)
        return "" if self.timed.is_settled else "not known"

    @property
    def changes(self) -> str:
        """Changes of water in words, with the water they take; empty where none are given."""
        if self.step.changes is None:
            return ""
        return changes_in_words(changes=self.step.changes, seconds=self.timed.seconds)


@dataclass(frozen=True, slots=True)
class DangerRow:
    """A product or working solution about which something has to be said, for the sheet's table of hazards."""

    named: str
    is_bottle: bool
    dangers: Dangers


@dataclass(frozen=True, slots=True)
class SessionPlan:
    """The whole session: steps in the order of the process, what to make up first, and how to keep safe.

    `mixing` is for handling what is undiluted, None where nothing is mixed; `working` is for the rest. `assessed` says
    whether that comes from an assessment, `questions` where one asks less than is worked out.
    """

    process: ProcessFacts
    load: PlannedLoad
    steps: tuple[PlannedStep, ...]
    making_up: tuple[PlannedStep, ...]
    working: Advice
    mixing: Advice | None
    dangers: tuple[DangerRow, ...]
    cautions: tuple[str, ...]
    conditions: Conditions
    assessed: str = ""
    assessed_briefly: str = ""
    is_assessed: bool = True
    questions: tuple[str, ...] = ()

    @property
    def assumption(self) -> str:
        """What the tempering of the mixes takes for granted, or nothing."""
        is_tempered = any(step.mix is not None and step.mix.tempered is not None for step in self.steps)
        if not is_tempered or self.conditions.room_celsius is not None:
            return ""
        return f"The room was not measured: concentrates are taken as {USUAL_ROOM_CELSIUS:g} °C."


def make_plan(
    *,
    process: ProcessFacts,
    load: PlannedLoad,
    baths: Sequence[SharedBath] = (),
    conditions: Conditions = NOT_MEASURED,
    film: ChosenFilm | None = None,
) -> SessionPlan:
    """Work out a whole session.

    Parameters:
        process: Steps in working order, with their solutions. [-]
        load: What is processed, and the volume that covers it. [µL]
        baths: Shared baths of the lab, in service or spare; those that suit are used. [-]
        conditions: Temperatures of the day, as far as they are known. [°C]
        film: The film with its rows of the lab's developing times, None where nobody said which. [-]
    Returns:
        The plan; its steps are those of the process, in their order. [-]
    Raises:
        LoadTooLarge: The film stands out of the solution.
        WrongMaterial: The size is not made in the material of the process.
        OutOfRange: A volume or temperature is out of range.
    Source:
        Figures: `labsys.chemistry`. Order of making up: US Army subcourse SS0509, Laboratory Procedures, ed. 8 (1988).
        What takes which bath's place, and the house rules: common practice, no source.
    """
    if not load.vessel:  # the figures of the lab's own vessel come first
        check_load(size=load.size, material=load.material, count=load.count, working_ul=load.working_ul)
    developer = next((step for step in process.steps if _is(step, SolutionKind.DEVELOPER)), None)
    steps: list[PlannedStep] = []
    fixers = 0
    for number, step in enumerate(process.steps, start=1):
        celsius = working_celsius(step=step, developer=developer, conditions=conditions)
        if step.solution is None:
            wet = _without_solution(number, step, celsius=celsius, load=load, conditions=conditions)
            said = {told for earlier in steps for told in earlier.warnings}  # once is enough: a sheet is short of room
            steps.append(replace(wet, warnings=tuple(told for told in wet.warnings if told not in said)))
            continue
        fixers += _is(step, SolutionKind.FIXER)
        is_second = fixers > 1 and _is(step, SolutionKind.FIXER)
        place = Place.SECOND_FIXER if is_second else PLACE_OF.get(step.solution.kind)
        suiting = _suiting(step.solution, baths, process=process, place=place)
        steps.append(
            _with_solution(
                number,
                step,
                step.solution,
                celsius=celsius,
                load=load,
                conditions=conditions,
                suiting=suiting,
                film=film,
            )
        )
    fresh = [planned for planned in steps if planned.mix is not None]
    used = [planned.solution for planned in steps if planned.solution is not None]
    bottles = [planned.solution.bottle for planned in fresh if planned.solution is not None]
    return SessionPlan(
        process=process,
        load=load,
        steps=tuple(steps),
        making_up=tuple(sorted(fresh, key=_order_of_making_up)),
        working=advice_on((solution.working for solution in used), task=_hardest_task(used, load)),
        mixing=advice_on(bottles, task=Task.POURING) if bottles else None,
        dangers=tuple(_danger_rows(steps)),
        cautions=tuple(_cautions(steps)),
        conditions=conditions,
    )


def _is(step: Step, kind: SolutionKind) -> bool:
    return step.solution is not None and step.solution.kind is kind


def _order_of_making_up(planned: PlannedStep) -> tuple[int, int]:
    assert planned.solution is not None  # noqa: S101 - only steps with a solution are mixed
    place = PLACE_OF.get(planned.solution.kind)
    return (-1 if place is None else WORKING_ORDER[place], planned.number)  # what has no place in a line comes first


def _without_solution(
    number: int, step: Step, *, celsius: float | None, load: PlannedLoad, conditions: Conditions
) -> PlannedStep:
    """A step in water, or one with nothing wet at all, such as loading the tank."""
    is_wet = step.changes is not None or (step.celsius is not None and not step.in_the_dark)
    tempered, warnings, remarks = None, [], []
    if is_wet and celsius is not None:
        tempered = temper_water(water_ml=load.working_ul / UL_PER_ML, celsius=celsius, conditions=conditions)
        warnings.append(cold_water_warning(conditions.cold_celsius))
        remarks.append(slower_wash(celsius=celsius, conditions=conditions))
    return PlannedStep(
        number=number,
        step=step,
        celsius=celsius,
        timed=Timed(step.seconds),
        protection=advice_on([], task=_task(load)).protection if is_wet else (),
        tempered=tempered,
        water_ul=step.changes * load.working_ul if step.changes is not None else None,
        warnings=tuple(filter(None, warnings)),
        remarks=tuple(filter(None, remarks)),
    )


def _with_solution(
    number: int,
    step: Step,
    solution: Solution,
    *,
    celsius: float | None,
    load: PlannedLoad,
    conditions: Conditions,
    suiting: Sequence[SharedBath],
    film: ChosenFilm | None,
) -> PlannedStep:
    bath, warnings = _choose_bath(suiting, load)
    remarks = []
    mix = None
    if bath is None:
        working_ul, reason = volume_to_mix(solution=solution, load=load)
        mix = fresh_mix(solution=solution, working_ul=working_ul, celsius=celsius, conditions=conditions)
        if reason:
            remarks.append(reason)
        if mix.trouble:
            warnings.append(mix.trouble)
        if solution.standing:
            warnings.append(solution.standing if solution.may_mix else f"Not to be mixed yet. {solution.standing}")
    timed = Timed(step.seconds)
    if solution.kind is SolutionKind.DEVELOPER:
        used = _film_through_a_litre(bath)
        timed = developing_time(step=step, material=load.material, celsius=celsius, film=film, used_per_litre=used)
        if load.material is Material.FILM and load.size.key in REEL_ML and "air bells" not in step.note:
            remarks.append(AIR_BELLS)
    if timed.remark:
        (remarks if timed.is_settled else warnings).append(timed.remark)
    return PlannedStep(
        number=number,
        step=step,
        celsius=celsius,
        timed=timed,
        protection=advice_on([solution.working], task=_hardest_task([solution], load)).protection,
        bath=bath,
        mix=mix,
        warnings=tuple(warnings),
        remarks=tuple(remarks),
    )


def _film_through_a_litre(chosen: ChosenBath | None) -> float:
    """Rolls that went through a litre of a shared bath already; none of a fresh mix. [1/L]"""
    if chosen is None:
        return 0.0
    facts = chosen.bath.life.facts
    return float(facts.used.film_mm2 / UNIT_MM2 / facts.litres)


def _suiting(
    solution: Solution, baths: Iterable[SharedBath], *, process: ProcessFacts, place: Place | None
) -> list[SharedBath]:
    """The shared baths of this solution for this work, those of the process's own line first."""
    suiting = [
        bath
        for bath in baths
        if (bath.product_id, bath.dilution, bath.place) == (solution.product_id, solution.dilution, place)
        and process.material in bath.materials
    ]
    return sorted(suiting, key=lambda bath: (bath.process_id != process.process_id, bath.bath_id))


def _choose_bath(suiting: Sequence[SharedBath], load: PlannedLoad) -> tuple[ChosenBath | None, list[str]]:
    """The bath in service that takes and covers the load, else a spare, else none; with all that has to be said."""
    usable = [bath for bath in suiting if not _why_not(bath, load)]
    best = next((bath for bath in usable if bath.is_in_service), None) or next(iter(usable), None)
    warnings = []
    if best is None or not best.is_in_service:
        warnings = [f"{bath.name} {bath.code} {_why_not(bath, load)}" for bath in suiting if bath.is_in_service]
    if best is None:
        if warnings:
            warnings.append("There is no spare: mix fresh.")
        return None, warnings
    if not best.is_in_service:
        warnings.append(f"Use the spare {best.code}: ask for it to be put in service.")
    return ChosenBath(best, f"{_for_this(best, load)}{_less_than_planned(best, load)}"), warnings


def _why_not(bath: SharedBath, load: PlannedLoad) -> str:
    """What speaks against a bath for a load, as its name goes on; empty where nothing does."""
    if bath.life.state is State.EXHAUSTED:
        return "is exhausted: do not use it."
    if bath.life.fit(load=load.on_a_bath) is Fit.TOO_MUCH:
        return "has too little left for this: do not use it."
    if bath.level_ul < load.least_ul and show_volume(bath.level_ul) != show_volume(load.least_ul):
        return f"holds {show_volume(bath.level_ul)}, less than the {show_volume(load.working_ul)} you need."
    return ""


def _less_than_planned(bath: SharedBath, load: PlannedLoad) -> str:
    """That a bath holds less than is planned, though enough to cover the load; empty where it holds as much."""
    holds, planned = show_volume(bath.level_ul), show_volume(load.working_ul)
    if bath.level_ul >= load.working_ul or holds == planned:
        return ""
    return f" It holds {holds}, less than the {planned} planned, but covers this."


def _for_this(bath: SharedBath, load: PlannedLoad) -> str:
    """Say what the bath will have left after this load."""
    left = bath.life.remaining_pieces(size=load.size, material=load.material)
    if left is None:
        return "Whether it takes this load is not known: ask the technician."
    after = left - load.count
    if after <= 0:
        return f"Takes this load; then none of {load.size.key}."
    return f"Takes this load; then {after} more of {load.size.key}."


def _task(load: PlannedLoad) -> Task:
    """How the baths of a load are worked in."""
    if load.material is Material.FILM:
        return Task.TANK
    return Task.LARGE_PRINT if load.size.sides_mm and max(load.size.sides_mm) > _LARGE_MM else Task.TRAY


def _hardest_task(solutions: Iterable[Solution], load: PlannedLoad) -> Task:
    """The same, where a toner among the solutions asks for more."""
    return Task.TONING if any(solution.kind is SolutionKind.TONER for solution in solutions) else _task(load)


def _danger_rows(steps: Iterable[PlannedStep]) -> Iterable[DangerRow]:
    """Bottles to mix from, then solutions as used; each once, and only those about which something is to be told."""
    bottles, solutions = [], []
    for planned in steps:
        if (solution := planned.solution) is None:
            continue
        if planned.mix is not None:
            bottles.append(DangerRow(solution.product, True, solution.bottle))
        solutions.append(DangerRow(f"{solution.product} {solution.strength}", False, solution.working))
    return dict.fromkeys(row for row in chain(bottles, solutions) if row.dangers.told)


def _cautions(steps: Iterable[PlannedStep]) -> Iterable[str]:
    """Every caution once, headed by the steps that it is about, their mixing included."""
    about: dict[str, list[str]] = {}
    for planned in steps:
        if planned.solution is None:
            continue
        bottle = [planned.solution.bottle] if planned.mix is not None else []
        for caution in advice_on([planned.solution.working, *bottle], task=Task.BATH).cautions:
            about.setdefault(caution, []).append(planned.step.name)
    return (GLOVES_OFF if said == GLOVES_OFF else f"{', '.join(names)}: {said}" for said, names in about.items())
