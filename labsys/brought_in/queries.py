"""What pages and documents read of what people bring in."""

from sqlalchemy import ColumnElement, false, func, or_, select, true
from sqlalchemy.orm import joinedload, selectinload

from labsys.brought_in import rules
from labsys.brought_in.models import Declaration
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.people.row_kinds import Page, RowKind, Search
from labsys.records.models import CodeKind
from labsys.records.queries import get_or_raise


def declaration_or_raise(session: DbSession, declaration_id: int, *, lock: bool = False) -> Declaration:
    people = () if lock else (joinedload(Declaration.person), joinedload(Declaration.decided_by))
    whole = (selectinload(Declaration.ingredients), *people)
    return get_or_raise(session, Declaration, declaration_id, "declaration", lock=lock, options=whole)


def declarations(
    session: DbSession, *, person_id: int | None = None, before_id: int | None = None, limit: int
) -> list[Declaration]:
    """What was declared, by one person or by all, newest first, from the one before `before_id`."""
    query = select(Declaration).options(joinedload(Declaration.person)).order_by(Declaration.id.desc()).limit(limit)
    if person_id is not None:
        query = query.where(Declaration.person_id == person_id)
    if before_id is not None:
        query = query.where(Declaration.id < before_id)
    return list(session.execute(query).scalars())


def _seen_by(person: Person) -> ColumnElement[bool]:
    """The rule of `may_see`, inside a query."""
    everything = true() if rules.sees_all(person) else false()
    return or_(everything, Declaration.person_id == person.id, Declaration.is_accepted.is_(True))


DECLARATION = RowKind(
    table=Declaration,
    called="brought-in chemical",
    many="brought-in chemicals",
    pages=(Page("brought_in.show", "declaration_id"),),
    coded=CodeKind.GUEST,
    label=Page("documents.guest_label", "declaration_id"),
    search=Search(
        select(
            Declaration.id,
            Declaration.name,
            func.coalesce(Declaration.code, ""),
            Declaration.supplier,
            Declaration.ended_at.is_not(None),
        ),
        by=(Declaration.name, Declaration.supplier),
        gone="not here any more",
        open_to=_seen_by,
    ),
)
