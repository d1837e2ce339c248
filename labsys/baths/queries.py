"""What pages, documents and acts read of the baths."""

from datetime import date, datetime

from sqlalchemy import Select, exists, func, or_, select, union_all
from sqlalchemy.orm import aliased, joinedload, selectinload, undefer
from sqlalchemy.orm.strategy_options import _AbstractLoad

from labsys.baths.models import (
    Batch,
    BatchPart,
    Bath,
    BathLine,
    Check,
    Place,
    Replenishing,
    Seasoning,
    StockPart,
    Use,
    UseBath,
    Way,
)
from labsys.baths.rules import PLACE_OF
from labsys.baths.strip_models import StripAim
from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.sizes import Load, Pieces, size_of
from labsys.database import DbSession
from labsys.ledger.models import Movement
from labsys.people.models import Person
from labsys.people.row_kinds import NEVER, NOTHING, Page, RowKind, Search
from labsys.processes.models import ProcessStep
from labsys.products.models import AgeRule, Product
from labsys.products.queries import APPROVERS, FOR_STANDING, FOR_WORKING_SOLUTION
from labsys.records.models import CodeKind
from labsys.records.queries import get_or_raise
from labsys.store import queries as store
from labsys.store.models import Bottle

_LOOKED_BACK = 50  # entries from which what somebody does again is taken
_STANDS = Bath.dumped_at.is_(None)


def for_life() -> tuple[_AbstractLoad, ...]:
    """All that a bath's life is worked out from."""
    product = joinedload(Bath.product)
    return (
        product.joinedload(Product.capacities),
        product.joinedload(Product.ages),
        product.joinedload(Product.learned).options(*APPROVERS),
        selectinload(Bath.checks).joinedload(Check.aim),
        selectinload(Bath.check_rules),
        joinedload(Bath.line),
        joinedload(Bath.rotation),
        joinedload(Bath.replenishing),
        joinedload(Bath.seasoning),
        undefer(Bath.has_second_fixer),
    )


def lines(session: DbSession) -> list[BathLine]:
    return list(session.execute(select(BathLine).order_by(BathLine.name)).scalars())


def products_in_service(session: DbSession) -> set[int]:
    """Products of which a shared bath stands ready, so that nobody has to make it up themselves."""
    in_service = Bath.in_service_at.is_not(None), Bath.out_of_service_at.is_(None), Bath.dumped_at.is_(None)
    return set(session.execute(select(Bath.product_id).where(*in_service)).scalars())


def line_by_name(session: DbSession, name: str) -> BathLine | None:
    return session.execute(select(BathLine).where(BathLine.name == name)).scalar_one_or_none()


def products_without_keeping(session: DbSession, *, process_id: int | None, holding: Holding) -> dict[int, Product]:
    """Products a process has baths of, of which nobody said how long they keep in a kind of vessel."""
    if process_id is None:
        return {}
    of_process = select(ProcessStep.product_id).where(ProcessStep.process_id == process_id)
    products = (
        select(Product)
        .where(Product.id.in_(of_process), Product.kind.in_(PLACE_OF), ~Product.ages.any(AgeRule.holding == holding))
        .order_by(Product.name, Product.id)
    )
    return {product.id: product for product in session.execute(products).scalars()}


def line_or_raise(session: DbSession, line_id: int, *, lock: bool = False) -> BathLine:
    return get_or_raise(session, BathLine, line_id, "line", lock=lock)


def bath_or_raise(session: DbSession, bath_id: int) -> Bath:
    """A bath with all that its page and its label tell."""
    whole = (
        *for_life(),
        joinedload(Bath.product).options(*FOR_WORKING_SOLUTION),
        joinedload(Bath.mixed_by),
        selectinload(Bath.batches).selectinload(Batch.parts).joinedload(BatchPart.bottle).joinedload(Bottle.product),
        selectinload(Bath.batches).joinedload(Batch.mixed_by),
        selectinload(Bath.batches).joinedload(Batch.stock_part).joinedload(StockPart.stock),
        joinedload(Bath.replenishing).joinedload(Replenishing.product),
        joinedload(Bath.seasoning).joinedload(Seasoning.came_from),
        selectinload(Bath.checks).joinedload(Check.checked_by),
    )
    return get_or_raise(session, Bath, bath_id, "bath", options=whole)


def bath_with_life(session: DbSession, bath_id: int, *, lock: bool = False) -> Bath:
    return get_or_raise(session, Bath, bath_id, "bath", lock=lock, options=for_life())


def baths_here(session: DbSession) -> list[Bath]:
    """Baths not dumped yet, by line and age; pages sort them into working order."""
    mixed_by = joinedload(Bath.mixed_by).lazyload(Person.role_rows)
    return _baths(session, select(Bath).where(_STANDS).options(*for_life(), mixed_by).order_by(Bath.line_id))


def baths_of_line(session: DbSession, *, line_id: int) -> list[Bath]:
    """Baths of one line not dumped yet, by age."""
    of_line = select(Bath).where(Bath.line_id == line_id, _STANDS)
    return _baths(session, of_line.options(*for_life(), joinedload(Bath.mixed_by)))


def baths_in_service(session: DbSession, *, line_id: int, at: datetime, lock: bool = False) -> list[Bath]:
    """Baths of a line that were in service at an instant, in the order of their rows."""
    some = aliased(Bath)
    not_dumped_by_then = union_all(  # an index finds these few; with OR, SQLite goes through every bath there ever was
        select(some.id).where(some.dumped_at.is_(None), some.line_id == line_id),
        select(some.id).where(some.dumped_at > at, some.line_id == line_id),
    )
    in_service = select(Bath).where(
        Bath.id.in_(not_dumped_by_then),
        Bath.line_id == line_id,
        Bath.in_service_at <= at,
        or_(Bath.out_of_service_at.is_(None), Bath.out_of_service_at > at),
        or_(Bath.dumped_at.is_(None), Bath.dumped_at > at),
    )
    return _baths(session, in_service.options(*for_life()), lock=lock)


def in_service_at_place(session: DbSession, *, line_id: int, place: Place, lock: bool = False) -> list[Bath]:
    in_service = select(Bath).where(
        Bath.line_id == line_id,
        Bath.place == place,
        Bath.in_service_at.is_not(None),
        Bath.out_of_service_at.is_(None),
        _STANDS,
    )
    return _baths(session, in_service, lock=lock)


def spares(session: DbSession, *, line_id: int) -> list[Bath]:
    never_in_service = select(Bath).where(
        Bath.line_id == line_id, Bath.in_service_at.is_(None), Bath.way != Way.STOCK, _STANDS
    )
    return _baths(session, never_in_service.options(*for_life()))


def baths_of_use(session: DbSession, *, use_id: int, lock: bool = False) -> list[Bath]:
    of_use = select(Bath).join(UseBath, UseBath.bath_id == Bath.id).where(UseBath.use_id == use_id)
    return _baths(session, of_use, lock=lock)


def _baths(session: DbSession, query: Select[Bath], *, lock: bool = False) -> list[Bath]:
    """The baths of a query in the order of their rows; those that are locked are read anew."""
    if lock:
        query = query.with_for_update(of=Bath).execution_options(populate_existing=True)
    return list(session.execute(query.order_by(Bath.id)).scalars().unique())


def products_with_bottles(session: DbSession, *, today: date) -> list[tuple[Product, int]]:
    """Products of which a bottle is offered, by name, each with what those bottles hold in its own unit."""
    left: dict[int, int] = {}
    for bottle in store.offered(session, today=today):
        left[bottle.product_id] = left.get(bottle.product_id, 0) + bottle.vessel.level
    products = select(Product).where(Product.id.in_(left)).options(*FOR_STANDING).order_by(Product.name, Product.id)
    return [(product, left[product.id]) for product in session.execute(products).scalars().unique()]


def last_saved(session: DbSession, *, person_id: int, line_id: int, limit: int) -> list[Pieces]:
    """What a person put through a line last, newest first, each once; not what a class did, nor what was undone."""
    newest_first = (
        select(Use.size, Use.material, Use.count.label("pieces"))
        .where(Use.person_id == person_id, Use.line_id == line_id, Use.class_name == "", Use.count > 0)
        .order_by(Use.used_at.desc(), Use.id.desc())
        .limit(_LOOKED_BACK)
    )
    each_once = dict.fromkeys(session.execute(newest_first).all())
    return [Pieces(size_of(key=row.size), row.material, row.pieces) for row in each_once][:limit]


def has_logged(session: DbSession, *, person_id: int, line_id: int, since: datetime) -> bool:
    """Whether a person put something through a line since then."""
    of_theirs = (Use.person_id == person_id, Use.line_id == line_id, Use.used_at >= since, Use.count > 0)
    return session.execute(select(Use.id).where(*of_theirs).limit(1)).first() is not None


def saved_with(session: DbSession, use: Use) -> list[Use]:
    """What was saved in one act with a use, itself among them."""
    query = (
        select(Use)
        .where(
            Use.line_id == use.line_id,
            Use.recorded_by_id == use.recorded_by_id,
            Use.recorded_at == use.recorded_at,
            Use.corrects_id.is_(None),
        )
        .options(joinedload(Use.line), joinedload(Use.corrected_by))
        .order_by(Use.id)
    )
    return list(session.execute(query).scalars())


def use_or_raise(session: DbSession, use_id: int) -> Use:
    whole = (
        joinedload(Use.line),
        joinedload(Use.person),
        joinedload(Use.recorded_by),
        joinedload(Use.corrected_by),
        selectinload(Use.baths).joinedload(UseBath.bath),
    )
    return get_or_raise(session, Use, use_id, "use", options=whole)


def uses_of_bath(session: DbSession, *, bath_id: int, before_id: int | None = None, limit: int) -> list[Use]:
    """What went through one bath, newest entry first."""
    of_bath = select(Use).join(UseBath).where(UseBath.bath_id == bath_id)
    return _uses(session, of_bath, before_id=before_id, limit=limit)


def loads_of_bath(session: DbSession, *, bath_id: int, limit: int) -> list[Use]:
    """What went through one bath, newest first: only what still stands, corrected entries and those taken back not."""
    newer = aliased(Use)
    stands = Use.count > 0, ~select(newer.id).where(newer.corrects_id == Use.id).exists()
    of_bath = select(Use).join(UseBath).where(UseBath.bath_id == bath_id, *stands)
    newest_first = of_bath.order_by(Use.used_at.desc(), Use.id.desc()).limit(limit)
    with_person = joinedload(Use.person).lazyload(Person.role_rows)
    return list(session.execute(newest_first.options(with_person)).scalars())


def uses_of_person(session: DbSession, *, person_id: int, before_id: int | None = None, limit: int) -> list[Use]:
    """What one person logged, newest entry first."""
    return _uses(session, select(Use).where(Use.person_id == person_id), before_id=before_id, limit=limit)


def used_after(session: DbSession, *, bath_id: int, at: datetime) -> Load:
    """What went through a bath later than an instant, as it now stands in its uses."""
    newer = aliased(Use)
    later = (
        select(Use.material, func.sum(Use.area_mm2).label("mm2"), func.sum(Use.count).label("pieces"))
        .join(UseBath, UseBath.use_id == Use.id)
        .where(
            UseBath.bath_id == bath_id, Use.used_at > at, ~select(newer.id).where(newer.corrects_id == Use.id).exists()
        )
        .group_by(Use.material)
    )
    load = Load()
    for row in session.execute(later):
        load += Load(**{f"{row.material}_mm2": int(row.mm2)}, pieces=int(row.pieces))
    return load


def aim_of_line(session: DbSession, line_id: int) -> StripAim | None:
    """What a line's control strips aim at now."""
    newest = select(StripAim).where(StripAim.line_id == line_id).order_by(StripAim.id.desc()).limit(1)
    return session.execute(newest.options(joinedload(StripAim.set_by))).scalar_one_or_none()


def has_history(session: DbSession, bath_id: int) -> bool:
    """Whether a bath was used, tested or replenished since it was mixed; one query."""
    used = exists().where(UseBath.bath_id == bath_id)
    tested = exists().where(Check.bath_id == bath_id)
    mixed_by = select(func.min(Batch.id)).where(Batch.bath_id == bath_id).scalar_subquery()
    replenished = exists().where(Batch.bath_id == bath_id, Batch.id > mixed_by)
    return bool(session.execute(select(or_(used, tested, replenished))).scalar())


def movement_or_raise(session: DbSession, movement_id: int) -> Movement:
    return session.get_one(Movement, movement_id, options=[selectinload(Movement.postings)])


def _uses(session: DbSession, query: Select[Use], *, before_id: int | None, limit: int) -> list[Use]:
    query = query.options(
        joinedload(Use.person), joinedload(Use.recorded_by), joinedload(Use.line), joinedload(Use.corrected_by)
    )
    if before_id is not None:
        query = query.where(Use.id < before_id)
    return list(session.execute(query.order_by(Use.id.desc()).limit(limit)).scalars().unique())


LINE = RowKind(
    table=BathLine,
    called="line of baths",
    many="lines of baths",
    pages=(Page("baths.line", "line_id"),),
    coded=CodeKind.LINE,
    search=Search(select(BathLine.id, BathLine.name, BathLine.code, NOTHING, NEVER), by=(BathLine.name,)),
)
BATH = RowKind(
    table=Bath,
    called="bath",
    many="baths",
    pages=(Page("baths.show", "bath_id"),),
    coded=CodeKind.BATH,
    label=Page("documents.bath_label", "bath_id"),
    search=Search(
        select(Bath.id, Bath.name, Bath.code, BathLine.name, Bath.dumped_at.is_not(None)).join(Bath.line),
        by=(Bath.name,),
        gone="dumped",
    ),
)
USE = RowKind(table=Use, called="use", many="uses", pages=(Page("baths.use", "use_id"),))
