"""Wash plans side by side: what each leaves in the film, how long it takes, how much water it uses."""

from collections.abc import Sequence
from dataclasses import dataclass

from labsys.chemistry.errors import check_above, check_between
from labsys.chemistry.washing import (
    HALF_TIME_SECONDS,
    THIOSULFATE_IN_FIXER_G_PER_L,
    after_fills_g_per_l,
    in_running_water_g_per_m2,
    residue_g_per_m2,
)


@dataclass(frozen=True, slots=True)
class WashLoad:
    """What is to be washed: the water it holds and its surface. [mL, mm²]"""

    absorbed_ml: float
    surface_mm2: int
    start_g_per_l: float = THIOSULFATE_IN_FIXER_G_PER_L

    def __post_init__(self) -> None:
        check_above("absorbed_ml", self.absorbed_ml, 0, None, "mL")
        check_above("surface_mm2", self.surface_mm2, 0, None, "mm²")
        check_above("start_g_per_l", self.start_g_per_l, 0, 500, "g/L")


@dataclass(frozen=True, slots=True)
class FillPlan:
    """Fill, move, dump, and again. [mL, min]"""

    name: str
    fills: int
    fill_ml: float
    left_ml: float
    minutes_per_fill: float

    def __post_init__(self) -> None:
        check_between("fills", self.fills, 1, 100)
        check_above("fill_ml", self.fill_ml, 0, None, "mL")
        check_above("left_ml", self.left_ml, 0, None, "mL")
        check_between("minutes_per_fill", self.minutes_per_fill, 0, 60, "min")


@dataclass(frozen=True, slots=True)
class RunningPlan:
    """Running water that reaches the emulsion. [min, mL/min, s]"""

    name: str
    minutes: float
    flow_ml_per_min: float
    half_time_seconds: float = HALF_TIME_SECONDS

    def __post_init__(self) -> None:
        check_between("minutes", self.minutes, 0, 1440, "min")
        check_above("flow_ml_per_min", self.flow_ml_per_min, 0, None, "mL/min")


WashPlan = FillPlan | RunningPlan


@dataclass(frozen=True, slots=True)
class WashResult:
    """What a plan leaves and costs. [g/m², min, L]"""

    plan: WashPlan
    residue_g_per_m2: float
    minutes: float
    water_litres: float

    def passes(self, *, limit_g_per_m2: float) -> bool:
        """Return whether the residue is within a limit.

        Parameters:
            limit_g_per_m2: Thiosulfate that may stay, above 0. [g/m²]
        Returns:
            True up to and including the limit. [-]
        Raises:
            OutOfRange: A limit that is not above 0.
        Source:
            Comparison; for limits see `labsys.chemistry.washing`.
        """
        check_above("limit_g_per_m2", limit_g_per_m2, 0, None, "g/m²")
        return self.residue_g_per_m2 <= limit_g_per_m2


def wash_result(*, plan: WashPlan, load: WashLoad) -> WashResult:
    """Return what one plan leaves in the film, and its time and water.

    Parameters:
        plan: Fill and dump, or running water. [mL, min]
        load: What is to be washed. [mL, mm²]
    Returns:
        Residue, time and water. [g/m², min, L]
    Source:
        `after_fills_g_per_l` and `in_running_water_g_per_m2`; water is fills times volume, or flow times time.
    """
    match plan:
        case FillPlan():
            water = after_fills_g_per_l(
                start_g_per_l=load.start_g_per_l, left_ml=plan.left_ml, fill_ml=plan.fill_ml, fills=plan.fills
            )
            residue = residue_g_per_m2(water_g_per_l=water, absorbed_ml=load.absorbed_ml, area_mm2=load.surface_mm2)
            return WashResult(plan, residue, plan.fills * plan.minutes_per_fill, plan.fills * plan.fill_ml / 1000)
        case RunningPlan():
            start = residue_g_per_m2(
                water_g_per_l=load.start_g_per_l, absorbed_ml=load.absorbed_ml, area_mm2=load.surface_mm2
            )
            residue = in_running_water_g_per_m2(
                start_g_per_m2=start, minutes=plan.minutes, half_time_seconds=plan.half_time_seconds
            )
            return WashResult(plan, residue, plan.minutes, plan.flow_ml_per_min * plan.minutes / 1000)


def compare_washes(*, plans: Sequence[WashPlan], load: WashLoad, limit_g_per_m2: float) -> list[WashResult]:
    """Return the results of several plans, those that pass first, the least water first among them.

    Parameters:
        plans: The plans. [mL, min]
        load: What is to be washed. [mL, mm²]
        limit_g_per_m2: Thiosulfate that may stay, above 0. [g/m²]
    Returns:
        Results in order. [g/m², min, L]
    Source:
        `wash_result`.
    """
    results = [wash_result(plan=plan, load=load) for plan in plans]
    return sorted(results, key=lambda result: (not result.passes(limit_g_per_m2=limit_g_per_m2), result.water_litres))
