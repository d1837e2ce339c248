"""How the coming weeks may go: what goes through a bath, when it ends, what is taken out of the store. Plain values.

In plain words: the coming weeks are played some hundred times. What is booked happens as it is booked. To that comes,
for each day on which the lab is open, what came on one of its past days of the same weekday, drawn at random: what was
not booked then, and what was booked beyond what is booked by now. One play in three is quieter than the past weeks
were, one is busier. A bath ends at the moment it has taken all it may, or is past its keeping time, whichever comes
first; its work goes on in a fresh one, mixed from the bottles that lapse first. The range is the middle of what came
out, with the earliest and the latest left off.

Source: worked by hand. Drawing from what was seen is the bootstrap of B. Efron, "Bootstrap methods: another look at the
jackknife", Annals of Statistics 7 (1979), 1-26, from memory. The figures below are the project's own, chosen on
simulated terms (`benchmarks/forecast.py`).
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random

from labsys.chemistry.bath_rules import BathFacts
from labsys.chemistry.life import Finding, Limit
from labsys.chemistry.sizes import UNIT_MM2, Load, Material

PLAYS = 240
AHEAD = timedelta(days=35)
LOOKED_BACK = timedelta(weeks=8)
LEAST_DAYS = 14  # of a line, before its usual work is known
LEAST_MEETINGS = 3  # of a class that nobody planned
LEAST_ALIKE = 3  # past days of one weekday; with fewer, every past day counts as alike
PACES = (0.7, 1.0, 1.4)  # a quieter, a usual and a busier time, each as likely
LEFT_OFF = 0.1  # of the plays, at either end of a range
MAY_FAIL = 0.02  # of the plays: with more it is not enough for certain, of a bath and of the store
FAILS = 0.5
_FULL = 1 - 1e-9  # shares are added up as floating numbers
_MOST_IN_A_DAY = 20  # fresh baths for one load, before the rest of it is let go
_SEED = 1897
_IN_ORDER = (Material.FILM, Material.RC, Material.FIBRE)

Shares = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Room:
    """What one rule leaves of a bath, as a share, and how much of it each square millimetre and each piece takes."""

    left: float
    per_mm2: tuple[float, float, float] = (0.0, 0.0, 0.0)  # film, RC, fibre
    per_piece: float = 0.0

    def taken_by(self, load: Load) -> float:
        """The share that a load takes."""
        film, rc, fibre = self.per_mm2
        return load.film_mm2 * film + load.rc_mm2 * rc + load.fibre_mm2 * fibre + load.pieces * self.per_piece


def rooms_of(facts: BathFacts, findings: Iterable[Finding]) -> tuple[Room, ...]:
    """What each rule that counts work leaves of a bath; a test counts by area and by pieces, whichever is stricter."""
    area, piece = _weights(facts)
    rooms = []
    for finding in findings:
        if finding.share_used is None or finding.limit is Limit.AGE:
            continue
        left = float(1 - finding.share_used)
        if finding.limit is not Limit.PIECES and any(area):
            rooms.append(Room(left, per_mm2=area))
        if finding.limit is not Limit.AREA and piece:
            rooms.append(Room(left, per_piece=piece))
    return tuple(rooms)


def fresh_rooms(facts: BathFacts) -> tuple[Room, ...]:
    """The same of a bath just mixed."""
    area, piece = _weights(facts)
    return (*((Room(1.0, per_mm2=area),) if any(area) else ()), *((Room(1.0, per_piece=piece),) if piece else ()))


def _weights(facts: BathFacts) -> tuple[tuple[float, float, float], float]:
    per_mm2 = [float(1 / capacity) if (capacity := facts.capacity_mm2(kind)) else 0.0 for kind in _IN_ORDER]
    pieces = facts.capacity_pieces
    return (per_mm2[0], per_mm2[1], per_mm2[2]), float(1 / pieces) if pieces else 0.0


def uncounted(facts: BathFacts, loads: Iterable[Load]) -> list[Material]:
    """Materials among loads that no capacity of a bath covers."""
    if facts.pieces is not None:
        return []
    coming = [kind for kind in _IN_ORDER if facts.capacity_mm2(kind) is None]
    seen = list(loads)
    return [kind for kind in coming if any(load.area_mm2(kind) for load in seen)]


@dataclass(frozen=True, slots=True)
class Happening:
    """Work that goes through a line: each of its loads as likely as the others.

    `is_usual` is what comes on such days, taken as more or less by how busy the time is. `booking_id` names a class.
    """

    at: datetime
    loads: tuple[Load, ...]
    is_usual: bool = False
    booking_id: int | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """A bath as it stands: what is left by each rule, until when it keeps, and what its successor is mixed from."""

    bath_id: int
    rooms: tuple[Room, ...]
    fresh: tuple[Room, ...]
    keeps_until: datetime | None
    keeps: timedelta | None
    spares: int = 0
    product_id: int | None = None
    amount: int = 0  # out of the bottle, for one as large


@dataclass(frozen=True, slots=True)
class ClassAhead:
    """How a bath does in one class: the share of the plays in which it fails, and what is left when it begins."""

    fails: float
    left_low: float
    left_high: float


@dataclass(frozen=True, slots=True)
class Range:
    """From when to when; None lies beyond what was looked at."""

    earliest: datetime | None
    latest: datetime | None


@dataclass(frozen=True)
class BathAhead:
    """What came out for one bath; `taken` are the amounts that its successors took, play by play."""

    ends: Range
    by_use: float  # the share of the plays that end within sight in which use ends it
    classes: Mapping[int, ClassAhead]
    taken: Sequence[Sequence[tuple[datetime, int]]]


def draws(happenings: Sequence[Happening], *, line_id: int, plays: int = PLAYS) -> list[list[int]]:
    """Which load of each happening comes in each play; the same for all baths of a line."""
    random = Random(f"{_SEED} {line_id}")  # noqa: S311 - so that equal facts give an equal forecast, not a secret
    sizes = [len(happening.loads) for happening in happenings]
    return [[int(random.random() * size) for size in sizes] for _ in range(plays)]


def bath_ahead(bath: Standing, happenings: Sequence[Happening], drawn: Sequence[Sequence[int]]) -> BathAhead:
    """Play the coming weeks of one bath, with its line's work in order of time."""
    shares = [[tuple(room.taken_by(load) for room in bath.rooms) for load in each.loads] for each in happenings]
    afresh = [[tuple(room.taken_by(load) for room in bath.fresh) for load in each.loads] for each in happenings]
    ends: list[datetime | None] = []
    by_use = 0
    seen: dict[int, list[float]] = {each.booking_id: [] for each in happenings if each.booking_id is not None}
    failed = dict.fromkeys(seen, 0)
    taken: list[list[tuple[datetime, int]]] = []
    for number, picks in enumerate(drawn):
        played = _Play(bath, PACES[number % len(PACES)])
        for happening, pick, of_this, of_fresh in zip(happenings, picks, shares, afresh, strict=True):
            booking_id = happening.booking_id
            if booking_id is not None:
                seen[booking_id].append(played.left(happening.at))
            fits = played.work(happening, of_this[pick], of_fresh[pick])
            if booking_id is not None and not fits:
                failed[booking_id] += 1
        ends.append(played.ended_at or bath.keeps_until)
        by_use += played.ended_at is not None and played.ended_at != bath.keeps_until
        taken.append(played.taken)
    ended = sum(end is not None for end in ends)
    return BathAhead(
        range_of(ends),
        by_use / ended if ended else 0.0,
        {
            key: ClassAhead(
                failed[key] / len(drawn), _quantile(sorted(left), LEFT_OFF), _quantile(sorted(left), 1 - LEFT_OFF)
            )
            for key, left in seen.items()
        },
        taken,
    )


@dataclass
class _Play:
    """One play of a bath and of those that take its place."""

    bath: Standing
    pace: float
    ended_at: datetime | None = None  # of the bath that stands now
    taken: list[tuple[datetime, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.room = [room.left for room in self.bath.rooms]
        self.keeps_until = self.bath.keeps_until
        self.spares = self.bath.spares

    def left(self, at: datetime) -> float:
        """The least share that the bath of now has left at an instant."""
        if self.ended_at is not None or (self.bath.keeps_until is not None and self.bath.keeps_until <= at):
            return 0.0
        return min(self.room, default=1.0)

    def work(self, happening: Happening, of_this: Shares, of_fresh: Shares) -> bool:
        """Put a load through. Returns whether the bath that stands now took it."""
        at, pace = happening.at, self.pace if happening.is_usual else 1.0
        if self.keeps_until is not None and self.keeps_until <= at:
            self._end(self.keeps_until)
            if not any(of_fresh):
                return False
            self._mix_again(at)
        is_first = self.ended_at is None
        shares = of_this if is_first else of_fresh
        self.room = [left - pace * share for left, share in zip(self.room, shares, strict=True)]
        least = min(self.room, default=1.0)
        fits = is_first and least >= _FULL - 1
        for _ in range(_MOST_IN_A_DAY):
            if least > 1 - _FULL:
                break
            self._end(at)
            over = max(0.0, -least)
            self._mix_again(at)
            self.room = [left - over for left in self.room]
            least = min(self.room, default=1.0)
        return fits

    def _end(self, at: datetime) -> None:
        self.ended_at = self.ended_at or at

    def _mix_again(self, at: datetime) -> None:
        self.room = [room.left for room in self.bath.fresh]
        self.keeps_until = None if self.bath.keeps is None else at + self.bath.keeps
        if self.spares:
            self.spares -= 1
        elif self.bath.amount:
            self.taken.append((at, self.bath.amount))


def range_of(instants: Sequence[datetime | None], *, early: float = LEFT_OFF) -> Range:
    """The middle of what came out, `early` left off before it; what did not happen within sight comes last."""
    known = sorted(instant for instant in instants if instant is not None)
    count = len(instants)
    first, last = math.floor(early * count), math.ceil((1 - LEFT_OFF) * count) - 1
    return Range(known[first] if first < len(known) else None, known[last] if last < len(known) else None)


def _quantile(ordered: Sequence[float], share: float) -> float:
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else 0.0


def pieces_left(share_left: float, rooms: Iterable[Room], piece: Load) -> int | None:
    """How many pieces go into a share that is left, by the rule that takes most for one; None where none weighs it."""
    takes = max((room.taken_by(piece) for room in rooms), default=0.0)
    return int(share_left / takes + 1e-6) if takes else None


def unit_of(material: Material) -> Load:
    """One roll of film, or one sheet of 8x10 in: the unit in which what is left is said."""
    return Load(**{f"{material}_mm2": UNIT_MM2}, pieces=1)


def units_in(load: Load) -> int:
    """A load in that unit."""
    return round((load.film_mm2 + load.paper_mm2) / UNIT_MM2)


# The store


@dataclass(frozen=True, slots=True)
class Bottled:
    """What is in one bottle, when it is past its date, and of a closed one how long it keeps once it is opened."""

    bottle_id: int
    amount: int
    lapses_at: datetime | None
    opened_for: timedelta | None = None

    def opened(self, at: datetime) -> datetime | None:
        """When it is past its date, opened at an instant."""
        ends = [end for end in (self.lapses_at, None if self.opened_for is None else at + self.opened_for) if end]
        return min(ends, default=None)


@dataclass(frozen=True)
class StoreAhead:
    """What came out for one product: when it runs short, when each bottle ends, and what is left at each day's end."""

    short: Range
    bottles: Mapping[int, Range]
    wanted: tuple[int, int]
    missing: int
    cover: Sequence[tuple[int, int]]


def store_ahead(
    bottles: Sequence[Bottled],
    taken: Sequence[Sequence[tuple[datetime, int]]],
    others: Sequence[int],
    days: Sequence[datetime],
    *,
    product_id: int,
) -> StoreAhead:
    """Play what is taken out of a product's bottles: the first to lapse first, none that is past its date.

    `taken` is what its baths take, play by play; `others` is what else was taken on each of the past days, of which one
    is drawn for each day to come; `days` are the ends of the days to come.
    """
    random = Random(f"{_SEED} {product_id}")  # noqa: S311 - as above
    order = sorted(
        bottles, key=lambda bottle: (bottle.lapses_at is None, bottle.lapses_at or days[0], bottle.bottle_id)
    )
    short: list[datetime | None] = []
    ends: dict[int, list[datetime | None]] = {bottle.bottle_id: [] for bottle in bottles}
    levels: list[list[int]] = [[] for _ in days]
    wanted, missing = [], []
    for of_baths in taken:
        other = [(day, random.choice(others) if others else 0) for day in days]
        due = sorted([*of_baths, *((day, amount) for day, amount in other if amount)])
        level = {bottle.bottle_id: bottle.amount for bottle in order}
        lapses = {bottle.bottle_id: bottle.lapses_at for bottle in order}
        ended: dict[int, datetime] = {}
        first_short, lacking, number = None, 0, 0
        for place, day in enumerate(days):
            while number < len(due) and due[number][0] <= day:
                at, amount = due[number]
                number += 1
                for bottle in order:
                    key = bottle.bottle_id
                    part = min(amount, level[key])
                    if not part or _is_past(lapses[key], at):
                        continue
                    if level[key] == bottle.amount:
                        lapses[key] = bottle.opened(at)
                    level[key] -= part
                    amount -= part
                    if not level[key]:
                        ended[key] = at
                if amount:
                    first_short, lacking = first_short or at, lacking + amount
            levels[place].append(sum(left for key, left in level.items() if not _is_past(lapses[key], day)))
        for key, instants in ends.items():
            instants.append(_first(ended.get(key), lapses[key], until=days[-1]))
        short.append(first_short)
        wanted.append(sum(amount for _, amount in due))
        missing.append(lacking)
    return StoreAhead(
        range_of(short, early=MAY_FAIL),  # a shortage is warned of as early as a bath that fails
        {key: range_of(instants) for key, instants in ends.items()},
        (_middle(wanted, LEFT_OFF), _middle(wanted, 1 - LEFT_OFF)),
        _middle(missing, 1 - LEFT_OFF),
        [(_middle(of_day, LEFT_OFF), _middle(of_day, 1 - LEFT_OFF)) for of_day in levels],
    )


def _is_past(lapses_at: datetime | None, at: datetime) -> bool:
    return lapses_at is not None and lapses_at <= at


def _first(emptied: datetime | None, lapses: datetime | None, *, until: datetime) -> datetime | None:
    instants = [instant for instant in (emptied, lapses) if instant is not None and instant <= until]
    return min(instants, default=None)


def _middle(amounts: Sequence[int], share: float) -> int:
    return int(_quantile(sorted(amounts), share))


# What comes on a usual day


@dataclass(frozen=True, slots=True)
class PastDay:
    """What went through a line on one past day, classes left out: booked, and not booked."""

    weekday: int
    booked: Load
    walked_in: Load


def usual_loads(past: Sequence[PastDay], *, weekday: int, booked: Load, share: float = 1.0) -> tuple[Load, ...]:
    """What may come on a day besides what is booked for it by now, from each past day like it.

    `share` is how much of the day is still to come.
    """
    alike = [day for day in past if day.weekday == weekday]
    if len(alike) < LEAST_ALIKE:
        alike = list(past)
    return tuple(_scaled(day.walked_in + _beyond(day.booked, booked), share) for day in alike) or (Load(),)


def scaled(load: Load, share: float) -> Load:
    """A share of a load."""
    return _scaled(load, share)


def _beyond(load: Load, booked: Load) -> Load:
    return _each(load, lambda name: max(0, getattr(load, name) - getattr(booked, name)))


def _scaled(load: Load, share: float) -> Load:
    return load if share == 1 else _each(load, lambda name: math.ceil(getattr(load, name) * share))


def _each(load: Load, amount: Callable[[str], int]) -> Load:
    return Load(**{name: amount(name) for name in ("film_mm2", "rc_mm2", "fibre_mm2", "pieces")})


def class_loads(planned: Load | None, past: Sequence[tuple[Load | None, Load]]) -> tuple[Load, ...] | None:
    """What a class may put through a line: as planned, more or less as its earlier meetings kept to their plans; else
    as its earlier meetings did. None where nobody planned it and it met too seldom to tell.

    `past` are its earlier meetings there: what was planned, where it was, and what it did.
    """
    if planned is not None:
        kept = [units_in(done) / units_in(plan) for plan, done in past if plan is not None and units_in(plan)]
        return tuple(_scaled(planned, share) for share in kept) if len(kept) >= LEAST_MEETINGS else (planned,)
    if len(past) < LEAST_MEETINGS:
        return None
    return tuple(done for _, done in past)
