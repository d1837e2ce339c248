"""What pages and the gate of competences read."""

from collections.abc import Collection, Iterable, Mapping
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.competences import rules
from labsys.competences.models import Competence, CompetenceGrant
from labsys.competences.rules import HeldCompetence
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.records import queries as records
from labsys.records.queries import get_or_raise
from labsys.timetable.local_time import to_local

Standings = Mapping[tuple[int, Competence], HeldCompetence]  # by person and competence

_NAMED = tuple(
    joinedload(related).lazyload(Person.role_rows)
    for related in (
        CompetenceGrant.person,
        CompetenceGrant.granted_by,
        CompetenceGrant.witness,
        CompetenceGrant.revoked_by,
    )
)


def grant_or_raise(session: DbSession, grant_id: int, *, lock: bool = False) -> CompetenceGrant:
    return get_or_raise(session, CompetenceGrant, grant_id, "grant", lock=lock)


def grants(
    session: DbSession,
    *,
    person_ids: Collection[int] | None = None,
    competences: Collection[Competence] | None = None,
    leavers: bool = True,
) -> list[CompetenceGrant]:
    """Grants with the people in them, the newest first: of these people, of these competences, of those here."""
    query = select(CompetenceGrant).options(*_NAMED).order_by(CompetenceGrant.id.desc())
    if person_ids is not None:
        query = query.where(CompetenceGrant.person_id.in_(person_ids))
    if competences is not None:
        query = query.where(CompetenceGrant.competence.in_(competences))
    if not leavers:
        query = query.join(CompetenceGrant.person).where(Person.left_at.is_(None))
    return list(session.execute(query).scalars())


def standings(rows: Iterable[CompetenceGrant], *, on: date, known_at: datetime, zone: ZoneInfo) -> Standings:
    """How each person of these grants stands with each competence granted to them."""
    by_pair: dict[tuple[int, Competence], list[CompetenceGrant]] = {}
    for grant in rows:
        by_pair.setdefault((grant.person_id, grant.competence), []).append(grant)
    return {pair: rules.held(granted, on=on, known_at=known_at, zone=zone) for pair, granted in by_pair.items()}


def held_today(
    session: DbSession, *, person_ids: Collection[int] | None = None, now: datetime, leavers: bool = False
) -> Standings:
    """How these people, or all who are here, stand today, in two queries; who never had a grant is left out."""
    zone = records.zone(session)
    rows = grants(session, person_ids=person_ids, leavers=leavers)
    return standings(rows, on=to_local(now, zone=zone).date(), known_at=now, zone=zone)


def lapsing(stand: Standings, *, today: date) -> list[CompetenceGrant]:
    """The grants that hold a competence which soon lapses, the first to lapse first."""
    grants = [held.grant for held in stand.values() if held.grant and rules.lapse_to_remind_of(held, today=today)]
    return sorted(grants, key=lambda grant: (grant.until, grant.id))


def to_witness(session: DbSession, *, person_id: int, today: date) -> list[CompetenceGrant]:
    """Grants that wait for somebody to say that they saw it, the oldest first."""
    query = (
        select(CompetenceGrant)
        .join(CompetenceGrant.person)
        .options(*_NAMED)
        .where(
            CompetenceGrant.witness_id == person_id,
            CompetenceGrant.witnessed_at.is_(None),
            CompetenceGrant.revoked_at.is_(None),
            CompetenceGrant.until >= today,
            Person.left_at.is_(None),
        )
        .order_by(CompetenceGrant.id)
    )
    return list(session.execute(query).scalars())
