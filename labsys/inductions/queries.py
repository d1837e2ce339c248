"""What pages and acts read of inductions. The gate has a module of its own: `labsys.inductions.gate`."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import select, tuple_
from sqlalchemy.orm import aliased, contains_eager, joinedload, selectinload, undefer

from labsys.database import DbSession
from labsys.inductions import gate, rules
from labsys.inductions.models import Induction, InductionPicture, InductionVersion, Requirement, SignOff, Withdrawal
from labsys.people import queries as people_queries
from labsys.people.models import Person
from labsys.people.permissions import Permission
from labsys.people.row_kinds import NEVER, NOTHING, Page, RowKind, Search
from labsys.records.errors import NotFound
from labsys.records.queries import get_or_raise

_Newer = aliased(InductionVersion)
_WHOLE_INDUCTION = (
    selectinload(Induction.versions),
    selectinload(Induction.requirements).joinedload(Requirement.station),
)


def inductions(session: DbSession) -> list[Induction]:
    """All inductions by name, with their versions and what they are needed for."""
    query = select(Induction).options(*_WHOLE_INDUCTION).order_by(Induction.name, Induction.id)
    return list(session.execute(query).scalars())


def induction_or_raise(session: DbSession, induction_id: int, *, lock: bool = False) -> Induction:
    return get_or_raise(session, Induction, induction_id, "induction", lock=lock, options=_WHOLE_INDUCTION)


def pictures(session: DbSession, *, induction_id: int) -> list[InductionPicture]:
    """The pictures of an induction by their number, without their bytes."""
    query = select(InductionPicture).where(InductionPicture.induction_id == induction_id)
    return list(session.execute(query.order_by(InductionPicture.number)).scalars())


def picture_or_raise(session: DbSession, *, induction_id: int, number: int) -> InductionPicture:
    """One picture with its bytes."""
    query = select(InductionPicture).where(
        InductionPicture.induction_id == induction_id, InductionPicture.number == number
    )
    picture = session.execute(query.options(undefer(InductionPicture.content))).scalar_one_or_none()
    if picture is None:
        raise NotFound("picture", number)
    return picture


def induction_by_name(session: DbSession, name: str) -> Induction | None:
    return session.execute(select(Induction).where(Induction.name == name)).scalar_one_or_none()


def people_by_id(session: DbSession, person_ids: Collection[int], *, lock: bool = False) -> list[Person]:
    """These people in the order of their ids; raises NotFound when one of them is nobody."""
    query = select(Person).where(Person.id.in_(person_ids)).order_by(Person.id)
    if lock:  # so that two who sign the same person off queue up on PostgreSQL
        query = query.with_for_update(of=Person, key_share=True)
    people = list(session.execute(query).scalars())
    if unknown := set(person_ids) - {person.id for person in people}:
        raise NotFound("person", min(unknown))
    return people


def ticked(session: DbSession, person_ids: Collection[int]) -> list[Person]:
    """Those of these people that there are, by name; some may have left since the page was opened."""
    query = select(Person).where(Person.id.in_(person_ids)).order_by(Person.name, Person.id)
    return list(session.execute(query).scalars())


def people_here(
    session: DbSession, *, name_contains: str = "", after: tuple[str, int] | None = None, limit: int
) -> list[Person]:
    """People who have not left, by name, from the one after a name and an id."""
    query = select(Person).where(Person.left_at.is_(None)).order_by(Person.name, Person.id).limit(limit)
    if name_contains:
        query = query.where(Person.name.icontains(name_contains, autoescape=True))
    if after is not None:
        query = query.where(tuple_(Person.name, Person.id) > after)
    return list(session.execute(query).scalars())


def sign_off_or_raise(session: DbSession, sign_off_id: int, *, lock: bool = False) -> SignOff:
    return sign_offs_by_id(session, [sign_off_id], lock=lock)[0]


def sign_offs_by_id(session: DbSession, sign_off_ids: Collection[int], *, lock: bool = False) -> list[SignOff]:
    """These sign-offs in the order of their ids; raises NotFound when one of them is none."""
    query = (
        select(SignOff)
        .where(SignOff.id.in_(sign_off_ids))
        .options(joinedload(SignOff.version), joinedload(SignOff.person), selectinload(SignOff.withdrawal))
        .order_by(SignOff.id)
    )
    if lock:
        query = query.with_for_update(of=SignOff).execution_options(populate_existing=True)
    sign_offs = list(session.execute(query).scalars())
    if unknown := set(sign_off_ids) - {signed.id for signed in sign_offs}:
        raise NotFound("sign-off", min(unknown))
    return sign_offs


def history(session: DbSession, *, person_id: int) -> list[SignOff]:
    """Everything one person was signed off for, the newest teaching first."""
    query = (
        select(SignOff)
        .where(SignOff.person_id == person_id)
        .options(
            joinedload(SignOff.version),
            joinedload(SignOff.signed_by).lazyload(Person.role_rows),
            joinedload(SignOff.practice_seen_by).lazyload(Person.role_rows),
            selectinload(SignOff.withdrawal),
        )
        .order_by(SignOff.taught_at.desc(), SignOff.id.desc())
    )
    return list(session.execute(query).scalars())


def unconfirmed(
    session: DbSession,
    *,
    now: datetime,
    person_id: int | None = None,
    signed_by_id: int | None = None,
    before_id: int | None = None,
    limit: int,
) -> list[SignOff]:
    """Sign-offs neither confirmed nor withdrawn nor lapsed, newest first: of one person, of one signer, or of all.

    Those of people who left, and those a later version ended, are left out.
    """
    ended = (
        select(_Newer.id)
        .where(
            _Newer.induction_id == InductionVersion.induction_id,
            _Newer.number > InductionVersion.number,
            _Newer.must_repeat,
        )
        .exists()
    )
    query = (
        select(SignOff)
        .join(SignOff.version)
        .join(SignOff.person)
        .outerjoin(SignOff.withdrawal)
        .where(
            SignOff.confirmed_at.is_(None),
            Withdrawal.id.is_(None),
            (SignOff.lapses_at.is_(None)) | (SignOff.lapses_at > now),
            Person.left_at.is_(None),
            ~ended,
        )
        .options(
            contains_eager(SignOff.person).lazyload(Person.role_rows),
            joinedload(SignOff.signed_by).lazyload(Person.role_rows),
            contains_eager(SignOff.version),
        )
        .order_by(SignOff.id.desc())
        .limit(limit)
    )
    if person_id is not None:
        query = query.where(SignOff.person_id == person_id)
    if signed_by_id is not None:
        query = query.where(SignOff.signed_by_id == signed_by_id)
    if before_id is not None:
        query = query.where(SignOff.id < before_id)
    return list(session.execute(query).scalars())


def lapsing(session: DbSession, *, after: datetime, until: datetime) -> set[tuple[int, int]]:
    """Person and induction of every confirmed sign-off that lapses in a span of time, of people who are here."""
    query = (
        select(SignOff.person_id, InductionVersion.induction_id)
        .join(SignOff.version)
        .join(SignOff.person)
        .where(
            SignOff.lapses_at > after,
            SignOff.lapses_at <= until,
            SignOff.confirmed_at.is_not(None),
            Person.left_at.is_(None),
        )
    )
    return {(person_id, induction_id) for person_id, induction_id in session.execute(query)}


def teachers(session: DbSession, *, induction_ids: Collection[int], at: datetime) -> dict[int, list[Person]]:
    """Who can teach each of these inductions: those who hold it and may sign others off, by name."""
    people = people_queries.people_who_may(session, Permission.SIGN_OFF)
    ids = [person.id for person in people]
    editions = gate.editions(session, induction_ids=induction_ids)
    signed = gate.sign_offs(session, person_ids=ids, induction_ids=induction_ids)
    standings = rules.standings(ids, induction_ids=induction_ids, editions=editions, sign_offs=signed, at=at)
    return {
        induction_id: [person for person in people if standings[person.id, induction_id].is_current]
        for induction_id in induction_ids
    }


INDUCTION = RowKind(
    table=Induction,
    called="induction",
    many="inductions",
    pages=(Page("inductions.show", "induction_id"),),
    search=Search(select(Induction.id, Induction.name, NOTHING, NOTHING, NEVER), by=(Induction.name,)),
)
