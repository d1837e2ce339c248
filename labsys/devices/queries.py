"""What tablets and the pages about them read."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import Select, or_, select
from sqlalchemy.orm import joinedload

from labsys.database import DbSession
from labsys.devices.models import Card, EnrolledDevice, Pin, WrongTry
from labsys.people.models import Person
from labsys.people.permissions import Permission
from labsys.people.queries import NamedPerson, people_here
from labsys.people.row_kinds import NOTHING, Page, RowKind, Search
from labsys.people.rules import token_digest
from labsys.records.models import CodeKind
from labsys.records.queries import get_or_raise

_ENOUGH_TRIES = 50


def device_of_token(session: DbSession, token: str | None) -> EnrolledDevice | None:
    """The enrolled tablet that holds this token, unless it was revoked."""
    if not token:
        return None
    query = select(EnrolledDevice).where(
        EnrolledDevice.token_digest == token_digest(token), EnrolledDevice.revoked_at.is_(None)
    )
    return session.execute(query).scalar_one_or_none()


def device_or_raise(session: DbSession, device_id: int, *, lock: bool = False) -> EnrolledDevice:
    return get_or_raise(session, EnrolledDevice, device_id, "tablet", lock=lock)


def devices(session: DbSession) -> Sequence[EnrolledDevice]:
    """All tablets ever enrolled, those in use first, newest first."""
    order = (EnrolledDevice.revoked_at.is_not(None), EnrolledDevice.id.desc())
    return session.execute(select(EnrolledDevice).order_by(*order).limit(200)).scalars().all()


def card_or_raise(session: DbSession, card_id: int, *, lock: bool = False) -> Card:
    return get_or_raise(session, Card, card_id, "card", lock=lock)


def valid_card(session: DbSession, *, code: str, now: datetime) -> Card | None:
    """The card with this code, if it holds good now and its person is still here."""
    return session.execute(_valid(now).where(Card.code == code)).scalar_one_or_none()


def card_is_valid(session: DbSession, *, card_id: int, now: datetime) -> bool:
    return session.execute(_valid(now).where(Card.id == card_id)).first() is not None


def cards_of(session: DbSession, *, person_id: int) -> Sequence[Card]:
    """A person's cards, newest first."""
    return session.execute(select(Card).where(Card.person_id == person_id).order_by(Card.id.desc())).scalars().all()


def cards(session: DbSession, *, before_id: int | None, limit: int) -> Sequence[Card]:
    """Everybody's cards, newest first, from the one before `before_id`."""
    query = select(Card).options(joinedload(Card.person)).order_by(Card.id.desc()).limit(limit)
    return session.execute(query.where(Card.id < before_id) if before_id is not None else query).scalars().all()


def pin_of(session: DbSession, *, person_id: int) -> Pin | None:
    return session.get(Pin, person_id)


def people_with_pin(session: DbSession) -> list[NamedPerson]:
    """Those who have not left and chose a PIN, by name."""
    return people_here(session, Person.id.in_(select(Pin.person_id)))


def wrong_tries(session: DbSession, *, since: datetime, **of: int) -> list[datetime]:
    """When tries at one device, or of one person, were wrong: newest first."""
    tried = select(WrongTry.at).filter_by(**of).where(WrongTry.at > since)
    return list(session.execute(tried.order_by(WrongTry.at.desc()).limit(_ENOUGH_TRIES)).scalars())


def _valid(now: datetime) -> Select[Card]:
    return (
        select(Card)
        .join(Card.person)
        .where(
            Card.revoked_at.is_(None), or_(Card.valid_until.is_(None), Card.valid_until > now), Person.left_at.is_(None)
        )
    )


CARD = RowKind(  # found by its whole code alone: the code says who somebody is
    table=Card,
    called="card",
    many="cards",
    pages=(Page("devices.card", "card_id", Permission.KEEP_DEVICES),),
    coded=CodeKind.CARD,
)
TABLET = RowKind(
    table=EnrolledDevice,
    called="tablet",
    many="tablets",
    pages=(Page("devices.index", needed=Permission.KEEP_DEVICES),),
    search=Search(
        select(EnrolledDevice.id, EnrolledDevice.name, NOTHING, NOTHING, EnrolledDevice.revoked_at.is_not(None)),
        by=(EnrolledDevice.name,),
        gone="revoked",
    ),
)
