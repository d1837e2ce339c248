"""Who was in contact with a substance since a day: one statement over everything that was written down.

An estimate of possible contact, never a measured one: it says who mixed, used, tested, replenished or poured what the
substance is an ingredient of. A class's work stands under the name of who taught it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from itertools import groupby
from operator import itemgetter
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import (
    ColumnElement,
    CompoundSelect,
    Label,
    Select,
    String,
    and_,
    case,
    func,
    literal,
    or_,
    select,
    tuple_,
    union_all,
)
from sqlalchemy.orm import aliased

from labsys.baths.models import Batch, Bath, Check, Use, UseBath
from labsys.database import DbSession
from labsys.ledger.models import Movement, Posting
from labsys.people.models import Person
from labsys.products.models import Product, ProductIngredient
from labsys.timetable.local_time import to_instant
from labsys.waste.models import Pour
from labsys.waste.queries import COUNTS

ESTIMATE = "Contact with a substance, as recorded: an estimate of possible contact, not a measured exposure."


@dataclass(frozen=True)
class Sought:
    """What is asked about: a substance by its CAS number, or one product; and from when on."""

    since: datetime
    cas: str | None = None
    product_id: int | None = None


@dataclass(frozen=True, slots=True)
class ContactAsked:
    """What somebody asks about: a substance by its CAS number or a product, and from which day of the lab's on."""

    since: date
    cas: str = ""
    product_id: int = 0

    @property
    def written(self) -> dict[str, str | int]:
        """What is asked for as an address asks for it and as the record keeps it."""
        return {"cas": self.cas, "product": self.product_id, "since": self.since.isoformat()}

    def sought(self, *, zone: ZoneInfo) -> Sought:
        """The same with the instant that the day begins."""
        since = to_instant(datetime.combine(self.since, time.min), zone=zone)
        return Sought(since, product_id=self.product_id) if self.product_id else Sought(since, cas=self.cas)


@dataclass(frozen=True)
class Contact:
    """How often one person did one kind of thing with it, with the first and the last time."""

    kind: str
    times: int
    first_at: datetime
    last_at: datetime


@dataclass(frozen=True)
class InContact:
    """One person, and everything they did that may have brought them in contact."""

    person_id: int
    name: str
    contacts: tuple[Contact, ...]

    @property
    def first_at(self) -> datetime:
        return min(contact.first_at for contact in self.contacts)

    @property
    def last_at(self) -> datetime:
        return max(contact.last_at for contact in self.contacts)

    @property
    def times(self) -> int:
        return sum(contact.times for contact in self.contacts)


def people_in_contact(
    session: DbSession, sought: Sought, *, after_id: int | None = None, limit: int | None = None
) -> list[InContact]:
    """Return people by name with their contacts, from the one after `after_id`; one SQL statement."""
    rows = session.execute(statement(sought, after_id=after_id, limit=limit)).all()
    return [
        InContact(person_id, name, tuple(Contact(*row[2:]) for row in of_person))
        for (person_id, name), of_person in groupby(rows, key=itemgetter(0, 1))
    ]


def statement(sought: Sought, *, after_id: int | None = None, limit: int | None = None) -> Select[Any]:
    """Return the one statement; a bath dumped before the day is left out first, so that old years cost nothing."""
    happened = _contacts(sought).subquery("happened")
    contacts = (
        select(
            happened.c.person_id,
            happened.c.kind,
            func.count().label("times"),
            func.min(happened.c.at).label("first_at"),
            func.max(happened.c.at).label("last_at"),
        )
        .group_by(happened.c.person_id, happened.c.kind)
        .cte("contacts")
    )
    people = (
        select(Person.id, Person.name)
        .where(Person.id.in_(select(contacts.c.person_id)))
        .order_by(Person.name, Person.id)
        .limit(limit)
    )
    if after_id is not None:
        key = aliased(Person)
        last = select(key.name, key.id).where(key.id == after_id).scalar_subquery()
        people = people.where(tuple_(Person.name, Person.id) > last)
    page = people.cte("page")
    return (
        select(page.c.id, page.c.name, contacts.c.kind, contacts.c.times, contacts.c.first_at, contacts.c.last_at)
        .join(contacts, contacts.c.person_id == page.c.id)
        .order_by(page.c.name, page.c.id, contacts.c.kind)
    )


def _contacts(sought: Sought) -> CompoundSelect[Any]:
    """Everything that happened, one row each: who, what, when."""
    products: list[int] | Select[int]
    if sought.product_id is not None:
        products = [sought.product_id]
    else:
        products = select(ProductIngredient.product_id).where(ProductIngredient.cas == sought.cas)
    since = sought.since
    holds_it = and_(Bath.product_id.in_(products), or_(Bath.dumped_at.is_(None), Bath.dumped_at >= since))
    return union_all(
        _mixings(holds_it, since),
        _uses(holds_it, since),
        select(Check.checked_by_id, _said("tested"), Check.checked_at)
        .join(Bath, Bath.id == Check.bath_id)
        .where(holds_it, Check.checked_at >= since),
        select(Movement.recorded_by_id, _said("dumped"), Movement.happened_at)
        .join(Posting, Posting.movement_id == Movement.id)
        .join(Bath, Bath.vessel_id == Posting.vessel_id)
        .where(holds_it, Movement.what.in_(("pour", "discharge")), Movement.happened_at >= since),
        _pours(products, since),
    )


def _said(kind: str) -> Label[str]:
    return literal(kind, String(40)).label("kind")


def _mixings(holds_it: ColumnElement[bool], since: datetime) -> Select[int, str, datetime]:
    """Mixings and replenishings that were not taken back."""
    earlier = aliased(Batch)
    is_first = ~select(earlier.id).where(earlier.bath_id == Batch.bath_id, earlier.id < Batch.id).exists()
    undoing = aliased(Movement)
    undone = select(undoing.id).where(undoing.reverses_id == Batch.movement_id).exists()
    return (
        select(
            Batch.mixed_by_id.label("person_id"),
            case((is_first, literal("mixed", String(40))), else_=literal("replenished", String(40))).label("kind"),
            Batch.mixed_at.label("at"),
        )
        .join(Bath, Bath.id == Batch.bath_id)
        .where(holds_it, Batch.mixed_at >= since, ~undone)
    )


def _uses(holds_it: ColumnElement[bool], since: datetime) -> Select[int, str, datetime]:
    """Uses, each once however many of its baths hold it; a corrected entry counts as it was corrected."""
    newer = aliased(Use)
    corrected = select(newer.id).where(newer.corrects_id == Use.id).exists()
    uses = (
        select(Use.id, Use.person_id, Use.used_at)
        .join(UseBath, UseBath.use_id == Use.id)
        .join(Bath, Bath.id == UseBath.bath_id)
        .where(holds_it, Use.used_at >= since, Use.count > 0, ~corrected)
        .distinct()
        .subquery("used")
    )
    return select(uses.c.person_id, _said("worked in a bath of it"), uses.c.used_at)


def _pours(products: list[int] | Select[int], since: datetime) -> Select[int, str, datetime]:
    """Pours by hand: of such a product, or where none is named of waste with the code of its used solution."""
    codes = select(Product.waste_code).where(Product.id.in_(products))
    of_a_bath = (
        select(Posting.id)
        .join(Bath, Bath.vessel_id == Posting.vessel_id)
        .where(Posting.movement_id == Pour.movement_id)
        .exists()
    )
    of_it = case((Pour.product_id.is_(None), Pour.waste_code.in_(codes)), else_=Pour.product_id.in_(products))
    return select(Pour.recorded_by_id, _said("poured waste of its code"), Pour.poured_at).where(
        of_it, Pour.poured_at >= since, ~of_a_bath, COUNTS
    )


def in_words(contacts: Sequence[Contact]) -> str:
    """Say what somebody did and how often.

    >>> from datetime import UTC
    >>> day = datetime(2026, 3, 2, tzinfo=UTC)
    >>> in_words([Contact("mixed", 2, day, day), Contact("tested", 1, day, day)])
    'mixed 2 times, tested once'
    """
    return ", ".join(f"{each.kind} once" if each.times == 1 else f"{each.kind} {each.times} times" for each in contacts)
