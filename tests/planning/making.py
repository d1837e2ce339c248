"""A process and baths on plain values, as a plan is made from."""

from typing import Any

from labsys.baths.models import Place
from labsys.chemistry.bath_rules import AreaCapacity, BathFacts
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.dilution import Dilution
from labsys.chemistry.life import life_of
from labsys.chemistry.measuring import Cylinder, CylinderClass
from labsys.chemistry.sizes import UNIT_MM2, Load, Material, size_of
from labsys.planning.facts import Conditions, Dangers, PlannedLoad, ProcessFacts, SharedBath, Solution, Step
from labsys.planning.plan import SessionPlan, make_plan

SHELF = tuple(
    Cylinder(nominal, division, CylinderClass.B) for nominal, division in ((50, 1), (250, 2), (500, 5), (1000, 10))
)


def solution(kind: SolutionKind, water_parts: int, **changes: Any) -> Solution:
    fields: dict[str, Any] = {
        "product_id": list(SolutionKind).index(kind) + 1,
        "product": f"A {kind} concentrate",
        "kind": kind,
        "dilution": Dilution(water_parts),
        "usual_dilution": Dilution(water_parts),
        "cylinders": SHELF,
        "working": Dangers(sensitisers=("hydroquinone",)) if kind is SolutionKind.DEVELOPER else Dangers(),
    }
    return Solution(**{**fields, **changes})


LOADING = Step("Load the tank", in_the_dark=True)
DEVELOP = Step("Develop", solution(SolutionKind.DEVELOPER, 6), seconds=480, celsius=20, any_film=True)
STOP = Step("Stop", solution(SolutionKind.STOP, 19), seconds=60, celsius=20)
FIX = Step("Fix", solution(SolutionKind.FIXER, 4), seconds=300, celsius=20)
WASH = Step("Wash", seconds=480, celsius=20, changes=8)
RINSE = Step("Rinse", solution(SolutionKind.WETTING_AGENT, 99), seconds=60, celsius=20)
FILM = ProcessFacts(7, "Black-and-white film", Material.FILM, (LOADING, DEVELOP, STOP, FIX, WASH, RINSE))


def rolls(count: int = 5, *, working_ml: int = 2_500, size: str = "120") -> PlannedLoad:
    return PlannedLoad(size_of(key=size), Material.FILM, count, working_ml * 1_000)


def plan(process: ProcessFacts = FILM, *, load: PlannedLoad | None = None, **others: Any) -> SessionPlan:
    return make_plan(process=process, load=load or rolls(), **others)


def today(celsius: float | None = None, **others: float) -> Conditions:
    return Conditions(developer_celsius=celsius, **others)


def fixer(bath_id: int = 1, *, used_rolls: int = 0, in_service: bool = True, **changes: Any) -> SharedBath:
    """2.5 L of fixer 1+4 that takes 20 rolls a litre: 50 in all."""
    facts = BathFacts(
        materials=frozenset({Material.FILM}),
        total_ul=2_500_000,
        used=Load(film_mm2=used_rolls * UNIT_MM2, pieces=used_rolls),
        areas=(AreaCapacity(Material.FILM, 20 * UNIT_MM2, "a data sheet made up for the tests"),),
    )
    fields: dict[str, Any] = {
        "bath_id": bath_id,
        "code": f"AS-F{bath_id}",
        "name": "Film fixer",
        "line": "Film line",
        "process_id": None,
        "materials": frozenset({Material.FILM}),
        "place": Place.FIXER,
        "product_id": FIX.solution.product_id if FIX.solution else 0,
        "dilution": Dilution(4),
        "is_in_service": in_service,
        "life": life_of(facts=facts),
        "state": "Plenty",
        "level_ul": 2_500_000,
        "capacity_ul": 3_000_000,
    }
    return SharedBath(**{**fields, **changes})
