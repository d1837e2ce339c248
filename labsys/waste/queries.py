"""What pages and documents about waste read."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import ColumnElement, exists, func, or_, select
from sqlalchemy.orm import joinedload, selectinload
from sqlalchemy.orm.interfaces import ORMOption

from labsys.database import DbSession
from labsys.hazards.nations import rules_of
from labsys.ledger.models import Movement, Posting
from labsys.people.models import Person
from labsys.people.row_kinds import NEVER, NOTHING, Page, RowKind, Search
from labsys.products.models import Product
from labsys.products.queries import FOR_WORKING_SOLUTION
from labsys.records.models import CodeKind, Lab
from labsys.records.queries import get_or_raise, the_lab
from labsys.timetable.local_time import to_local
from labsys.waste.contents import Contents, contents_of
from labsys.waste.models import (
    Collection,
    CollectionLine,
    Discharge,
    Pour,
    PourCorrection,
    Quarantine,
    SewerConsent,
    SewerLimit,
    StatedProperties,
    WasteContainer,
    WasteStream,
)
from labsys.waste.rules import Poured
from labsys.waste.sewer_rules import Readings, why_not_to_sewer

_CONTAINERS = (
    selectinload(Collection.lines)
    .joinedload(CollectionLine.container)
    .options(selectinload(WasteContainer.quarantines))
)


def streams(session: DbSession) -> list[WasteStream]:
    return list(session.execute(select(WasteStream).order_by(WasteStream.code)).scalars())


def stream_or_raise(session: DbSession, stream_id: int) -> WasteStream:
    return get_or_raise(session, WasteStream, stream_id, "waste stream")


def stream_by_code(session: DbSession, code: str) -> WasteStream | None:
    return session.execute(select(WasteStream).where(WasteStream.code == code)).scalar_one_or_none()


def stream_by_name(session: DbSession, name: str) -> WasteStream | None:
    return session.execute(select(WasteStream).where(WasteStream.name == name)).scalar_one_or_none()


def container_or_raise(session: DbSession, container_id: int, *, lock: bool = False) -> WasteContainer:
    quarantines = selectinload(WasteContainer.quarantines)
    return get_or_raise(session, WasteContainer, container_id, "waste container", lock=lock, options=[quarantines])


def containers_here(session: DbSession) -> list[WasteContainer]:
    """Containers in the lab, by stream and age."""
    here = (
        select(WasteContainer)
        .join(WasteStream)
        .where(WasteContainer.collected_at.is_(None))
        .options(joinedload(WasteContainer.quarantines))
        .order_by(WasteStream.code, WasteContainer.id)
    )
    return list(session.execute(here).scalars().unique())


def contents(
    session: DbSession, containers: Sequence[WasteContainer], *, with_hazards: bool = True
) -> dict[int, Contents]:
    """What is in each of some containers, by the pours that count; without hazards where only the room is asked."""
    ids = [container.id for container in containers]
    product = joinedload(Pour.product)
    of_products = (product.options(*FOR_WORKING_SOLUTION), product.selectinload(Product.dilutions))
    pours = defaultdict(list)
    options = of_products if with_hazards else [product]
    for pour in _pours(session, Pour.container_id.in_(ids), COUNTS, options=options):
        pours[pour.container_id].append(pour)
    stated_by = joinedload(StatedProperties.stated_by).lazyload(Person.role_rows)
    of_these = select(StatedProperties).where(StatedProperties.container_id.in_(ids)).options(stated_by)
    oldest_first = session.execute(of_these.order_by(StatedProperties.id)).scalars() if with_hazards else ()
    newest = {statement.container_id: statement for statement in oldest_first}
    lab = session.get_one(Lab, 1)
    trivial, rules = lab.carry_over_milli, rules_of(lab.nation)
    return {
        container.id: contents_of(
            container, pours[container.id], rules=rules, carry_over_milli=trivial, statement=newest.get(container.id)
        )
        for container in containers
    }


def collection_by_note(session: DbSession, note_code: str) -> Collection | None:
    return session.execute(select(Collection).where(Collection.note_code == note_code)).scalar_one_or_none()


def newest_note_code(session: DbSession, *, beginning: str) -> str | None:
    """The highest note code with this beginning and five characters after it; None without a beginning."""
    if not beginning:
        return None
    newest = select(func.max(Collection.note_code)).where(Collection.note_code.like(f"{beginning}_____"))
    return session.execute(newest).scalar_one()


def collections(session: DbSession, *, before_id: int | None = None, limit: int) -> list[Collection]:
    """Collections, newest first, from the one before `before_id`."""
    newest_first = select(Collection).options(_CONTAINERS).order_by(Collection.id.desc()).limit(limit)
    if before_id is not None:
        newest_first = newest_first.where(Collection.id < before_id)
    return list(session.execute(newest_first).scalars().unique())


def collection_or_raise(session: DbSession, collection_id: int) -> Collection:
    return get_or_raise(session, Collection, collection_id, "collection", options=[_CONTAINERS])


def collection_id_of(session: DbSession, container_id: int) -> int | None:
    """The collection a container went with."""
    of_container = select(CollectionLine.collection_id).where(CollectionLine.container_id == container_id)
    return session.execute(of_container).scalar_one_or_none()


def products_of(session: DbSession, *codes: str) -> list[Product]:
    """Products whose used solution is waste of one of these codes, with their ingredients."""
    by_name = select(Product).where(Product.waste_code.in_(codes)).order_by(Product.name, Product.id)
    of_products = (*FOR_WORKING_SOLUTION, selectinload(Product.dilutions))
    return list(session.execute(by_name.options(*of_products)).scalars())


def products(session: DbSession) -> list[Product]:
    """Every product by name, with its dilutions: what a pour may be."""
    by_name = select(Product).options(selectinload(Product.dilutions)).order_by(Product.name, Product.supplier)
    return list(session.execute(by_name).scalars())


def product_or_raise(session: DbSession, product_id: int) -> Product:
    of_product = (*FOR_WORKING_SOLUTION, selectinload(Product.dilutions))
    return get_or_raise(session, Product, product_id, "product", options=of_product)


# Of a container found empty what was recorded after that.
STILL_IN = or_(WasteContainer.found_empty_at.is_(None), Pour.recorded_at > WasteContainer.found_empty_at)
COUNTS = ~exists().where(PourCorrection.pour_id == Pour.id)  # a pour that nobody has corrected


def pours_into(session: DbSession, container_id: int) -> list[Pour]:
    """What was poured into one container, oldest first, with what was recorded wrongly."""
    corrected_by = joinedload(Pour.correction).joinedload(PourCorrection.corrected_by).lazyload(Person.role_rows)
    return _pours(session, Pour.container_id == container_id, options=[corrected_by, joinedload(Pour.product)])


def pour_or_raise(session: DbSession, pour_id: int) -> Pour:
    return get_or_raise(session, Pour, pour_id, "pour")


def wrong_pours(session: DbSession, quarantine: Quarantine) -> list[Pour]:
    """What was poured in wrongly, from the pour that began a quarantine on, with what was corrected since."""
    return _pours(
        session,
        Pour.container_id == quarantine.container_id,
        Pour.recorded_at >= quarantine.recorded_at,
        Pour.wrong_because != "",
    )


def _pours(session: DbSession, *conditions: ColumnElement[bool], options: Sequence[ORMOption] = ()) -> list[Pour]:
    recorded_by = joinedload(Pour.recorded_by).lazyload(Person.role_rows)
    oldest_first = select(Pour).where(*conditions).options(recorded_by, *options)
    return list(session.execute(oldest_first.order_by(Pour.poured_at, Pour.id)).scalars())


@dataclass(frozen=True)
class ContainerHistory:
    """One container with everything that was poured into it by an instant, and its collection if it was collected."""

    container: WasteContainer
    pours: list[Pour]
    collected: CollectionLine | None


def histories(session: DbSession, *, start: datetime, end: datetime) -> list[ContainerHistory]:
    """Containers that were in the lab at any time of a period, with their pours up to its end."""
    here = (
        select(WasteContainer)
        .join(WasteStream)
        .where(
            WasteContainer.opened_at < end,
            or_(WasteContainer.collected_at.is_(None), WasteContainer.collected_at >= start),
        )
        .options(selectinload(WasteContainer.quarantines))
        .order_by(WasteStream.code, WasteContainer.id)
    )
    containers = list(session.execute(here).scalars().unique())
    ids = [container.id for container in containers]
    pours = defaultdict(list)
    for pour in _pours(session, Pour.container_id.in_(ids), Pour.poured_at < end, COUNTS):
        pours[pour.container_id].append(pour)
    lines = (
        select(CollectionLine)
        .join(Collection)
        .where(CollectionLine.container_id.in_(ids), Collection.collected_at < end)
        .options(joinedload(CollectionLine.collection))
    )
    collected = {line.container_id: line for line in session.execute(lines).scalars()}
    return [ContainerHistory(container, pours[container.id], collected.get(container.id)) for container in containers]


def discharges(session: DbSession, *, start: datetime, end: datetime) -> list[Discharge]:
    oldest_first = (
        select(Discharge)
        .where(Discharge.discharged_at >= start, Discharge.discharged_at < end)
        .options(joinedload(Discharge.recorded_by).lazyload(Person.role_rows), selectinload(Discharge.readings))
        .order_by(Discharge.discharged_at, Discharge.id)
    )
    return list(session.execute(oldest_first).scalars())


def consents(session: DbSession) -> list[SewerConsent]:
    """Sewer consents, the one that holds longest first."""
    return list(session.execute(select(SewerConsent).order_by(SewerConsent.valid_until.desc())).scalars())


def consent_or_raise(session: DbSession, consent_id: int, *, lock: bool = False) -> SewerConsent:
    return get_or_raise(session, SewerConsent, consent_id, "sewer consent", lock=lock)


def consent_by_reference(session: DbSession, reference: str) -> SewerConsent | None:
    return session.execute(select(SewerConsent).where(SewerConsent.reference == reference)).scalar_one_or_none()


@dataclass(frozen=True)
class SewerAnswer:
    """The consent under which something may be discharged, or why it may not be; and the limits of all that name it."""

    consent: SewerConsent | None
    why_not: str
    limits: tuple[SewerLimit, ...]


def limits_in_force(session: DbSession, *, at: datetime) -> list[SewerLimit]:
    """What the consents in force limit besides the volume."""
    day = to_local(at, zone=ZoneInfo(the_lab(session).timezone)).date()
    in_force = SewerConsent.valid_from <= day, SewerConsent.valid_until >= day
    of_these = select(SewerLimit).join(SewerConsent).where(*in_force).options(joinedload(SewerLimit.consent))
    return list(session.execute(of_these.order_by(SewerLimit.id)).scalars())


def sewer_answer(
    session: DbSession, *, poured: Poured, at: datetime, readings: Readings | None = None, lock: bool = False
) -> SewerAnswer:
    """Say under which consent something may be discharged then; without `readings` its limits are not asked yet.

    Locked, the consents stand still, so that two at once do not go over a day's limit together.
    """
    lab = the_lab(session)
    zone = ZoneInfo(lab.timezone)
    day = to_local(at, zone=zone).date()
    in_force = select(SewerConsent).where(SewerConsent.valid_from <= day, SewerConsent.valid_until >= day)
    if lock:
        in_force = in_force.with_for_update()
    found = session.execute(in_force.order_by(SewerConsent.id)).scalars().all()
    named = [consent for consent in found if consent.covers(code=poured.waste_code, kind=poured.kind)]
    limits = tuple(limit for consent in named for limit in consent.limits)
    tried: list[SewerConsent | None] = [*named] or [None]
    why = ""
    for consent in tried:
        today_ul = 0 if consent is None else _discharged_under(session, consent.id, day=day, zone=zone)
        why = why_not_to_sewer(
            drains_to=lab.drains_to,
            code=poured.waste_code,
            kind=poured.kind,
            volume_ul=poured.volume_ul,
            consent=consent,
            today_ul=today_ul,
            readings=readings,
        )
        if not why:
            return SewerAnswer(consent, "", limits)
    return SewerAnswer(None, why, limits)


def _discharged_under(session: DbSession, consent_id: int, *, day: date, zone: ZoneInfo) -> int:
    """What went to the foul sewer under a consent on one day of the lab. [µL]"""
    start, end = (datetime.combine(each, time.min, tzinfo=zone).astimezone(UTC) for each in (day, day + timedelta(1)))
    total = select(func.coalesce(func.sum(Discharge.volume_ul), 0)).where(
        Discharge.consent_id == consent_id, Discharge.discharged_at >= start, Discharge.discharged_at < end
    )
    return int(session.execute(total).scalar_one())


def discharge_or_raise(session: DbSession, discharge_id: int, *, lock: bool = False) -> Discharge:
    readings = selectinload(Discharge.readings)
    return get_or_raise(session, Discharge, discharge_id, "discharge", lock=lock, options=[readings])


def discharge_of(session: DbSession, *, vessel_id: int) -> Discharge:
    """What was discharged out of a vessel last."""
    of_vessel = select(Discharge).join(Posting, Posting.movement_id == Discharge.movement_id)
    newest_first = of_vessel.where(Posting.vessel_id == vessel_id).order_by(Discharge.id.desc())
    return session.execute(newest_first.limit(1)).scalar_one()


def without_consent(session: DbSession, *, limit: int) -> list[Discharge]:
    """What went down without consent, newest first."""
    newest_first = select(Discharge).where(Discharge.wrong_because != "").order_by(Discharge.id.desc()).limit(limit)
    recorded_by = joinedload(Discharge.recorded_by).lazyload(Person.role_rows)
    return list(session.execute(newest_first.options(recorded_by)).scalars())


@dataclass(frozen=True)
class LevelCorrection:
    """A container's level set to what was found in it. `difference_ul` is what was found less what the book said."""

    corrected_at: datetime
    label: str
    stream: str
    difference_ul: int
    by: str


def level_corrections(session: DbSession, *, start: datetime, end: datetime) -> list[LevelCorrection]:
    corrections = (
        select(Movement.happened_at, WasteContainer.label, WasteStream.name, Posting.amount, Person.name)
        .join(Posting)
        .join(WasteContainer, WasteContainer.vessel_id == Posting.vessel_id)
        .join(WasteStream)
        .join(Person, Person.id == Movement.recorded_by_id)
        .where(Movement.what == "level corrected", Movement.happened_at >= start, Movement.happened_at < end)
        .order_by(Movement.happened_at, Movement.id)
    )
    return [LevelCorrection(*row) for row in session.execute(corrections)]


CONTAINER = RowKind(
    table=WasteContainer,
    called="container",
    many="waste containers",
    pages=(Page("waste.container", "container_id"),),
    coded=CodeKind.CONTAINER,
    label=Page("documents.labels", "label", written="container-{}"),
    search=Search(
        select(
            WasteContainer.id,
            WasteStream.name,
            WasteContainer.label,
            WasteContainer.place,
            WasteContainer.collected_at.is_not(None),
        ).join(WasteContainer.stream),
        by=(WasteStream.name, WasteStream.code, WasteContainer.place),
        gone="collected",
    ),
)
COLLECTION = RowKind(
    table=Collection,
    called="collection",
    many="collections",
    pages=(Page("waste.collection", "collection_id"),),
    search=Search(
        select(Collection.id, Collection.note_code, NOTHING, Collection.carrier, NEVER), by=(Collection.note_code,)
    ),
)
DISCHARGE = RowKind(
    table=Discharge, called="discharge", many="discharges", pages=(Page("waste.discharge", "discharge_id"),)
)
