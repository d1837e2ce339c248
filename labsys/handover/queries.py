"""What pages read of notes and of film nobody has come for."""

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.database import DbSession
from labsys.handover.models import HandoverNote, LeftFilm
from labsys.people.permissions import Permission
from labsys.people.row_kinds import Page, RowKind
from labsys.records.queries import get_or_raise


def unread(session: DbSession) -> list[HandoverNote]:
    """Notes that nobody has read yet, the oldest first."""
    query = select(HandoverNote).options(joinedload(HandoverNote.written_by)).where(HandoverNote.read_at.is_(None))
    return list(session.execute(query.order_by(HandoverNote.id)).scalars())


def read_notes(session: DbSession, *, before_id: int | None = None, limit: int) -> list[HandoverNote]:
    """Notes that were read, the newest first."""
    query = (
        select(HandoverNote)
        .options(joinedload(HandoverNote.written_by), joinedload(HandoverNote.read_by))
        .where(HandoverNote.read_at.is_not(None))
        .order_by(HandoverNote.id.desc())
        .limit(limit)
    )
    if before_id is not None:
        query = query.where(HandoverNote.id < before_id)
    return list(session.execute(query).scalars())


def note_or_raise(session: DbSession, note_id: int, *, lock: bool = False) -> HandoverNote:
    return get_or_raise(session, HandoverNote, note_id, "note", lock=lock)


def films_here(session: DbSession, *, owner_id: int | None = None) -> list[LeftFilm]:
    """Film nobody has come for, the longest here first: all, or that of one person."""
    query = select(LeftFilm).options(joinedload(LeftFilm.owner)).where(LeftFilm.gone_at.is_(None))
    if owner_id is not None:
        query = query.where(LeftFilm.owner_id == owner_id)
    return list(session.execute(query.order_by(LeftFilm.found_on, LeftFilm.id)).scalars())


def film_or_raise(session: DbSession, film_id: int, *, lock: bool = False) -> LeftFilm:
    return get_or_raise(session, LeftFilm, film_id, "film", lock=lock)


NOTE = RowKind(
    table=HandoverNote, called="note", many="notes", pages=(Page("handover.index", needed=Permission.KEEP_STOCK),)
)
FILM = RowKind(
    table=LeftFilm,
    called="film left here",
    many="film left here",
    pages=(Page("handover.film", "film_id", Permission.KEEP_STOCK),),
)
