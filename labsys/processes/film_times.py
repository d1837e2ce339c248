"""The lab's own table of developing times: entering a row, changing one, withdrawing one, and reading them."""

from collections.abc import Collection
from dataclasses import asdict, dataclass

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import FilmFormat
from labsys.database import DbSession, flush_or_refuse
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.processes.models import FilmTime
from labsys.products import queries as products
from labsys.products.rules import ProductRefused, check_version
from labsys.records.queries import get_or_raise

PPM_OF_PERCENT = 10_000
_TWIN = {"constraint": "uq_film_times_in_use", "columns": "film_times.product_id"}


@dataclass(frozen=True, kw_only=True)
class FilmTimeEntry:
    """What is entered of one row. `longer_ppm` None: nothing is stated of a developer that film went through."""

    film: str
    exposure_index: int
    product_id: int
    water_parts_milli: int
    temperature_milli_c: int
    agitation: str
    film_format: FilmFormat
    seconds: int
    source: str
    free_milli: int = 0
    longer_ppm: int | None = None


@act
def add_film_time(act: Act, *, entry: FilmTimeEntry) -> FilmTime:
    """Enter a row of the table. Raises NotPermitted, NotFound or ProductRefused."""
    require(act.actor, Permission.KEEP_STOCK)
    _check(act.session, entry)
    row = FilmTime(**vars(entry), version=1, entered_at=act.now, entered_by_id=act.actor.id)
    act.session.add(row)
    flush_or_refuse(act.session, _twin(), **_TWIN)
    act.tell("film_time.added", about=row, facts=asdict(entry))
    return row


@act
def change_film_time(act: Act, *, time_id: int, entry: FilmTimeEntry, version: int | None = None) -> FilmTime:
    """Change a row; the record keeps what it said before. `version` is the one the change started from.

    Raises NotPermitted, NotFound, ProductRefused, or EntriesMoved where the version has moved on.
    """
    require(act.actor, Permission.KEEP_STOCK)
    row = film_time_or_raise(act.session, time_id, lock=True)
    check_version(seen=version, stands=row.version)
    _check_in_use(row)
    _check(act.session, entry)
    before = {name: getattr(row, name) for name in vars(entry)}
    for name, told in vars(entry).items():
        setattr(row, name, told)
    row.version += 1
    row.entered_at, row.entered_by_id = act.now, act.actor.id
    flush_or_refuse(act.session, _twin(), **_TWIN)
    act.tell("film_time.changed", about=row, facts={**asdict(entry), "was": before})
    return row


@act
def withdraw_film_time(act: Act, *, time_id: int) -> FilmTime:
    """Use a row no more. Raises NotPermitted, NotFound or ProductRefused."""
    require(act.actor, Permission.KEEP_STOCK)
    row = film_time_or_raise(act.session, time_id, lock=True)
    _check_in_use(row)
    row.withdrawn_at = act.now
    act.tell("film_time.withdrawn", about=row, facts={"film": row.film, "exposure_index": row.exposure_index})
    return row


def film_time_or_raise(session: DbSession, time_id: int, *, lock: bool = False) -> FilmTime:
    return get_or_raise(session, FilmTime, time_id, "developing time", lock=lock)


def film_times(
    session: DbSession, *, product_ids: Collection[int] | None = None, withdrawn: bool = False
) -> list[FilmTime]:
    """Rows in use, or those withdrawn, by film; all of them, or those of some developers."""
    rows = select(FilmTime).options(
        joinedload(FilmTime.product), joinedload(FilmTime.entered_by).lazyload(Person.role_rows)
    )
    rows = rows.where(FilmTime.withdrawn_at.is_not(None) if withdrawn else FilmTime.withdrawn_at.is_(None))
    if product_ids is not None:
        rows = rows.where(FilmTime.product_id.in_(product_ids))
    ordered = rows.order_by(FilmTime.film, FilmTime.exposure_index, FilmTime.id)
    return list(session.execute(ordered).scalars())


def subject_in_words(row: FilmTime) -> str:
    """Say of which film, exposure index and agitation a row is."""
    return f"{row.film}, EI {row.exposure_index}, {row.agitation}"


def _check(session: DbSession, entry: FilmTimeEntry) -> None:
    if products.product_or_raise(session, entry.product_id).kind is not SolutionKind.DEVELOPER:
        raise ProductRefused("Choose a developer.", field="product_id")


def _check_in_use(row: FilmTime) -> None:
    if row.withdrawn_at is not None:
        raise ProductRefused("This row was withdrawn. Enter a new one.")


def _twin() -> ProductRefused:
    return ProductRefused(
        "There is a row for this film, exposure index, developer, dilution, temperature, agitation and format. "
        "Change that one.",
        field="film",
    )
