"""What pages and documents read of what people bring in."""

from sqlalchemy import select
from sqlalchemy.orm import joinedload, selectinload

from labsys.brought_in.models import Declaration
from labsys.database import DbSession
from labsys.records.errors import NotFound


def declaration_or_raise(session: DbSession, declaration_id: int, *, lock: bool = False) -> Declaration:
    chosen = select(Declaration).where(Declaration.id == declaration_id).options(selectinload(Declaration.ingredients))
    if lock:
        chosen = chosen.with_for_update(of=Declaration).execution_options(populate_existing=True)
    else:
        chosen = chosen.options(*(joinedload(one) for one in (Declaration.person, Declaration.decided_by)))
    declaration = session.execute(chosen).scalar_one_or_none()
    if declaration is None:
        raise NotFound("declaration", declaration_id)
    return declaration


def declarations(
    session: DbSession, *, person_id: int | None = None, before_id: int | None = None, limit: int
) -> list[Declaration]:
    """What was declared, by one person or by all, newest first, from the one before `before_id`."""
    chosen = select(Declaration).options(joinedload(Declaration.person)).order_by(Declaration.id.desc()).limit(limit)
    if person_id is not None:
        chosen = chosen.where(Declaration.person_id == person_id)
    if before_id is not None:
        chosen = chosen.where(Declaration.id < before_id)
    return list(session.execute(chosen).scalars())
