"""What the person's own page, the safety adviser's and the gate read of what is told in confidence."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import joinedload, lazyload

from labsys.database import DbSession
from labsys.hazards.personal import PersonalFamily
from labsys.people.models import Person
from labsys.processes.models import Process, ProcessStep
from labsys.products.models import Product
from labsys.restrictions import rules
from labsys.restrictions.models import Restriction, SkinChecks, Talk
from labsys.restrictions.rules import Openness


@dataclass(frozen=True)
class Kept:
    """All that is kept in confidence of one person."""

    person: Person
    restrictions: list[Restriction]
    talks: list[Talk]
    skin_checks: SkinChecks | None

    def families(self, *, day: date) -> frozenset[PersonalFamily]:
        """What they keep away from on a day."""
        return frozenset(row.family for row in self.restrictions if row.family and holds_on(row, day=day))


def holds_on(row: Restriction, *, day: date) -> bool:
    return row.ends_on is None or day <= row.ends_on


def in_force(session: DbSession, *, person_id: int, day: date) -> list[Restriction]:
    """The restrictions of a person that hold on a day."""
    query = select(Restriction).where(
        Restriction.person_id == person_id, or_(Restriction.ends_on.is_(None), Restriction.ends_on >= day)
    )
    return list(session.execute(query.order_by(Restriction.id)).scalars())


def kept(session: DbSession, *, person: Person) -> Kept:
    restrictions = select(Restriction).where(Restriction.person_id == person.id).order_by(Restriction.id)
    talks = select(Talk).where(Talk.person_id == person.id).order_by(Talk.id.desc())
    checks = select(SkinChecks).where(SkinChecks.person_id == person.id)
    return Kept(
        person,
        list(session.execute(restrictions.options(joinedload(Restriction.entered_by))).scalars()),
        list(session.execute(talks).scalars()),
        session.execute(checks).scalar_one_or_none(),
    )


def people_known(session: DbSession) -> set[int]:
    """Whoever has told something in confidence, or asked for a talk."""
    tables = (Restriction, Talk, SkinChecks)
    return {person_id for table in tables for person_id in session.execute(select(table.person_id)).scalars()}


def people_to_list(session: DbSession) -> list[Person]:
    """Who is here, and of those who left whom something is kept of, by name."""
    listed = or_(Person.left_at.is_(None), Person.id.in_(people_known(session)))
    query = select(Person).where(listed).options(lazyload(Person.role_rows)).order_by(Person.name, Person.id)
    return list(session.execute(query).scalars())


def people_waiting(session: DbSession) -> set[int]:
    """Who waits for a talk."""
    return set(session.execute(select(Talk.person_id).where(Talk.held_at.is_(None))).scalars())


def openness_of_all(session: DbSession, families: frozenset[PersonalFamily]) -> list[Openness]:
    """Every process by name, with whether it is open to somebody who keeps away from these families; one query."""
    product = joinedload(Process.steps).joinedload(ProcessStep.product)
    whole = (product.joinedload(Product.ingredients), product.joinedload(Product.confirmations))
    processes = session.execute(select(Process).options(*whole).order_by(Process.name)).unique().scalars()
    return [rules.openness(process, families) for process in processes]
