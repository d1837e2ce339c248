"""What a lab puts through and throws away by day, month and year: the sums that rules of a nation or a town ask for.

Area is counted once, whatever baths it went through. Waste counts as hazardous by its code, by silver from 5 mg/L on,
and where nobody knows what it was. Its mass is an estimate, between that of water and that of the concentrate in it.

Source:
    5 mg/L: 40 CFR 261.24 (D011). A concentrate of which no density is stated weighs up to 1.35 kg/L: from memory.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import Integer, and_, column, func, select, values
from sqlalchemy.orm import aliased, joinedload

from labsys.baths.models import BathLine, Use, Work
from labsys.chemistry.sizes import Material
from labsys.database import DbSession, UtcDateTime
from labsys.hazards.amounts import AmountRule, Counted, Reached
from labsys.products.models import Product
from labsys.quantities import UL_PER_L
from labsys.timetable.local_time import to_local
from labsys.timetable.period import Period
from labsys.waste.models import Collection, CollectionLine, Discharge, Pour, WasteContainer, WasteStream
from labsys.waste.queries import COUNTS

HEADS = (
    "Month",
    "Film, m²",
    "Paper, m²",
    "Busiest day",
    "That day, m²",
    "Discharged, L",
    "Collected, L",
    "By the carrier, kg",
    "Hazardous waste, kg, at least",
    "At most",
)
_HAZARDOUS_SILVER_MG_PER_L = 5
_HEAVIEST_CONCENTRATE = 1.35  # [kg/L]
_SPENT_FIXER = ("09 01 04*", "09 01 05*")
_PAPER = (Material.RC, Material.FIBRE)


@dataclass(frozen=True, slots=True)
class Range:
    """A sum known between two ends; both the same where it is known."""

    low: float = 0.0
    high: float = 0.0

    def __add__(self, other: "Range") -> "Range":
        return Range(self.low + other.low, self.high + other.high)


@dataclass
class MonthAmounts:
    """The sums of one month: areas by day, litres that left, kilograms of hazardous waste poured and collected."""

    first_day: date
    film_mm2: int = 0
    paper_mm2: int = 0
    by_day_mm2: dict[date, int] = field(default_factory=dict)
    discharged_ul: int = 0
    collected_ul: int = 0
    carrier_mg: int | None = None
    hazardous_kg: Range = field(default_factory=Range)

    @property
    def area_m2(self) -> float:
        return (self.film_mm2 + self.paper_mm2) / 1e6

    @property
    def busiest(self) -> tuple[date, float] | None:
        """The day with the largest area, and that. [m²]"""
        return _largest(self.by_day_mm2, 1e6)

    @property
    def cells(self) -> tuple[str, ...]:
        """The row under `HEADS`."""
        busiest = self.busiest
        return (
            f"{self.first_day:%B %Y}",
            f"{self.film_mm2 / 1e6:.3f}",
            f"{self.paper_mm2 / 1e6:.3f}",
            f"{busiest[0]:%-d %b}" if busiest else "",
            f"{busiest[1]:.3f}" if busiest else "",
            f"{self.discharged_ul / UL_PER_L:.2f}",
            f"{self.collected_ul / UL_PER_L:.2f}",
            "" if self.carrier_mg is None else f"{self.carrier_mg / 1e6:.1f}",
            f"{self.hazardous_kg.low:.2f}",
            f"{self.hazardous_kg.high:.2f}",
        )


@dataclass(frozen=True)
class YearAmounts:
    """The months of a year as far as it has come, and the spent fixer of each day on which some was thrown away."""

    months: tuple[MonthAmounts, ...]
    fixer_by_day_ul: Mapping[date, int]

    @property
    def area_m2(self) -> float:
        return sum(month.area_m2 for month in self.months)

    def counted(self, what: Counted) -> tuple[Range, str]:
        """What a rule adds up, in its own unit, and the day or month it was reached on, in words."""
        match what:
            case Counted.AREA_YEAR:
                return Range(self.area_m2, self.area_m2), "this year"
            case Counted.HAZARDOUS_YEAR:
                return sum((month.hazardous_kg for month in self.months), Range()), "this year"
            case Counted.HAZARDOUS_MONTH:
                worst = max(self.months, key=lambda month: month.hazardous_kg.high)
                return worst.hazardous_kg, f"in {worst.first_day:%B}, the month with most"
            case Counted.AREA_DAY:
                by_day = {day: area for month in self.months for day, area in month.by_day_mm2.items()}
                return _on_a_day(_largest(by_day, 1e6))
            case Counted.FIXER_DAY:
                return _on_a_day(_largest(self.fixer_by_day_ul, UL_PER_L))


@dataclass(frozen=True, slots=True)
class AgainstRule:
    """How the sums of a year stand to one rule."""

    rule: AmountRule
    sum: Range
    when: str

    @property
    def reached(self) -> Reached:
        return self.rule.reached(low=self.sum.low, high=self.sum.high)

    @property
    def share(self) -> float:
        """The higher end against the limit, as far as a bar shows it."""
        return min(1.0, self.sum.high / self.rule.limit)


def against(year: YearAmounts, rules: Iterable[AmountRule]) -> list[AgainstRule]:
    """Hold the sums of a year against rules."""
    return [AgainstRule(rule, *year.counted(rule.counted)) for rule in rules]


def year_amounts(session: DbSession, year: int, *, today: date, zone: ZoneInfo) -> YearAmounts:
    """Add up a year of the lab's own calendar, no further than today; four statements."""
    last = min(today, date(year, 12, 31))
    months = {number: MonthAmounts(date(year, number, 1)) for number in range(1, last.month + 1)}
    fixer: dict[date, int] = defaultdict(int)
    start, end = Period(date(year, 1, 1), last).instants(zone=zone)
    for day, material, area in _areas(session, Period(date(year, 1, 1), last), zone):
        month = months[day.month]
        month.by_day_mm2[day] = month.by_day_mm2.get(day, 0) + area
        if material in _PAPER:
            month.paper_mm2 += area
        else:
            month.film_mm2 += area
    for pour, stream_code in _pours(session, start, end):
        day = to_local(pour.poured_at, zone=zone).date()
        if is_hazardous(pour, stream_code):
            months[day.month].hazardous_kg += mass_kg(pour)
        if pour.waste_code in _SPENT_FIXER:
            fixer[day] += pour.volume_ul
    for discharge in _discharges(session, start, end):
        day = to_local(discharge.discharged_at, zone=zone).date()
        months[day.month].discharged_ul += discharge.volume_ul
        if discharge.waste_code in _SPENT_FIXER:
            fixer[day] += discharge.volume_ul
    for line in _collected(session, start, end):
        month = months[to_local(line.collection.collected_at, zone=zone).month]
        month.collected_ul += line.book_ul if line.carrier_ul is None else line.carrier_ul
        if line.weight_mg is not None:
            month.carrier_mg = (month.carrier_mg or 0) + line.weight_mg
    return YearAmounts(tuple(months.values()), fixer)


def first_year(session: DbSession, *, zone: ZoneInfo) -> int | None:
    """The year of the first use that was logged; None before there is one."""
    earliest = session.execute(select(func.min(Use.used_at))).scalar()
    return to_local(earliest, zone=zone).year if earliest else None


def is_hazardous(pour: Pour, stream_code: str) -> bool:
    """Whether what was poured counts as hazardous waste; what is not known does."""
    silver = pour.silver_high_mg * UL_PER_L / pour.volume_ul
    return pour.kind is None or "*" in pour.waste_code + stream_code or silver >= _HAZARDOUS_SILVER_MG_PER_L


def mass_kg(pour: Pour) -> Range:
    """What a pour weighs: as water at least, and at most with the heaviest its concentrate may be."""
    litres = pour.volume_ul / UL_PER_L
    water_parts = (pour.water_parts_milli or 0) / 1000
    heaviest = (_concentrate(pour.product) + water_parts) / (1 + water_parts)
    return Range(litres, litres * max(1.0, heaviest))


def _concentrate(product: Product | None) -> float:
    """The most that a litre of a product as supplied weighs. [kg/L]"""
    stated = product and (product.density_high_mg_per_ml or product.density_mg_per_ml)
    return stated / 1000 if stated else _HEAVIEST_CONCENTRATE


def _areas(session: DbSession, period: Period, zone: ZoneInfo) -> Iterable[tuple[date, Material, int]]:
    """The area of each day and material; what was toned was counted when it was printed."""
    first, count = period.first, (period.last - period.first).days + 1
    begins = [
        datetime.combine(first + timedelta(days=number), time.min, tzinfo=zone).astimezone(UTC)
        for number in range(count + 1)
    ]
    days = (
        values(column("number", Integer), column("begins", UtcDateTime), column("ends", UtcDateTime), name="days")
        .data([(number, begins[number], begins[number + 1]) for number in range(count)])
        .cte("days")
    )
    newer = aliased(Use)
    query = (
        select(days.c.number, Use.material, func.sum(Use.area_mm2))
        .select_from(days)
        .join(Use, and_(Use.used_at >= days.c.begins, Use.used_at < days.c.ends))
        .join(BathLine, BathLine.id == Use.line_id)
        .where(Use.count > 0, BathLine.work != Work.TONING)
        .where(~select(newer.id).where(newer.corrects_id == Use.id).exists())
        .group_by(days.c.number, Use.material)
    )
    for number, material, area in session.execute(query):
        yield first + timedelta(days=number), material, int(area)


def _pours(session: DbSession, start: datetime, end: datetime) -> list[tuple[Pour, str]]:
    """What was poured into containers and counts, each with the code of its container's stream."""
    query = (
        select(Pour, WasteStream.code)
        .join(WasteContainer, WasteContainer.id == Pour.container_id)
        .join(WasteStream)
        .where(Pour.poured_at >= start, Pour.poured_at < end, COUNTS)
        .options(joinedload(Pour.product))
    )
    return [(pour, code) for pour, code in session.execute(query)]


def _discharges(session: DbSession, start: datetime, end: datetime) -> Iterable[Discharge]:
    query = select(Discharge).where(Discharge.discharged_at >= start, Discharge.discharged_at < end)
    return session.execute(query).scalars()


def _collected(session: DbSession, start: datetime, end: datetime) -> Iterable[CollectionLine]:
    within = Collection.collected_at >= start, Collection.collected_at < end
    query = select(CollectionLine).join(Collection).where(*within).options(joinedload(CollectionLine.collection))
    return session.execute(query).scalars()


def _largest(by_day: Mapping[date, int], per_unit: float) -> tuple[date, float] | None:
    if not by_day:
        return None
    day = max(by_day, key=lambda each: by_day[each])
    return day, by_day[day] / per_unit


def _on_a_day(largest: tuple[date, float] | None) -> tuple[Range, str]:
    if largest is None:
        return Range(), "on any day"
    day, amount = largest
    return Range(amount, amount), f"on {day:%-d %B}, the busiest day"
