"""What a forecast is worked out from, read in a fixed number of queries: what stands, what is booked, what came."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import func, or_, select
from sqlalchemy.orm import aliased, joinedload

from labsys.baths import queries as baths
from labsys.baths.models import Batch, Bath, BathLine, Use, Work
from labsys.bookings.models import Booking
from labsys.chemistry.errors import CalculationError
from labsys.chemistry.sizes import SIZES, Load, Material, load_of, size_of
from labsys.courses.models import CourseProcess, Meeting
from labsys.database import DbSession
from labsys.forecast import rules
from labsys.labware import queries as labware
from labsys.labware.models import WorkingVessel
from labsys.ledger.models import Movement, Posting
from labsys.places import queries as places
from labsys.places.calendar import Opening
from labsys.planning.loads import PlanRefused
from labsys.planning.loads import planned_load as load_in
from labsys.processes.models import Process, ProcessStep
from labsys.products.rules import amounts, dilution_of_milli
from labsys.store import queries as store
from labsys.store.models import Bottle
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import day_span
from labsys.timetable.spans import Span

_MEETINGS_REMEMBERED = timedelta(days=365)


@dataclass(frozen=True)
class Day:
    """A day to come on which the lab is open: its middle, its end, and how much of it is still to come."""

    on: date
    middle: datetime
    share: float


@dataclass(frozen=True)
class Logged:
    """What somebody, or a class, put through a line, on a day of the lab."""

    line_id: int
    person_id: int
    class_name: str
    on: date
    load: Load


@dataclass(frozen=True)
class Facts:
    """All that is read for one forecast."""

    now: datetime
    zone: ZoneInfo
    lines: Mapping[int, BathLine]
    baths: Sequence[Bath]
    begun: Mapping[int, date]  # when the first bath of a line was mixed
    logged: Sequence[Logged]
    bookings: Sequence[Booking]
    processes: Mapping[int, Sequence[Process]]  # of a course, by the booking of its meeting
    bottles: Sequence[Bottle]
    other_takings: Mapping[int, Mapping[date, int]]  # out of a product's bottles, for no mixing of a bath
    open_before: Sequence[date]
    days: Sequence[Day]
    vessels: Sequence[WorkingVessel] = ()

    @property
    def today(self) -> date:
        return self.day_of(self.now)

    @property
    def until(self) -> datetime:
        return self.now + rules.AHEAD

    def day_of(self, instant: datetime) -> date:
        return to_local(instant, zone=self.zone).date()

    def days_known(self, line_id: int) -> int:
        """For how many days the usual work of a line has been seen."""
        return (self.today - self.begun[line_id]).days if line_id in self.begun else 0

    @property
    def ends_of_days(self) -> list[datetime]:
        count = rules.AHEAD // timedelta(days=1)
        return [day_span(self.today + timedelta(days=number), zone=self.zone).end for number in range(count)]


def read(session: DbSession, *, now: datetime, zone: ZoneInfo) -> Facts:
    """Read all of it."""
    since, until = now - rules.LOOKED_BACK, now + rules.AHEAD
    calendar = places.calendar(session, within=Span(since, until), zone=zone)
    opening = calendar.lab
    today = to_local(now, zone=zone).date()
    past = [today - timedelta(days=number) for number in range(rules.LOOKED_BACK // timedelta(days=1), 0, -1)]
    coming = [today + timedelta(days=number) for number in range(rules.AHEAD // timedelta(days=1) + 1)]
    begun = select(Bath.line_id, func.min(Bath.mixed_at)).group_by(Bath.line_id)
    return Facts(
        now=now,
        zone=zone,
        lines={line.id: line for line in baths.lines(session)},
        baths=[bath for bath in baths.baths_here(session) if not bath.is_waiting],
        begun={line_id: to_local(at, zone=zone).date() for line_id, at in session.execute(begun)},
        logged=list(_logged(session, since=since, now=now, zone=zone)),
        bookings=_bookings(session, since=now - _MEETINGS_REMEMBERED, recent=since, until=until),
        processes=_processes_of_courses(session, now=now),
        bottles=[bottle for bottle in store.bottles(session) if not bottle.is_quarantined],
        other_takings=_other_takings(session, since=since, zone=zone),
        open_before=[day for day in past if opening.on(day) or not opening.hours],
        days=list(_days(coming, opening, now=now)),
        vessels=labware.working_vessels(session, in_use_only=True),
    )


def _days(coming: Iterable[date], opening: Opening, *, now: datetime) -> Iterator[Day]:
    """The days that are open still; of a lab that has entered no hours every day."""
    for day in coming:
        spans = opening.on(day) if opening.hours else [day_span(day, zone=opening.zone)]
        whole = sum((span.end - span.start for span in spans), timedelta())
        left = [Span(max(span.start, now), span.end) for span in spans if span.end > now]
        if left:
            share = sum((span.end - span.start for span in left), timedelta()) / whole
            yield Day(day, left[0].start + (left[-1].end - left[0].start) / 2, share)


def _logged(session: DbSession, *, since: datetime, now: datetime, zone: ZoneInfo) -> Iterator[Logged]:
    """What went through the lines lately, and what classes did within a year; a corrected entry as it now stands."""
    newer = aliased(Use)
    of_class = (Use.class_name != "") & (Use.used_at >= now - _MEETINGS_REMEMBERED)
    query = select(Use.line_id, Use.person_id, Use.class_name, Use.used_at, Use.size, Use.material, Use.count).where(
        or_(Use.used_at >= since, of_class),
        Use.used_at <= now,
        Use.count > 0,
        ~select(newer.id).where(newer.corrects_id == Use.id).exists(),
    )
    for line_id, person_id, class_name, used_at, size, material, count in session.execute(query):
        load = load_of(size=size_of(key=size), material=material, count=count)
        yield Logged(line_id, person_id, class_name, to_local(used_at, zone=zone).date(), load)


def _bookings(session: DbSession, *, since: datetime, recent: datetime, until: datetime) -> list[Booking]:
    """What was booked lately or is to come, and the classes of a year."""
    stands = Booking.cancelled_at.is_(None), Booking.missed_at.is_(None)
    of_class = (Booking.class_name != "") & (Booking.starts_at >= since)
    query = (
        select(Booking)
        .where(*stands, or_(Booking.starts_at >= recent, of_class), Booking.starts_at < until)
        .options(joinedload(Booking.process))
        .order_by(Booking.starts_at, Booking.id)
    )
    return list(session.execute(query).scalars())


def _processes_of_courses(session: DbSession, *, now: datetime) -> dict[int, list[Process]]:
    query = (
        select(Meeting.booking_id, Process)
        .join(CourseProcess, CourseProcess.course_id == Meeting.course_id)
        .join(Process, Process.id == CourseProcess.process_id)
        .join(Booking, Booking.id == Meeting.booking_id)
        .where(Booking.ends_at > now)
    )
    of_booking: dict[int, list[Process]] = defaultdict(list)
    for booking_id, process in session.execute(query):
        if booking_id is not None:
            of_booking[booking_id].append(process)
    return of_booking


def _other_takings(session: DbSession, *, since: datetime, zone: ZoneInfo) -> dict[int, dict[date, int]]:
    """What left the bottles of each product on each day, but for the mixing of baths, which is forecast by itself."""
    first_batches = select(func.min(Batch.id)).group_by(Batch.bath_id)
    mixings = select(Batch.movement_id).where(Batch.id.in_(first_batches))
    undone = select(Movement.reverses_id).where(Movement.reverses_id.is_not(None))
    query = (
        select(Bottle.product_id, Movement.happened_at, Posting.amount)
        .join(Posting, Posting.vessel_id == Bottle.vessel_id)
        .join(Movement, Movement.id == Posting.movement_id)
        .where(Movement.happened_at >= since, Posting.amount < 0, Movement.reverses_id.is_(None))
        .where(Movement.id.not_in(mixings), Movement.id.not_in(undone))
    )
    takings: dict[int, dict[date, int]] = defaultdict(lambda: defaultdict(int))
    for product_id, happened_at, amount in session.execute(query):
        takings[product_id][to_local(happened_at, zone=zone).date()] -= amount
    return takings


# What goes through the lines


@dataclass(frozen=True)
class ClassWork:
    """What a class to come does in one line: its loads, each as likely, or why nobody knows."""

    booking: Booking
    loads: tuple[Load, ...]
    why_not_known: str = ""


@dataclass(frozen=True)
class LineWork:
    """What is to come of one line, in order of time, and why that is not known, where it is not."""

    happenings: tuple[rules.Happening, ...]
    classes: tuple[ClassWork, ...]
    why_not_known: str


def work_of_lines(facts: Facts) -> dict[int, LineWork]:
    """What goes through each line in the weeks to come."""
    on_day: dict[int, dict[tuple[date, int], Load]] = defaultdict(lambda: defaultdict(Load))
    of_classes: dict[tuple[int, str], dict[date, Load]] = defaultdict(lambda: defaultdict(Load))
    for logged in facts.logged:
        if logged.class_name:
            of_classes[logged.line_id, logged.class_name][logged.on] += logged.load
        else:
            on_day[logged.line_id][logged.on, logged.person_id] += logged.load
    booked_on = {(booking.person_id, facts.day_of(booking.starts_at)) for booking in facts.bookings}
    coming = [booking for booking in facts.bookings if booking.ends_at > facts.now and booking.left_at is None]
    return {
        line.id: _work_of(facts, line, on_day[line.id], booked_on, coming, of_classes) for line in facts.lines.values()
    }


def _work_of(
    facts: Facts,
    line: BathLine,
    on_day: Mapping[tuple[date, int], Load],
    booked_on: set[tuple[int, date]],
    coming: Sequence[Booking],
    of_classes: Mapping[tuple[int, str], Mapping[date, Load]],
) -> LineWork:
    past: dict[date, list[Load]] = {day: [Load(), Load()] for day in facts.open_before if _has_begun(facts, line, day)}
    for (day, person_id), load in on_day.items():
        if day in past:
            past[day][(person_id, day) not in booked_on] += load
    usual = [rules.PastDay(day.weekday(), *loads) for day, loads in past.items()]
    logged_today = {person_id for day, person_id in on_day if day == facts.today}
    booked = [
        (booking.starts_at, planned)
        for booking in coming
        if not booking.class_name and serves(line, booking.process, facts.lines)
        if not (facts.day_of(booking.starts_at) == facts.today and booking.person_id in logged_today)
        if (planned := planned_load(booking)) is not None
    ]
    of_day: dict[date, Load] = defaultdict(Load)
    for starts_at, load in booked:
        of_day[facts.day_of(starts_at)] += load
    classes = [
        work
        for booking in coming
        if booking.class_name and (work := _class_work(facts, line, booking, of_classes)) is not None
    ]
    happenings = [rules.Happening(max(at, facts.now), (load,)) for at, load in booked]
    happenings += [
        rules.Happening(
            day.middle,
            rules.usual_loads(usual, weekday=day.on.weekday(), booked=of_day[day.on], share=day.share),
            is_usual=True,
        )
        for day in facts.days
    ]
    happenings += [rules.Happening(work.booking.ends_at, work.loads, booking_id=work.booking.id) for work in classes]
    known = facts.days_known(line.id)
    why = "" if known >= rules.LEAST_DAYS else _too_little(line, known)
    return LineWork(tuple(sorted(happenings, key=lambda each: each.at)), tuple(classes), why)


def _has_begun(facts: Facts, line: BathLine, day: date) -> bool:
    return line.id in facts.begun and day >= facts.begun[line.id]


def _too_little(line: BathLine, known: int) -> str:
    seen = f"{known} of the {rules.LEAST_DAYS} days that are needed"
    return f"the usual work of {line.name} has been seen for {seen}"


def _class_work(
    facts: Facts, line: BathLine, booking: Booking, of_classes: Mapping[tuple[int, str], Mapping[date, Load]]
) -> ClassWork | None:
    """What a class does in a line; None where it does nothing there, or did already what it is booked for."""
    done = of_classes.get((line.id, booking.class_name), {})
    on = facts.day_of(booking.starts_at)
    if on == facts.today and on in done:
        return None
    processes = [*([booking.process] if booking.process else []), *facts.processes.get(booking.id, ())]
    is_here = any(serves(line, process, facts.lines) for process in processes)
    if not (is_here or (not processes and done)):
        return None
    plans = _plans_of(facts, booking.class_name)
    planned = planned_load(booking) if serves(line, booking.process, facts.lines) else None
    past = [(plans.get(day), load) for day, load in done.items() if day < facts.today]
    loads = rules.class_loads(planned, past)
    if loads is None:
        met = f"it has worked here {len(past)} times, {rules.LEAST_MEETINGS} are needed"
        return ClassWork(booking, (Load(),), f"nobody said what {booking.class_name} will do, and {met}")
    return ClassWork(booking, loads)


def _plans_of(facts: Facts, class_name: str) -> dict[date, Load]:
    return {
        facts.day_of(booking.starts_at): load
        for booking in facts.bookings
        if booking.class_name == class_name and (load := planned_load(booking)) is not None
    }


def mixed_afresh(facts: Facts) -> dict[int, list[tuple[datetime, int]]]:
    """What booked work takes out of bottles by itself, by product: each step that no bath in service serves.

    Where nobody said how much is done it is not known, and left out.
    """
    taken: dict[int, list[tuple[datetime, int]]] = defaultdict(list)
    for booking in facts.bookings:
        if booking.ends_at <= facts.now or booking.left_at is not None or planned_load(booking) is None:
            continue
        process, size = booking.process, SIZES[booking.planned_size]
        material = booking.planned_material or (process.material if process else None)
        if process is None or material is None:
            continue
        try:
            load = load_in(size=size, material=material, count=booking.planned_count, offered=facts.vessels)
        except (PlanRefused, CalculationError):
            continue
        for step in process.steps:
            if step.product is not None and not _is_served(facts, process, step):
                wanted = amounts(
                    dilution=dilution_of_milli(step.water_parts_milli or 0),
                    working_ul=load.working_ul,
                    powder_mg_per_l=step.product.powder_mg_per_l,
                )
                taken[step.product.id].append((max(facts.now, booking.starts_at), wanted.from_bottle))
    return taken


def _is_served(facts: Facts, process: Process, step: ProcessStep) -> bool:
    """Whether a shared bath stands for a step."""
    meant = (step.product_id, step.water_parts_milli or 0)
    return any(
        bath.is_in_service
        and (bath.product_id, bath.water_parts_milli) == meant
        and serves(bath.line, process, facts.lines)
        for bath in facts.baths
    )


def planned_load(booking: Booking) -> Load | None:
    """What a booking says it will put through, where it says so."""
    material = booking.planned_material or (booking.process.material if booking.process else None)
    size = SIZES.get(booking.planned_size)
    if material is None or size is None or not booking.planned_count or not size.is_made_in(material):
        return None
    return load_of(size=size, material=material, count=booking.planned_count)


def serves(line: BathLine, process: Process | None, lines: Mapping[int, BathLine]) -> bool:
    """Whether the work of a process goes through a line: its own where it has one, else those for any process."""
    if process is None:
        return False
    own = {each.id for each in lines.values() if each.process_id == process.id}
    if own:
        return line.id in own
    work = Work.FILM if process.material is Material.FILM else Work.PAPER
    return line.process_id is None and line.work is work
