"""Who put what through the lines of baths in a period: sums over the uses, a corrected one as it now stands.

An entry counts once however many baths it went through, so that what one line took here is what each of its baths took
while it stood in service. A class's work stands under who taught it, by the name of the class.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from operator import attrgetter
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import ColumnElement, Float, Select, case, cast, func, select, tuple_
from sqlalchemy.orm import aliased

from labsys.baths.models import Bath, BathLine, Place, Use, UseBath, Work
from labsys.chemistry.sizes import MATERIAL_NAMES, SIZES, UNIT_MM2, Material
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.processes.models import Process
from labsys.quantities import UL_PER_L
from labsys.records.errors import NotFound
from labsys.timetable.period import Period

NAMES = ("Person", "Line", "Process", "Material")
FIGURES = ("Uses", "Rolls", "Sheets", "Area, m²", "Area, rolls or 8x10 sheets", "Fixer, L", "Share of the line, %")
HEADS = (*NAMES, *FIGURES)
NOBODY_NAMED = "name erased"
ALL_TOGETHER = "All together"
ON_THEIR_OWN = "No course or class"
FIXING = (Place.FIXER, Place.SECOND_FIXER, Place.BLEACH_FIX)
_ROLLS = [key for key, size in SIZES.items() if size.sides_mm is None]


@dataclass(frozen=True, slots=True)
class UsesAsked:
    """What somebody asks about: a period, and of it one person, line, process or material, or all; 0 stands for all."""

    period: Period
    person_id: int = 0
    line_id: int = 0
    process_id: int = 0
    material: str = ""
    class_name: str = ""

    @property
    def written(self) -> dict[str, Any]:
        """What is asked for as an address asks for it and as the record keeps it."""
        chosen = {"line": self.line_id, "process": self.process_id, "material": self.material, "class": self.class_name}
        return {**self.period.written, "person": self.person_id, **chosen}


@dataclass(frozen=True, slots=True)
class PersonUses:
    """What one person, or a class of theirs, put through one line in one material.

    `person_id` 0 is all together, or all of one class: `person` then says which.
    """

    person_id: int
    person: str
    line_id: int
    line: str
    process: str
    work: Work
    material: Material
    uses: int
    rolls: int
    sheets: int
    area_mm2: int
    fixer_ul: int  # of what was made up of each fixer it went through, by its share of all that did so far
    line_mm2: int  # what everybody put through the line in the period, in any material

    @property
    def share(self) -> float:
        """Its share of all that went through the line, by area: the share of the line's chemistry that it took."""
        return self.area_mm2 / self.line_mm2

    @property
    def cells(self) -> tuple[str, ...]:
        """The row as it is shown, under `HEADS`."""
        m2, units = f"{self.area_mm2 / 1e6:.3f}", f"{self.area_mm2 / UNIT_MM2:.1f}"
        return (*self._counted, m2, units, f"{self.fixer_ul / UL_PER_L:.2f}", f"{100 * self.share:.0f}")

    @property
    def exact_cells(self) -> tuple[str, ...]:
        """The row for a spreadsheet, the area to the square millimetre."""
        m2, units = f"{self.area_mm2 / 1e6:.6f}", f"{self.area_mm2 / UNIT_MM2:.4f}"
        return (*self._counted, m2, units, f"{self.fixer_ul / UL_PER_L:.4f}", f"{100 * self.share:.2f}")

    @property
    def _counted(self) -> tuple[str, ...]:
        named = self.person, self.line, self.process, what_it_is(self.work, self.material)
        return (*named, *map(str, (self.uses, self.rolls, self.sheets)))


def what_it_is(work: Work, material: Material) -> str:
    """Say what went through a line: colour and toning are counted apart.

    >>> what_it_is(Work.PAPER, Material.RC), what_it_is(Work.TONING, Material.RC)
    ('RC paper', 'RC paper, toned')
    """
    if work in (Work.COLOUR_FILM, Work.COLOUR_PAPER):
        return work.value
    return f"{MATERIAL_NAMES[material]}, toned" if work is Work.TONING else MATERIAL_NAMES[material]


@dataclass(frozen=True, slots=True)
class PersonTotal:
    """What one person put through in all, for the chart; the last of a list may be all others together."""

    person: str
    area_mm2: int
    fixer_ul: int


def check_may_see(person: Person, person_id: int) -> None:
    """Raise NotPermitted unless it is one's own that is asked about, or one may see everybody's."""
    if person_id != person.id and not may(person, Permission.SEE_USES):
        raise NotPermitted(Permission.SEE_USES)


def named_person(session: DbSession, person_id: int) -> str:
    """How a person is called, also one who left or was erased. Raises NotFound."""
    row = session.execute(select(Person.name, Person.left_at).where(Person.id == person_id)).one_or_none()
    if row is None:
        raise NotFound("person", person_id)
    return _called(row.name, row.left_at)


def uses_by_person(
    session: DbSession, asked: UsesAsked, *, zone: ZoneInfo, after_id: int | None = None, limit: int | None = None
) -> list[PersonUses]:
    """Return the rows of people by name, from the one after `after_id`, of `limit` people; two statements."""
    counted = _sums(asked, zone, Use.person_id, Use.class_name).subquery("counted")
    people = select(Person.id).where(Person.id.in_(select(counted.c.person_id)))
    if after_id is not None:
        key = aliased(Person)
        last = select(key.name, key.id).where(key.id == after_id).scalar_subquery()
        people = people.where(tuple_(Person.name, Person.id) > last)
    page = people.order_by(Person.name, Person.id).limit(limit).cte("page")
    rows = session.execute(
        select(counted, Person.name, Person.left_at)
        .join(Person, Person.id == counted.c.person_id)
        .where(Person.id.in_(select(page.c.id)))
        .order_by(Person.name, Person.id, *(counted.c[name] for name in ("class_name", "line", "line_id", "material")))
    )
    lines = _of_lines(session, asked.period, zone)
    return [_row(row, row.person_id, _called(row.name, row.left_at, row.class_name), lines) for row in rows]


def uses_together(session: DbSession, asked: UsesAsked, *, zone: ZoneInfo) -> list[PersonUses]:
    """Return what everybody asked about put through, line by line; two statements."""
    counted = _sums(asked, zone).subquery("counted")
    rows = session.execute(select(counted).order_by(counted.c.line, counted.c.line_id, counted.c.material))
    lines = _of_lines(session, asked.period, zone)
    return [_row(row, 0, ALL_TOGETHER, lines) for row in rows]


def uses_by_class(session: DbSession, asked: UsesAsked, *, zone: ZoneInfo) -> list[PersonUses]:
    """Return what each class or course put through, and last what was for none, line by line; two statements."""
    counted = _sums(asked, zone, Use.class_name).subquery("counted")
    columns = (counted.c[name] for name in ("class_name", "line", "line_id", "material"))
    rows = session.execute(select(counted).order_by(counted.c.class_name == "", *columns))
    lines = _of_lines(session, asked.period, zone)
    return [_row(row, 0, row.class_name or ON_THEIR_OWN, lines) for row in rows]


def greatest(session: DbSession, asked: UsesAsked, *, zone: ZoneInfo, limit: int) -> list[PersonTotal]:
    """Return those who put most through, and all others as one where there are more of them; one statement."""
    counted = _sums(asked, zone, Use.person_id).subquery("counted")
    rows = session.execute(
        select(Person.name, Person.left_at, func.sum(counted.c.area_mm2).label("area"), func.sum(counted.c.fixer_ul))
        .join(Person, Person.id == counted.c.person_id)
        .group_by(Person.id, Person.name, Person.left_at)
        .order_by(func.sum(counted.c.area_mm2).desc(), Person.name, Person.id)
    ).all()
    people = [PersonTotal(_called(name, left), int(area), round(fixer)) for name, left, area, fixer in rows]
    if len(people) <= limit:
        return people
    others = people[limit - 1 :]
    together = sum(each.area_mm2 for each in others), sum(each.fixer_ul for each in others)
    return [*people[: limit - 1], PersonTotal(f"{len(others)} others", *together)]


def classes(session: DbSession) -> list[str]:
    """The classes and courses whose work was logged, by name."""
    named = select(Use.class_name).where(Use.class_name != "").distinct().order_by(Use.class_name)
    return list(session.execute(named).scalars())


def _of_lines(session: DbSession, period: Period, zone: ZoneInfo) -> dict[int, int]:
    """The area that everybody put through each line. [mm²]"""
    rows = session.execute(_sums(UsesAsked(period), zone))
    areas: dict[int, int] = {}
    for row in rows:
        areas[row.line_id] = areas.get(row.line_id, 0) + int(row.area_mm2)
    return areas


def grouped(rows: Iterable[PersonUses]) -> list[list[PersonUses]]:
    """The rows of each person together."""
    return [list(of_person) for _, of_person in groupby(rows, key=attrgetter("person_id"))]


_through_bath = Bath.film_mm2 + Bath.rc_mm2 + Bath.fibre_mm2
_FIXER_PER_MM2 = (  # of the fixers that a use went through
    select(func.sum(cast(Bath.made_up_ul, Float) / _through_bath))
    .join(UseBath, UseBath.bath_id == Bath.id)
    .where(UseBath.use_id == Use.id, Bath.place.in_(FIXING), _through_bath > 0)
    .correlate(Use)
    .scalar_subquery()
)


def _sums(asked: UsesAsked, zone: ZoneInfo, *by: ColumnElement[Any] | Any) -> Select[Any]:
    start, end = asked.period.instants(zone=zone)
    newer = aliased(Use)
    is_roll = Use.size.in_(_ROLLS)
    groups = (
        *by,
        BathLine.id.label("line_id"),
        BathLine.name.label("line"),
        BathLine.work,
        Process.name.label("process"),
    )
    sums = (
        select(
            *groups,
            Use.material,
            func.count().label("uses"),
            func.sum(case((is_roll, Use.count), else_=0)).label("rolls"),
            func.sum(case((is_roll, 0), else_=Use.count)).label("sheets"),
            func.sum(Use.area_mm2).label("area_mm2"),
            func.sum(Use.area_mm2 * func.coalesce(_FIXER_PER_MM2, 0)).label("fixer_ul"),
        )
        .select_from(Use)
        .join(BathLine, BathLine.id == Use.line_id)
        .outerjoin(Process, Process.id == BathLine.process_id)
        .where(Use.used_at >= start, Use.used_at < end, Use.count > 0)
        .where(~select(newer.id).where(newer.corrects_id == Use.id).exists())
        .group_by(*by, BathLine.id, BathLine.name, BathLine.work, Process.name, Use.material)
    )
    for column, wanted in (
        (Use.person_id, asked.person_id),
        (Use.line_id, asked.line_id),
        (BathLine.process_id, asked.process_id),
        (Use.material, asked.material and Material(asked.material)),
        (Use.class_name, asked.class_name),
    ):
        if wanted:
            sums = sums.where(column == wanted)
    return sums


def _row(row: Any, person_id: int, person: str, lines: Mapping[int, int]) -> PersonUses:
    counts = int(row.uses), int(row.rolls), int(row.sheets), int(row.area_mm2)
    figures = (*counts, round(row.fixer_ul), lines[row.line_id])
    return PersonUses(
        person_id, person, row.line_id, row.line, row.process or "none named", row.work, row.material, *figures
    )


def _called(name: str, left_at: datetime | None, class_name: str = "") -> str:
    who = (name or NOBODY_NAMED) + (" (left)" if left_at else "")
    return f"{who}, for {class_name}" if class_name else who
