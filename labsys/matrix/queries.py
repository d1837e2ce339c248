"""People against inductions and competences as of a day: everybody's cells in a fixed number of queries."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import or_, select

from labsys.competences import queries as competences
from labsys.competences.gate import NEVER as NOT_GRANTED
from labsys.competences.models import Competence
from labsys.courses.models import Course, Student
from labsys.database import DbSession
from labsys.inductions import gate, queries, rules
from labsys.inductions.models import Induction
from labsys.matrix.rules import EVERYBODY_HERE, Asked, Cell, cell_of_competence, cell_of_induction
from labsys.people.models import Person, PersonRole, Role
from labsys.records.models import RecordEntry
from labsys.records.queries import get_or_raise
from labsys.timetable.local_time import day_words, to_local

_NO_ACCOUNT = 0


@dataclass(frozen=True)
class Column:
    """One induction or competence, and how many of those shown who are here hold it."""

    name: str
    induction_id: int | None
    held_by: int


@dataclass(frozen=True)
class Somebody:
    """A person of the matrix; somebody on a roster may have no account, and then no key."""

    person_id: int
    name: str
    roles: tuple[Role, ...]
    came_at: datetime
    left_at: datetime | None

    def has_left(self, at: datetime) -> bool:
        return self.left_at is not None and self.left_at <= at


@dataclass(frozen=True)
class Row:
    """One person's row: under which heading, what is to be known of them, and a cell for each column."""

    person_id: int
    name: str
    group: str
    remark: str
    has_left: bool
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Matrix:
    """All that was asked for. `of` is the course, or empty; the lab's record begins on `began_at`."""

    asked: Asked
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    of: str
    began_at: datetime | None

    @property
    def inductions(self) -> int:
        """How many of the columns, which come first, are inductions."""
        return sum(column.induction_id is not None for column in self.columns)

    def before_the_lab(self, zone: ZoneInfo) -> bool:
        """Whether the day asked about lies before anything was entered here."""
        return self.began_at is not None and self.asked.day < to_local(self.began_at, zone=zone).date()


def courses(session: DbSession) -> list[tuple[int, str]]:
    """The courses that can be asked about, the newest first."""
    query = select(Course.id, Course.name, Course.term).order_by(Course.id.desc()).limit(200)
    return [(key, f"{name}, {term}") for key, name, term in session.execute(query)]


def matrix(session: DbSession, asked: Asked, *, now: datetime, zone: ZoneInfo) -> Matrix:
    """Work the matrix out, those who had left by then last. Raises NotFound for a course that is none."""
    at, known_at = asked.at(now=now, zone=zone), asked.known_at(now=now, zone=zone)
    course = get_or_raise(session, Course, asked.course_id, "course") if asked.course_id is not None else None
    of = f"{course.name}, {course.term}" if course else ""
    people = _on_roster(session, course.id, at=at) if course else _everybody(session)
    wanted = asked.find.casefold()
    people = [person for person in people if wanted in person.name.casefold()]
    if not course and asked.who == EVERYBODY_HERE:
        people = [person for person in people if not person.has_left(at)]
    inductions = queries.inductions(session)
    whose = {person.person_id for person in people}
    cells = _cells(session, whose, inductions, asked, at=at, known_at=known_at, zone=zone, is_everybody=course is None)
    rows = [
        _row(person, cells[person.person_id], group=of, at=at, zone=zone)
        for person in people
        if course or person.came_at <= at or any(cell.state != "never" for cell in cells[person.person_id])
    ]
    rows.sort(key=lambda row: (row.has_left, row.group != "Staff", row.group, row.name, row.person_id))
    here = [row for row in rows if not row.has_left]
    names = [(row.name, row.id) for row in inductions] + [(str(what).capitalize(), None) for what in Competence]
    columns = [
        Column(name, induction_id, sum(row.cells[number].is_held for row in here))
        for number, (name, induction_id) in enumerate(names)
    ]
    began_at = session.execute(select(RecordEntry.at).where(RecordEntry.number == 1)).scalar_one_or_none()
    return Matrix(asked, tuple(columns), tuple(rows), of, began_at)


def _everybody(session: DbSession) -> list[Somebody]:
    roles: dict[int, list[Role]] = {}
    for person_id, role in session.execute(select(PersonRole.person_id, PersonRole.role).order_by(PersonRole.id)):
        roles.setdefault(person_id, []).append(role)
    query = select(Person.id, Person.name, Person.created_at, Person.left_at)
    return [
        Somebody(key, name, tuple(roles.get(key, ())), came_at, left_at)
        for key, name, came_at, left_at in session.execute(query)
    ]


def _on_roster(session: DbSession, course_id: int, *, at: datetime) -> list[Somebody]:
    """Who is or was on the roster of a course, but for those taken off it by then."""
    query = (
        select(Student.name, Student.added_at, Person.id, Person.name, Person.left_at)
        .outerjoin(
            Person, or_(Person.id == Student.person_id, (Student.person_id.is_(None)) & (Person.email == Student.email))
        )
        .where(Student.course_id == course_id, or_(Student.removed_at.is_(None), Student.removed_at > at))
    )
    return [
        Somebody(person_id or _NO_ACCOUNT, name or as_typed, (), added_at, left_at)
        for as_typed, added_at, person_id, name, left_at in session.execute(query)
    ]


def _cells(
    session: DbSession,
    person_ids: Collection[int],
    inductions: Sequence[Induction],
    asked: Asked,
    *,
    at: datetime,
    known_at: datetime,
    zone: ZoneInfo,
    is_everybody: bool,
) -> Mapping[int, tuple[Cell, ...]]:
    """The cells of each person, by the two rooms that say who holds what."""
    read_of = None if is_everybody else person_ids
    ids = [induction.id for induction in inductions]
    held = rules.standings(
        person_ids,
        induction_ids=ids,
        editions=rules.editions_of(*inductions),
        sign_offs=gate.sign_offs(session, person_ids=read_of, induction_ids=ids),
        at=at,
        known_at=known_at,
    )
    grants = competences.grants(session, person_ids=read_of)
    granted = competences.standings(grants, on=asked.day, known_at=known_at, zone=zone)
    return {
        person_id: (
            *(cell_of_induction(held[person_id, key], at=at, zone=zone) for key in ids),
            *(
                cell_of_competence(granted.get((person_id, what), NOT_GRANTED), on=asked.day, zone=zone)
                for what in Competence
            ),
        )
        for person_id in person_ids
    }


def _row(person: Somebody, cells: tuple[Cell, ...], *, group: str, at: datetime, zone: ZoneInfo) -> Row:
    has_left = person.has_left(at)
    staff = [str(role) for role in person.roles if role is not Role.MEMBER]
    if has_left and person.left_at:
        remark = f"left on {day_words(to_local(person.left_at, zone=zone).date())}"
    else:
        remark = ", ".join(staff) if person.person_id else "no account yet"
    heading = "Left" if has_left else group or ("Staff" if staff else "Members")
    return Row(person.person_id, person.name, heading, remark, has_left, cells)
