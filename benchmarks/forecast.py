"""How well the forecast does on simulated terms, those it was tuned on and others it never saw.

    .venv/bin/python -m benchmarks.forecast [--seeds 101-110] [--chart FILE]

Each term is twelve weeks of an invented lab, by a seed of its own: a film line and a paper line, three classes a week,
people who book ahead, who book and do not come, and who walk in; quieter and busier weeks; bottles that run out. Nobody
heeds the forecast: a bath stands until it ends, also in the middle of a class. Each morning the forecast is worked out
by the lab's own code from what could be known then, and each range and each verdict is held beside what came.
"""

import argparse
import math
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from random import Random
from statistics import median
from zoneinfo import ZoneInfo

from labsys.baths.models import Batch, Bath, BathLine, Place, Work
from labsys.baths.rules import life
from labsys.bookings.models import Booking
from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.life import State
from labsys.chemistry.sizes import UNIT_MM2, Load, Material, load_of, size_of
from labsys.drawing.scene import Scene
from labsys.drawing.svg import to_svg
from labsys.forecast import drawn, rules
from labsys.forecast.drawn import Mark, Marked
from labsys.forecast.judging import Ending, outcome_of
from labsys.forecast.models import BathForecast, ClassForecast, Outcome, ProductForecast, Run, Verdict
from labsys.forecast.reading import Day, Facts, Logged
from labsys.forecast.working import work_out
from labsys.ledger.models import Vessel
from labsys.processes.models import Process
from labsys.products.models import AgeRule, CapacityRule, Product
from labsys.products.sheet import CapacityMeasure
from labsys.store.models import Bottle

TUNED_ON = range(1, 4)
UNSEEN = range(301, 309)
ZONE = ZoneInfo("UTC")
FIRST = date(2026, 1, 5)  # a Monday
WEEKS_BEFORE, WEEKS = 4, 12
OPENS, CLOSES = 10, 22
FILM, PAPER = 1, 2
BUY_AHEAD = timedelta(days=3)  # a warning of a shortage has to come so early: what is ordered takes as long


@dataclass(frozen=True)
class Kind:
    """A bath of the invented lab: what it takes, how long it keeps, what it is mixed from."""

    line_id: int
    place: Place
    litres: float
    product_id: int
    per_litre: int  # rolls, or sheets of 8x10 in
    days: float
    measure: CapacityMeasure = CapacityMeasure.AREA


# Invented, of the order of what data sheets give.
KINDS = (
    Kind(FILM, Place.DEVELOPER, 2.5, 1, 12, 30, CapacityMeasure.PIECES),
    Kind(FILM, Place.STOP, 2.5, 2, 20, 30),
    Kind(FILM, Place.FIXER, 2.5, 3, 20, 60),
    Kind(PAPER, Place.STOP, 3.0, 2, 40, 10),
    Kind(PAPER, Place.FIXER, 3.0, 3, 40, 7),
)
WATER_PARTS = {1: 6_000, 2: 19_000, 3: 4_000}
BOTTLE_UL = {1: 1_000_000, 2: 1_000_000, 3: 5_000_000}


@dataclass
class Visit:
    """Work that somebody, or a class, will really do; a booking for it is made ahead, or there is none."""

    at: datetime
    line_id: int
    person_id: int
    count: int
    class_name: str = ""
    booking: Booking | None = None
    booked_from: datetime | None = None


@dataclass
class Told:
    """One class, and what came of it: which baths failed, and what had been said of each the day before."""

    booking: Booking
    failed: list[Bath] = field(default_factory=list)
    lasted: list[Bath] = field(default_factory=list)


@dataclass
class Term:
    """What came of a simulated term."""

    seed: int
    ranges: Counter[Outcome] = field(default_factory=Counter)
    misses: list[str] = field(default_factory=list)
    widths: list[float] = field(default_factory=list)  # of the ranges with both ends. [d]
    marks: list[Mark] = field(default_factory=list)
    failures: int = 0
    warned: int = 0  # by the morning of the class
    day_before: int = 0
    needless: int = 0
    quiet: int = 0
    short: int = 0
    short_warned: int = 0

    def __iadd__(self, other: "Term") -> "Term":
        self.ranges += other.ranges
        self.misses += other.misses
        self.widths += other.widths
        for name in ("failures", "warned", "day_before", "needless", "quiet", "short", "short_warned"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        return self


class SimulatedLab:
    """An invented lab, played by a seed; nothing in it is drawn by the forecast's own code."""

    def __init__(self, seed: int) -> None:
        self.random = Random(f"term {seed}")  # noqa: S311 - a story, not a secret
        self.term = Term(seed)
        self.processes = {
            FILM: Process(id=1, name="Film", material=Material.FILM, steps=[]),
            PAPER: Process(id=2, name="Prints", material=Material.RC, steps=[]),
        }
        self.lines = {
            FILM: BathLine(id=FILM, name="Film line", work=Work.FILM, process_id=1),
            PAPER: BathLine(id=PAPER, name="Paper line", work=Work.PAPER, process_id=2),
        }
        self.products = {key: self._product(key) for key in WATER_PARTS}
        self.bottles = [self._bottle(key) for key in (1, 1, 2, 3)]
        self.logged: list[Logged] = []
        self.rows: list[tuple[Run, BathForecast]] = []
        self.said: dict[tuple[int, int], list[tuple[date, Verdict]]] = {}
        self.short: list[tuple[date, int, datetime | None]] = []
        self.ends: dict[int, datetime] = {}
        self.stands: dict[int, Bath] = {}
        self.all_baths: dict[int, Bath] = {}
        self.numbers = 0
        self.pace = 1.0
        start = FIRST - timedelta(weeks=WEEKS_BEFORE)
        for kind in range(len(KINDS)):
            self._mix(kind, _at(start, 9))
        self.visits = sorted(self._visits(start), key=lambda visit: visit.at)

    # What is there

    def _product(self, key: int) -> Product:
        of_kinds = [kind for kind in KINDS if kind.product_id == key]
        product = Product(id=key, name=f"Product {key}", powder_mg_per_l=None, ph_limit_milli=None)
        materials = {Work.FILM: (Material.FILM,), Work.PAPER: (Material.RC, Material.FIBRE)}
        for kind in of_kinds:
            for material in materials[Work.FILM if kind.line_id == FILM else Work.PAPER]:
                is_area = kind.measure is CapacityMeasure.AREA
                product.capacities.append(
                    CapacityRule(
                        water_parts_milli=WATER_PARTS[key],
                        material=material,
                        measure=kind.measure,
                        per_litre=kind.per_litre * (UNIT_MM2 if is_area else 1),
                        source="invented",
                    )
                )
            holding = Holding.TANK if kind.line_id == FILM else Holding.TRAY
            product.ages.append(AgeRule(holding=holding, hours=round(24 * kind.days), source="invented"))
        return product

    def _bottle(self, product_id: int) -> Bottle:
        self.numbers = getattr(self, "numbers", 0) + 1
        amount = BOTTLE_UL[product_id]
        return Bottle(id=self.numbers, product_id=product_id, vessel=Vessel(level=amount, capacity=amount))

    def _mix(self, kind: int, at: datetime) -> None:
        """Mix a bath afresh; where too little is in the store, that is a shortage, and bottles come at once."""
        spec = KINDS[kind]
        amount = round(spec.litres * 1_000_000 * 1_000 / (1_000 + WATER_PARTS[spec.product_id]))
        of_product = [bottle for bottle in self.bottles if bottle.product_id == spec.product_id]
        if sum(bottle.vessel.level for bottle in of_product) < amount:
            if at.date() >= FIRST:
                self.short.append((at.date(), spec.product_id, at))
            self.bottles.append(self._bottle(spec.product_id))
            of_product.append(self.bottles[-1])
        for bottle in of_product:
            part = min(amount, bottle.vessel.level)
            bottle.vessel.level -= part
            amount -= part
        if kind in self.stands:
            self.stands[kind].out_of_service_at = at
        self.numbers += 1
        bath = Bath(
            id=self.numbers,
            code=f"B{self.numbers}",
            name=f"{self.lines[spec.line_id].work} {spec.place}",
            product=self.products[spec.product_id],
            product_id=spec.product_id,
            water_parts_milli=WATER_PARTS[spec.product_id],
            holding=Holding.TANK if spec.line_id == FILM else Holding.TRAY,
            line=self.lines[spec.line_id],
            line_id=spec.line_id,
            place=spec.place,
            mixed_at=at,
            in_service_at=at,
            made_up_ul=round(spec.litres * 1_000_000),
            vessel=Vessel(level=round(spec.litres * 1_000_000), capacity=3_000_000),
            batches=[Batch(volume_ul=round(spec.litres * 1_000_000))],
            film_mm2=0,
            rc_mm2=0,
            fibre_mm2=0,
            pieces=0,
        )
        self.stands[kind] = self.all_baths[bath.id] = bath

    # What people do

    def _visits(self, start: date) -> Iterator[Visit]:
        """Everything that will happen: by the weekday, by quieter and busier weeks, and by chance."""
        usual = {FILM: (2.0, 1.2, 2.5, 1.2, 1.6, 3.0), PAPER: (1.5, 2.0, 1.0, 2.2, 1.0, 3.5)}
        scale = self.random.uniform(0.6, 1.3)
        pace, person = 1.0, 100
        for number in range(7 * (WEEKS_BEFORE + WEEKS)):
            day = start + timedelta(days=number)
            if day.weekday() == 0:
                pace = min(1.6, max(0.5, pace * math.exp(self.random.gauss(0, 0.22))))
            if day.weekday() == 6:
                continue
            for line_id, by_weekday in usual.items():
                for _ in range(_poisson(self.random, by_weekday[day.weekday()] * pace * scale)):
                    person += 1
                    yield from self._person(day, line_id, person)
            yield from self._classes(day)

    def _person(self, day: date, line_id: int, person: int) -> Iterator[Visit]:
        low, high = (1, 3) if line_id == FILM else (3, 16)
        count = self.random.randint(low, high)
        at = _at(day, self.random.randint(OPENS, CLOSES - 3))
        if self.random.random() < 0.55:
            booking = self._booking(at, line_id, person, count)
            booking.made_at = at - timedelta(days=self.random.choice((0.2, 1, 1, 2, 3, 5)))
            comes = self.random.random() >= 0.08
            count = max(1, count + self.random.choice((-1, 0, 0, 0, 1))) if comes else 0
            yield Visit(at + timedelta(hours=1), line_id, person, count, booking=booking, booked_from=booking.made_at)
        else:
            yield Visit(at + timedelta(hours=1), line_id, person, count)

    def _classes(self, day: date) -> Iterator[Visit]:
        told = {
            0: ("First film", FILM, 8, True),
            2: ("First prints", PAPER, 60, False),
            4: ("Film club", FILM, 6, True),
        }
        if day.weekday() not in told:
            return
        name, line_id, usual, is_planned = told[day.weekday()]
        at = _at(day, 18)
        booking = self._booking(at, line_id, 1, usual if is_planned else 0)
        booking.class_name, booking.made_at = name, _at(FIRST - timedelta(weeks=WEEKS_BEFORE), 9)
        came = max(1, round(usual * self.random.uniform(0.7, 1.15)))
        yield Visit(at + timedelta(hours=2), line_id, 1, came, name, booking, booking.made_at)

    def _booking(self, at: datetime, line_id: int, person: int, count: int) -> Booking:
        self.numbers += 1
        return Booking(
            id=self.numbers,
            person_id=person,
            class_name="",
            starts_at=at,
            ends_at=at + timedelta(hours=2),
            process=self.processes[line_id],
            planned_size=("120" if line_id == FILM else "8x10 in") if count else "",
            planned_count=count,
        )

    # Day by day

    def play(self) -> Term:
        """Play the term: each morning the forecast, then the day; at the end hold the one beside the other."""
        visits, classes = list(self.visits), []
        first, last = FIRST - timedelta(weeks=WEEKS_BEFORE), FIRST + timedelta(weeks=WEEKS)
        day = first
        while day < last:
            morning = _at(day, 9)
            self._replace_ended(morning)
            if day >= FIRST and day.weekday() != 6:
                self._forecast(morning)
            while visits and visits[0].at.date() == day:
                visit = visits.pop(0)
                told = self._work(visit)
                if told is not None and day >= FIRST:
                    classes.append(told)
            day += timedelta(days=1)
        self._judge(classes, now=_at(last, 9))
        return self.term

    def _replace_ended(self, at: datetime) -> None:
        for kind, bath in list(self.stands.items()):
            if (end := self._end_of(bath, at)) is not None:
                self.ends.setdefault(bath.id, end)
                self._mix(kind, at)

    def _end_of(self, bath: Bath, at: datetime) -> datetime | None:
        if bath.id in self.ends:
            return self.ends[bath.id]
        if life(bath, now=at).state is not State.EXHAUSTED:
            return None
        keeps = next(rule.hours for rule in bath.product.ages if rule.holding is bath.holding)
        return min(at, bath.mixed_at + timedelta(hours=keeps))

    def _work(self, visit: Visit) -> Told | None:
        """Put a visit's work through its line; a bath that ends in it is mixed anew at once."""
        size, material = ("120", Material.FILM) if visit.line_id == FILM else ("8x10 in", Material.RC)
        if not visit.count:
            return None
        load = load_of(size=size_of(key=size), material=material, count=visit.count)
        self.logged.append(Logged(visit.line_id, visit.person_id, visit.class_name, visit.at.date(), load))
        told = Told(visit.booking) if visit.class_name and visit.booking else None
        for kind, bath in list(self.stands.items()):
            if bath.line_id != visit.line_id:
                continue
            before = life(bath, now=visit.at)
            fits = before.state is not State.EXHAUSTED and not _over(bath, load)
            if told is not None:
                (told.lasted if fits else told.failed).append(bath)
            if before.state is State.EXHAUSTED:
                self.ends.setdefault(bath.id, self._end_of(bath, visit.at) or visit.at)
            for name in ("film_mm2", "rc_mm2", "fibre_mm2", "pieces"):
                setattr(bath, name, getattr(bath, name) + getattr(load, name))
            if bath.id not in self.ends and life(bath, now=visit.at).state is State.EXHAUSTED:
                self.ends[bath.id] = visit.at
            if not fits:
                self._mix(kind, visit.at)
        return told

    def _forecast(self, now: datetime) -> None:
        facts = self._facts(now)
        run = Run(made_at=now, day=now.date(), until=facts.until, basis="")
        for row in work_out(facts, run):
            if isinstance(row, BathForecast):
                self.rows.append((run, row))
            elif isinstance(row, ClassForecast) and row.bath_id is not None:
                self.said.setdefault((row.booking_id, row.bath_id), []).append((now.date(), row.verdict))
            elif isinstance(row, ProductForecast):
                self.term_short(now.date(), row)

    def term_short(self, day: date, row: ProductForecast) -> None:
        """Keep until when the store was said to last."""
        self.lasting = getattr(self, "lasting", {})
        self.lasting[day, row.product_id] = row.short_from

    def _facts(self, now: datetime) -> Facts:
        """What could be known on a morning."""
        begun = FIRST - timedelta(weeks=WEEKS_BEFORE)
        since = max(begun, now.date() - rules.LOOKED_BACK)
        past = [since + timedelta(days=number) for number in range((now.date() - since).days)]
        coming = [now.date() + timedelta(days=number) for number in range(rules.AHEAD // timedelta(days=1) + 1)]
        booked = [
            visit.booking for visit in self.visits if visit.booking and visit.booked_from and visit.booked_from <= now
        ]
        return Facts(
            now=now,
            zone=ZONE,
            lines=self.lines,
            baths=list(self.stands.values()),
            begun=dict.fromkeys(self.lines, begun),
            logged=self.logged,
            bookings=[booking for booking in booked if booking.starts_at < now + rules.AHEAD],
            processes={},
            bottles=[bottle for bottle in self.bottles if bottle.vessel.level],
            other_takings={},
            open_before=[day for day in past if day.weekday() != 6],
            days=[Day(day, _at(day, (OPENS + CLOSES) // 2), 1.0) for day in coming if day.weekday() != 6],
        )

    # Afterwards

    def _judge(self, classes: Sequence[Told], *, now: datetime) -> None:
        for run, row in self.rows:
            if row.why_not_known:
                continue
            bath = self.all_baths[row.bath_id]
            ending = Ending(self.ends.get(bath.id), None if bath.id in self.ends else bath.out_of_service_at)
            outcome = outcome_of(row.earliest_at, row.latest_at, ending, until=run.until, now=now, zone=ZONE)
            if outcome is None:
                continue
            self.term.ranges[outcome] += 1
            if row.earliest_at is not None and row.latest_at is not None:
                self.term.widths.append((row.latest_at - row.earliest_at) / timedelta(days=1))
            if outcome in (Outcome.BEFORE, Outcome.AFTER):
                said = " to ".join(f"{at:%-d %b}" if at else "later" for at in (row.earliest_at, row.latest_at))
                came = f"{ending.ended_at:%-d %b}" if ending.ended_at else "later"
                self.term.misses.append(f"{self.term.seed}: {bath.name} {bath.code}, {run.day:%-d %b}: {said}; {came}")
        for told in classes:
            self._judge_class(told)
        for day, product_id, at in self.short:
            self._judge_shortage(day, product_id, at)

    def _judge_class(self, told: Told) -> None:
        row = told.booking.class_name
        verdicts = {bath.id: self._said(told.booking, bath) for bath in (*told.failed, *told.lasted)}
        for bath in told.failed:
            self.term.failures += 1
            self.term.warned += verdicts[bath.id] is not Verdict.ENOUGH
            self.term.day_before += self._said(told.booking, bath, within=1) is not Verdict.ENOUGH
        for bath in told.lasted:
            needless = verdicts[bath.id] in (Verdict.NO, Verdict.PERHAPS)
            self.term.needless += needless
            self.term.quiet += not needless
        missed = any(verdicts[bath.id] is Verdict.ENOUGH for bath in told.failed)
        warned = any(verdict is not Verdict.ENOUGH for verdict in verdicts.values())
        if told.failed:
            marked = Marked.MISSED if missed else Marked.WARNED
        else:
            marked = Marked.NEEDLESS if warned else Marked.QUIET
        self.term.marks.append(Mark(told.booking.starts_at, row, marked))

    def _said(self, booking: Booking, bath: Bath, *, within: int = 0) -> Verdict:
        """The newest verdict of the same morning, or of so many days earlier; nothing said is no warning."""
        told = self.said.get((booking.id, bath.id), [])
        by = booking.starts_at.date() - timedelta(days=within)
        return ([Verdict.ENOUGH] + [verdict for day, verdict in told if day <= by])[-1]

    def _judge_shortage(self, day: date, product_id: int, at: datetime | None) -> None:
        told = [(on, short) for (on, key), short in self.lasting.items() if key == product_id and on <= day - BUY_AHEAD]
        if not told or at is None:
            return  # in the first days of the term nothing could have been said so early
        warned = told[-1][1] is not None and told[-1][1] <= at + timedelta(days=1)
        self.term.short += 1
        self.term.short_warned += warned
        self.term.marks.append(Mark(at, "The store runs short", Marked.WARNED if warned else Marked.MISSED))


def _over(bath: Bath, load: Load) -> bool:
    after = life(bath, now=bath.mixed_at).after(load=load)
    return any(finding.share_used is not None and finding.share_used > 1 for finding in after.findings)


def _at(day: date, hour: int) -> datetime:
    return datetime.combine(day, time(hour), UTC)


def _poisson(random: Random, mean: float) -> int:
    """Knuth's way: how many exponential steps fit into the mean (The Art of Computer Programming 2, from memory)."""
    limit, product, count = math.exp(-mean), random.random(), 0
    while product > limit:
        product *= random.random()
        count += 1
    return count


def run(seeds: Sequence[int], *, show: bool = True) -> tuple[Term, list[Term]]:
    """Play terms; print one line each and their sum."""
    terms = []
    for seed in seeds:
        terms.append(SimulatedLab(seed).play())
        if show:
            print(line(terms[-1], f"term {seed}"), flush=True)
    together = Term(0)
    for term in terms:
        together += term
    return together, terms


def line(term: Term, named: str) -> str:
    """A term in one line."""
    held, before, after = (term.ranges[outcome] for outcome in (Outcome.HELD, Outcome.BEFORE, Outcome.AFTER))
    judged = held + before + after
    share = 100 * held / max(1, judged)
    wide = median(term.widths or [0])
    lasted = term.needless + term.quiet
    return (
        f"{named:<10} ranges held {held}/{judged} = {share:.0f} % (before {before}, after {after}), half at most "
        f"{wide:.0f} days wide; failed in a class {term.failures}, warned of "
        f"{term.warned} by that morning, {term.day_before} by the day before; needless {term.needless}/"
        f"{lasted}; shortages warned of {term.short_warned}/{term.short}"
    )


def chart_of(term: Term) -> Scene:
    """The term as one drawing: each class and each shortage, and whether the lab was warned."""
    title = f"Simulated term {term.seed}: was the lab warned before a bath failed in a class, and before a shortage?"
    return drawn.record(
        term.marks, start=_at(FIRST, 0), end=_at(FIRST + timedelta(weeks=WEEKS), 0), zone=ZONE, title=title
    )


STYLE = (
    ".d-fill{stroke:none}.d-stroke{fill:none}.d-ink,.d-label,.d-liquid-plenty{--d:#221f1a}.d-paper{--d:#fff}"
    ".d-line{--d:#c9c4b8}.d-fill{fill:var(--d)}.d-stroke{stroke:var(--d)}svg{background:#fff;font-family:sans-serif}"
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--seeds", default="", metavar="FIRST-LAST", help="only these; else those tuned on and the unseen"
    )
    parser.add_argument("--chart", type=Path, metavar="FILE", help="draw the first term there, as SVG")
    parser.add_argument("--misses", action="store_true", help="list every range that did not hold")
    asked = parser.parse_args()
    if asked.seeds:
        first, _, last = asked.seeds.partition("-")
        groups = {"asked for": range(int(first), int(last or first) + 1)}
    else:
        groups = {"tuned on": TUNED_ON, "unseen": UNSEEN}
    for named, seeds in groups.items():
        together, terms = run(seeds)
        print(line(together, named))
        if asked.misses:
            print("\n".join(together.misses))
    if asked.chart:
        svg = str(to_svg(chart_of(terms[0]), name="term"))
        body = svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1).replace("<defs>", "<defs>", 1)
        asked.chart.write_text(body.replace("<title>", f"<style>{STYLE}</style><title>", 1) + "\n", encoding="utf-8")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
