"""The diary of a bath: its whole life as one ribbon, and the same entry by entry."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Protocol

from flask import Flask, current_app, g

from labsys.baths import rules
from labsys.baths.cards import dilution_in_words
from labsys.baths.models import Bath, Check, CheckKind, Place, Use, Work
from labsys.baths.tested import in_order, less
from labsys.baths.trends import FIGURES, bounds_of, written
from labsys.baths.use_pages import use_in_words
from labsys.chemistry.bath_rules import BathFacts
from labsys.chemistry.life import State, life_of
from labsys.chemistry.sizes import UNIT_MM2, Load, load_of, size_of
from labsys.database import DbSession
from labsys.drawing.diary import Ahead, Lane, Mark, Step, diary
from labsys.drawing.scene import Scene
from labsys.quantities import show_volume
from labsys.timetable.local_time import to_local

MOST_LOADS = 600  # newest ones, drawn and told one by one; what went through before counts as one
_MOST_DAYS_NAMED = 16
_ASKS = "labsys-foreseen-ends"


@dataclass(frozen=True)
class Foreseen:
    """When a bath is expected to end, between two moments: an estimate."""

    earliest: datetime
    latest: datetime
    words: str = "it ends here"


class Asks(Protocol):
    """Knows when a bath is expected to end; None where nobody can say."""

    def __call__(self, session: DbSession, bath: Bath, *, now: datetime) -> Foreseen | None: ...


def register_foreseen(app: Flask, asks: Asks) -> None:
    """Hand in, at the start, who knows when a bath is expected to end: a room below this one."""
    app.extensions[_ASKS] = asks


def foreseen_end(session: DbSession, bath: Bath, *, now: datetime) -> Foreseen | None:
    """When a bath that stands is expected to end, where anybody can say."""
    asks: Asks | None = current_app.extensions.get(_ASKS)
    return asks(session, bath, now=now) if asks and bath.dumped_at is None else None


@dataclass(frozen=True)
class Entry:
    """One line of the diary as a table; `use_id` where it is a use with a page of its own."""

    at: datetime
    what: str
    who: str = ""
    left: str = ""
    use_id: int | None = None


@dataclass(frozen=True)
class Diary:
    """The ribbon, and its entries with the newest first."""

    scene: Scene
    entries: tuple[Entry, ...]


@dataclass(frozen=True)
class _Told:
    """What happened to a bath, as the ribbon and the table see it."""

    entry: Entry
    mark: Mark | None = None  # above the ribbon; `at` is filled in when the time drawn is known
    load: Load | None = None
    made_up_ul: int = 0


@dataclass(frozen=True)
class _Left:
    """What was left by what went through, from a moment on; `counts` is False while nothing counted."""

    begins: datetime
    share: float | None
    is_near_end: bool
    counts: bool


def diary_of(bath: Bath, uses: Sequence[Use], *, now: datetime, foreseen: Foreseen | None = None) -> Diary:
    """Draw and tell the life of a bath. `uses` are the newest, those that were corrected left out."""
    if foreseen is not None and foreseen.latest <= now:
        foreseen = None  # what should have come by now is no forecast any more
    told = sorted([*_happenings(bath), *_loads(uses)], key=lambda each: each.entry.at)
    over = bath.dumped_at or now
    ends = max(over, foreseen.latest) if foreseen else over
    span = max(ends - bath.mixed_at, timedelta(hours=1))

    def at(instant: datetime) -> float:
        return min(1.0, max(0.0, (instant - bath.mixed_at) / span))

    lefts = list(_lefts(bath, told))
    untils = [left.begins for left in lefts[1:]] + [over]
    steps = [
        Step(at(left.begins), at(until), left.share, is_near_end=left.is_near_end, counts=left.counts)
        for left, until in zip(lefts, untils, strict=True)
        if until > left.begins
    ]
    scene = diary(
        steps=steps,
        done=[Mark(at(each.entry.at), each.mark.words, each.mark.detail) for each in told if each.mark],
        loads=[Mark(at(each.entry.at), f"{each.load.pieces}") for each in told if each.load],
        days=[Mark(at(day), words) for day, words in _days(bath.mixed_at, bath.mixed_at + span)],
        full=_full(bath),
        what_goes_through="Rolls" if bath.line.work is Work.FILM else "Sheets",
        lane=_lane(bath, at),
        now=None if bath.dumped_at else at(now),
        ahead=_ahead(foreseen, lefts[-1].share, now, at),
        title=f"The diary of {bath.name} {bath.code}; the table below says the same",
    )
    left_at = {left.begins: _percent(left.share) if left.counts else "" for left in lefts}
    tests = [Entry(check.checked_at, check.finding, check.checked_by.name) for check in bath.checks]
    entries = [Entry(**{**asdict(each.entry), "left": left_at.get(each.entry.at, "")}) for each in told]
    newest_first = sorted([*entries, *tests], key=lambda entry: entry.at, reverse=True)
    return Diary(scene, tuple(newest_first))


def _ahead(
    foreseen: Foreseen | None, left: float | None, now: datetime, at: Callable[[datetime], float]
) -> Ahead | None:
    """What is foreseen, from what is left; None where either is not known."""
    if foreseen is None or left is None:
        return None
    return Ahead(at(max(foreseen.earliest, now)), at(foreseen.latest), left, foreseen.words)


def _happenings(bath: Bath) -> Iterator[_Told]:
    first, *more = bath.batches
    mixed = f"{show_volume(first.volume_ul)} of {dilution_in_words(bath.water_parts_milli)}"
    who = first.mixed_by.name
    yield _Told(Entry(bath.mixed_at, f"Mixed: {mixed}", who), Mark(0, "Mixed", mixed), made_up_ul=first.volume_ul)
    for batch in more:
        volume = show_volume(batch.volume_ul)
        entry = Entry(batch.mixed_at, f"Replenished: {volume}", batch.mixed_by.name)
        yield _Told(entry, Mark(0, "Replenished", volume), made_up_ul=batch.volume_ul)
    if bath.in_service_at and bath.in_service_at > bath.mixed_at:
        yield _Told(Entry(bath.in_service_at, "Put in service"), Mark(0, "In service"))
    if bath.rotation:
        yield _Told(Entry(bath.rotation.rotated_at, "Rotated to the first place"), Mark(0, "Rotated to first"))
    if bath.out_of_service_at:
        yield _Told(Entry(bath.out_of_service_at, "Another took its place"), Mark(0, "Out of service"))
    if bath.dumped_at:
        yield _Told(Entry(bath.dumped_at, "Dumped"), Mark(0, "Dumped"))


def _loads(uses: Sequence[Use]) -> Iterator[_Told]:
    for use in uses:
        who = f"{use.person.name}, for {use.class_name}" if use.class_name else use.person.name
        load = load_of(size=size_of(key=use.size), material=use.material, count=use.count)
        yield _Told(Entry(use.used_at, use_in_words(use), who, use_id=use.id), load=load)


def _lefts(bath: Bath, told: Sequence[_Told]) -> Iterator[_Left]:
    """What was left from each moment that something happened."""
    shown = sum((each.load for each in told if each.load), Load())
    used, made_up = less(bath.used, shown), 0
    areas, pieces = rules.capacities_of(bath)
    was_second = bath.place is Place.SECOND_FIXER or bath.rotation is not None
    for each in told:
        used += each.load or Load()
        made_up += each.made_up_ul
        counts = not was_second or (bath.rotation is not None and each.entry.at >= bath.rotation.rotated_at)
        counted = less(used, bath.rotation.used) if bath.rotation else used
        facts = BathFacts(
            materials=frozenset(bath.line.work.materials),
            total_ul=made_up or bath.made_up_ul,
            used=counted if counts else Load(),
            areas=areas,
            pieces=pieces,
        )
        life = life_of(facts=facts)
        left = None if life.share_left is None else float(life.share_left)
        yield _Left(each.entry.at, left, life.state is State.NEAR_ITS_END, counts)


def _lane(bath: Bath, at: Callable[[datetime], float]) -> Lane | None:
    """The tests of the first kind that gives figures."""
    by_kind: dict[CheckKind, list[Check]] = {kind: [] for kind in FIGURES}
    for check in in_order(bath):
        if check.kind in by_kind:
            by_kind[check.kind].append(check)
    kind = next((kind for kind, checks in by_kind.items() if checks), None)
    if kind is None:
        return None
    bound = next(iter(bounds_of(bath, kind)), None)
    values = [check.value for check in by_kind[kind]] + ([bound.value] if bound else [])
    low, high = min(values), max(values)

    def share(value: float) -> float:
        return 0.0 if high == low else (value - low) / (high - low)

    tests = tuple((at(check.checked_at), share(check.value), written(kind, check.value)) for check in by_kind[kind])
    name = "Clearing" if kind is CheckKind.CLEARING_TIME else FIGURES[kind]
    return Lane(name, tests, (share(bound.value), bound.words) if bound else None)


def _days(start: datetime, end: datetime) -> Iterator[tuple[datetime, str]]:
    """The days to name below: each, or every so many that there are not too many."""
    first = to_local(start, zone=g.zone).replace(hour=0, minute=0, second=0, microsecond=0)
    every = math.ceil(((end - start).days + 1) / _MOST_DAYS_NAMED)
    day = first
    while day <= end:
        if day >= start:
            yield day, f"{day:%-d %b}"
        day += timedelta(days=every)


def _full(bath: Bath) -> str:
    """What the whole bath takes, in rolls or sheets of the first of its capacities; empty where none is set."""
    areas, pieces = rules.capacities_of(bath)
    litres = bath.made_up_ul / 1_000_000
    if areas:
        return f"{areas[0].mm2_per_litre * litres / UNIT_MM2:.0f}"
    return f"{float(pieces.pieces_per_litre) * litres:.0f}" if pieces else ""


def _percent(left: float | None) -> str:
    return "not known" if left is None else f"{left:.0%}".replace("%", " %")
