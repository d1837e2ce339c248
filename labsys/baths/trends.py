"""How the tests of a bath went: one drawing for each figure that was read, with the limits it is held to."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from flask import g

from labsys.baths.due import TEST_HEADS
from labsys.baths.models import Bath, Check, CheckKind
from labsys.baths.tested import fresh_clearing, in_order, limits_of
from labsys.chemistry.control_strips import density
from labsys.drawing.scene import Scene
from labsys.drawing.trend import Bound, Reading, trend
from labsys.timetable.local_time import to_local

FIGURES = {
    CheckKind.CLEARING_TIME: "Clearing time",
    CheckKind.PH: "pH",
    CheckKind.GRAVITY: "Gravity",
    CheckKind.SILVER: "Silver",
}
_UNITS = {CheckKind.CLEARING_TIME: " s", CheckKind.SILVER: " g/L"}


@dataclass(frozen=True)
class Trend:
    """One figure of a bath over time."""

    what: str
    scene: Scene


def trends(bath: Bath) -> list[Trend]:
    """The trends of a bath, in the order of its tests' kinds; a single reading is none yet, unless it has a limit."""
    checks = in_order(bath)
    return [*_of_figures(bath, checks), *_of_strips(checks)]


def _of_figures(bath: Bath, checks: Sequence[Check]) -> Iterator[Trend]:
    for kind in FIGURES:
        of_kind = [check for check in checks if check.kind is kind]
        if of_kind:
            points = [(check.checked_at, check.value, written(kind, check.value)) for check in of_kind]
            yield Trend(TEST_HEADS[kind], _drawn(TEST_HEADS[kind], points, list(bounds_of(bath, kind))))


def bounds_of(bath: Bath, kind: CheckKind) -> Iterator[Bound]:
    """The limits of a kind of test, the one that ends the bath first."""
    if kind is CheckKind.CLEARING_TIME and (fresh := fresh_clearing(bath)):
        yield Bound(2 * fresh.value, f"{2 * fresh.value:g} s: twice the fresh bath, exhausted")
    if kind is CheckKind.PH and bath.product.ph_limit_milli:
        highest = bath.product.ph_limit_milli / 1000
        yield Bound(highest, f"pH {highest:g}: exhausted")
    if kind in (CheckKind.GRAVITY, CheckKind.SILVER) and (limits := limits_of(bath, kind)):
        low, high, _ = limits
        yield Bound(high, f"at most {written(kind, high)}")
        if low:
            yield Bound(low, f"at least {written(kind, low)}")


def _of_strips(checks: Sequence[Check]) -> Iterator[Trend]:
    """How far control strips lay from their aim, point by point."""
    strips = [check for check in checks if check.points]
    for index, point in enumerate(strips[-1].points if strips else ()):
        off = [(strip.checked_at, strip.points[index].off / 1000) for strip in strips]
        bounds = [Bound(point.within / 1000, f"+{density(point.within)}")]
        if not point.is_over_only:
            bounds.append(Bound(-point.within / 1000, f"−{density(point.within)}"))
        what = f"Control strip, {point.name}: off its aim"
        yield Trend(what, _drawn(what, [(at, value, f"{value:+.2f}") for at, value in off], bounds))


def _drawn(name: str, points: Sequence[tuple[datetime, float, str]], bounds: Sequence[Bound]) -> Scene:
    begins, ends = points[0][0], points[-1][0]
    span = (ends - begins).total_seconds() or 1
    readings = [Reading((at - begins).total_seconds() / span, value, words) for at, value, words in points]
    told = ", ".join(f"{_day(at)} {words}" for at, _, words in points)
    limits = "; ".join(bound.words for bound in bounds)
    title = f"{name}: {told}" + (f". Limits: {limits}" if limits else "")
    return trend(readings=readings, bounds=bounds, first=_day(begins), last=_day(ends), title=title)


def written(kind: CheckKind, value: float) -> str:
    """A figure as it was read, with its unit."""
    return f"{value:.3f}" if kind is CheckKind.GRAVITY else f"{value:g}{_UNITS.get(kind, '')}"


def _day(instant: datetime) -> str:
    return f"{to_local(instant, zone=g.zone):%-d %b}"
