"""What the pages of equipment show, worked out from how it stands."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from labsys.equipment import rules
from labsys.equipment.models import CheckKind, Equipment, EquipmentCheck
from labsys.equipment.queries import Standing
from labsys.equipment.rules import Due, Period
from labsys.hazards.retention import RecordKind, keep_until
from labsys.quantities import figure
from labsys.timetable.local_time import day_words, to_local


@dataclass(frozen=True)
class DueView:
    """One check of one piece, in words."""

    period: Period
    last: str
    next: str
    state: str
    is_late: bool
    source: str

    @property
    def check(self) -> CheckKind:
        return self.period.check


@dataclass(frozen=True)
class StandingView:
    """A piece and how it stands; `closed` says why what it serves is closed."""

    equipment: Equipment
    checks: tuple[DueView, ...]
    closed: str
    lapses: str

    @property
    def is_late(self) -> bool:
        return any(check.is_late for check in self.checks)


@dataclass(frozen=True)
class CheckView:
    """A check that was done, in words."""

    check: EquipmentCheck
    found: str
    particulars: tuple[tuple[str, str], ...] = ()
    kept_until: str = ""


def view_of(standing: Standing, *, now: datetime) -> StandingView:
    today = to_local(now, zone=standing.zone).date()
    closing = standing.closing(now)
    equipment = standing.equipment
    return StandingView(
        equipment,
        tuple(due_view(check, standing, today=today) for check in standing.checks),
        f"{closing[1]}." if closing else "",
        day_words(equipment.lapses_on) if equipment.lapses_on else "",
    )


def due_view(due: Due, standing: Standing, *, today: date) -> DueView:
    """When a check was last done, when it is due, and how it stands."""
    closes_on = due.closes_on(standing.grace_days)
    last = "never" if due.done_on is None else day_words(due.done_on)
    if due.is_failed:
        state = "failed"
    elif due.done_on is None:
        state = "never checked: not known"
    elif due.due_on < today:
        state = "overdue"
    else:
        state = ""
    is_late = due.is_failed or due.due_on < today
    if standing.equipment.serves and not due.is_failed and due.due_on < today < closes_on:
        state = f"{state}, closes on {day_words(closes_on)}"
    by_law = ", by law at most" if due.period.is_by_law else ""
    source = f"{due.period.every}{by_law}; {due.period.source}"
    return DueView(due.period, last, day_words(due.due_on), state, is_late, source)


def by_room(standings: Iterable[Standing], *, now: datetime) -> list[tuple[str, list[StandingView]]]:
    """Equipment under the room it serves, what serves none at the end."""
    views = sorted(
        (view_of(standing, now=now) for standing in standings),
        key=lambda view: (not room_of(view.equipment), room_of(view.equipment), view.equipment.name),
    )
    return [(room, list(of_room)) for room, of_room in groupby(views, key=lambda view: room_of(view.equipment))]


def room_of(equipment: Equipment) -> str:
    """The room a piece serves or whose place it serves; empty where it serves none."""
    if equipment.station is not None:
        return equipment.station.room.name
    return equipment.room.name if equipment.room is not None else ""


def check_view(check: EquipmentCheck, equipment: Equipment) -> CheckView:
    found = "passed" if check.has_passed else "failed"
    if check.error_micro is not None and check.doubt_micro is not None:
        unit = f" {rules.INSTRUMENTS[equipment.kind]}".rstrip()
        off = rules.off_micro(error_micro=check.error_micro, doubt_micro=check.doubt_micro)
        found = (
            f"{found}: off by {check.error_micro / rules.MICRO:+g}{unit}, by what is good to ± "
            f"{figure(check.doubt_micro, rules.MICRO)}{unit}; counts as ± {figure(off, rules.MICRO)}{unit}"
        )
    examination = check.examination
    if examination is None:
        return CheckView(check, found)
    kept = keep_until(RecordKind.EXTRACTION_TEST, counted_from=check.happened_on)
    particulars = (
        ("Whose plant", examination.employer),
        ("Which plant", examination.plant),
        ("Conditions", examination.conditions),
        ("Performance intended", examination.intended),
        ("Performance found", examination.found),
        ("How it was judged", examination.method),
        ("Repairs", examination.repairs or "none needed"),
        ("Examined by", examination.examiner),
    )
    return CheckView(check, found, particulars, day_words(kept) if kept else "")
