"""What pages and acts read of recalls."""

from collections.abc import Collection, Sequence
from datetime import datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import joinedload, selectinload

from labsys.baths.models import Bath, Use, UseBath
from labsys.baths.recall.models import Recall, RecalledBath, RecalledUse
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.people.row_kinds import Page, RowKind
from labsys.records.queries import get_or_raise

_CORRECTED = select(Use.corrects_id).where(Use.corrects_id.is_not(None))
_WHOLE = (
    joinedload(Recall.opened_by).lazyload(Person.role_rows),
    joinedload(Recall.closed_by).lazyload(Person.role_rows),
    selectinload(Recall.baths).joinedload(RecalledBath.bath).joinedload(Bath.line),
    selectinload(Recall.baths).joinedload(RecalledBath.bath).joinedload(Bath.product),
)


def recall_or_raise(session: DbSession, recall_id: int, *, lock: bool = False) -> Recall:
    return get_or_raise(session, Recall, recall_id, "recall", lock=lock, options=_WHOLE)


def recalls(session: DbSession, *, limit: int) -> list[Recall]:
    """Recalls, those that are open first, then the newest."""
    query = select(Recall).options(*_WHOLE).order_by(Recall.closed_at.is_not(None), Recall.id.desc()).limit(limit)
    return list(session.execute(query).scalars().unique())


def open_of_baths(session: DbSession, bath_ids: Collection[int]) -> list[RecalledBath]:
    """The baths among these that an open recall names, the newest recall first."""
    query = (
        select(RecalledBath)
        .join(RecalledBath.recall)
        .where(RecalledBath.bath_id.in_(bath_ids), Recall.closed_at.is_(None))
        .options(joinedload(RecalledBath.recall), joinedload(RecalledBath.bath))
        .order_by(RecalledBath.id.desc())
    )
    return list(session.execute(query).scalars().unique())


def doubtful_uses(session: DbSession, since: dict[int, datetime]) -> list[Use]:
    """What went through baths since they were doubtful, as it stands now, the oldest first."""
    in_bath = or_(*((UseBath.bath_id == bath_id) & (Use.used_at >= at) for bath_id, at in since.items()))
    query = (
        select(Use)
        .join(UseBath, UseBath.use_id == Use.id)
        .where(in_bath, Use.count > 0, Use.id.not_in(_CORRECTED))
        .options(joinedload(Use.person), joinedload(Use.line), selectinload(Use.baths))
        .order_by(Use.used_at, Use.id)
    )
    return list(session.execute(query).scalars().unique()) if since else []


def named_uses(session: DbSession, recall_id: int, *, only_of: int | None = None) -> Sequence[RecalledUse]:
    """The work a recall names that stands as it was entered, the newest first; only one person's where one is given."""
    query = (
        select(RecalledUse)
        .join(RecalledUse.use)
        .where(RecalledUse.recall_id == recall_id, Use.count > 0, Use.id.not_in(_CORRECTED))
        .options(
            joinedload(RecalledUse.use).joinedload(Use.person).lazyload(Person.role_rows),
            joinedload(RecalledUse.use).joinedload(Use.line),
            joinedload(RecalledUse.use).selectinload(Use.baths),
        )
        .order_by(Use.used_at.desc(), Use.id.desc())
    )
    if only_of is not None:
        query = query.where(Use.person_id == only_of)
    return session.execute(query).scalars().unique().all()


def named_already(session: DbSession, recall_id: int, use_ids: Collection[int]) -> dict[int, RecalledUse]:
    query = select(RecalledUse).where(RecalledUse.recall_id == recall_id, RecalledUse.use_id.in_(use_ids))
    return {named.use_id: named for named in session.execute(query).scalars()}


RECALL = RowKind(table=Recall, called="recall", many="recalls", pages=(Page("baths.recall", "recall_id"),))
