"""What the page of a plan and the session sheet show besides the figures: drawings, and whom and what it is for."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from labsys.baths.cards import LIQUID_OF
from labsys.bookings.words import place_and_time
from labsys.chemistry.sizes import MATERIAL_NAMES, Material
from labsys.drawing.graduate import graduate
from labsys.drawing.pictograms import Pictogram, pictogram
from labsys.drawing.scene import Scene
from labsys.people.models import Person
from labsys.planning.facts import PlannedLoad, SharedBath
from labsys.planning.queries import NeededInduction, Planned
from labsys.quantities import UL_PER_ML, show_volume


@dataclass(frozen=True)
class PlanPage:
    """A plan with its drawings: graduates by the number of the step, pictograms by their code."""

    planned: Planned
    load: str
    about: tuple[tuple[str, str], ...]
    is_own: bool
    graduates: Mapping[int, Scene]
    pictograms: Mapping[Pictogram, Scene]


def page_of(planned: Planned, *, viewer: Person, zone: ZoneInfo) -> PlanPage:
    """Draw what a plan shows, and say whom it is for."""
    plan = planned.plan
    return PlanPage(
        planned=planned,
        load=load_in_words(plan.load),
        about=tuple(_about(planned, zone=zone)),
        is_own=planned.person is not None and planned.person.id == viewer.id,
        graduates={step.number: graduate_of(step.bath.bath) for step in plan.steps if step.bath is not None},
        pictograms={code: pictogram(code) for row in plan.dangers for code in row.dangers.pictograms},
    )


def _about(planned: Planned, *, zone: ZoneInfo) -> Iterator[tuple[str, str]]:
    yield "For", called(planned) or "the name is left open"
    if planned.booking is not None:
        yield "Booked", place_and_time(planned.booking, zone=zone)
    yield "Load", " ".join([f"{load_in_words(planned.plan.load)}.", *planned.plan.load.notes])
    if planned.plan.process.note:
        yield "Process", planned.plan.process.note
    if planned.needs:
        yield "Inductions needed", "; ".join(need_in_words(need, planned) for need in planned.needs)


def called(planned: Planned) -> str:
    """Whom a plan is for, with the class where there is one; empty where the name is left open."""
    if planned.person is None:
        return ""
    group = planned.booking.class_name if planned.booking else ""
    return f"{planned.person.name}, {group}" if group else planned.person.name


def need_in_words(need: NeededInduction, planned: Planned) -> str:
    """An induction the work needs, and how the person stands with it where one is named."""
    if planned.person is None:
        return need.name
    return f"{need.name}: {'held' if need.missing is None else need.missing.state_for_others}"


def graduate_of(bath: SharedBath) -> Scene:
    """Draw a shared bath at its level."""
    return graduate(
        level_ml=bath.level_ul / UL_PER_ML, capacity_ml=bath.capacity_ul / UL_PER_ML, liquid=LIQUID_OF[bath.life.state]
    )


def load_in_words(load: PlannedLoad) -> str:
    """Say what is processed and in how much.

    >>> from labsys.chemistry.sizes import size_of
    >>> load_in_words(PlannedLoad(size_of(key="120"), Material.FILM, 5, 2_500_000))
    '5 of 120 in 2.5 L'
    >>> load_in_words(PlannedLoad(size_of(key="120"), Material.FILM, 5, 2_500_000, "Five-reel tank"))
    '5 of 120 in 2.5 L, Five-reel tank'
    """
    pieces = f"{load.count} of {load.size.key}"
    if load.material is not Material.FILM:
        pieces = f"{pieces} on {MATERIAL_NAMES[load.material]}"
    volume = show_volume(load.working_ul)
    return f"{pieces} in {volume}, {load.vessel}" if load.vessel else f"{pieces} in {volume}"
