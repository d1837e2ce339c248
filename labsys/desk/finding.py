"""Finding rows by the number on a label, by name and by lot: whatever has a page that the person may open.

Names are compared here and not in SQL, so that on both databases capitals and accents do not matter in any script, and
no character means anything but itself. Uses and bookings have no name: what a search costs grows with people and lots
alone, some thousands in ten years.
"""

import unicodedata
from collections.abc import Collection, Iterable, Mapping
from itertools import groupby
from typing import Any, NamedTuple

from flask import url_for
from sqlalchemy import Select, literal, or_, select, union_all

from labsys.database import DbSession
from labsys.desk.registry import KINDS, OF_CODE, OF_TABLE
from labsys.hazards.substances import find_substances
from labsys.people.models import Person
from labsys.people.row_kinds import RowKind, Search
from labsys.products.models import Product
from labsys.records.models import Code
from labsys.records.rules import whole_codes
from labsys.store.models import Bottle

MOST_OF_A_KIND = 10
_MOST_NAMES = 200  # of a kind: more than that have in common only what is too short to be looked for
_STROKES = str.maketrans("łøđħŧı", "lodhti")  # letters that Unicode does not take apart


class Found(NamedTuple):
    """One row: how it is called, what tells it from its namesakes, and where its page and its label are."""

    name: str
    code: str
    detail: str
    gone: str
    address: str
    label: str


class FoundKind(NamedTuple):
    """What was found of one kind: what is here first, of namesakes the newest."""

    called: str
    rows: list[Found]
    has_more: bool


class _Row(NamedTuple):
    table: str
    id: int
    name: str
    code: str
    detail: str
    is_gone: bool


def find(session: DbSession, typed: str, *, person: Person, prefix: str) -> list[FoundKind]:
    """Whatever has what was typed in its name, lot or code, a few of each kind, in a fixed number of queries."""
    searches = {
        kind.table.__tablename__: kind.search for kind in KINDS if kind.search is not None and kind.page_for(person)
    }
    names = _names_with(session, fold(typed).split(), searches, person=person)
    ids = _ids_of(session, whole_codes(typed, prefix=prefix))
    chosen = [
        _rows(table, search, names=names.get(table, ()), ids=ids.get(table, ()), person=person)
        for table, search in searches.items()
        if table in names or table in ids
    ]
    rows = sorted(_Row(*row) for row in session.execute(union_all(*chosen))) if chosen else []
    by_table = {table: list(several) for table, several in groupby(rows, lambda row: row.table)}
    found = [_found(kind, by_table[table], person) for table, kind in OF_TABLE.items() if table in by_table]
    return [*found, *_lots(session, names.get(Bottle.__tablename__, ())), *_substances(typed)]


def _lots(session: DbSession, lots: Collection[str]) -> list[FoundKind]:
    """Lots, each of one product: a page tells what it went into."""
    if not lots:
        return []
    of_lot = (
        select(Product.id, Product.name, Product.supplier, Bottle.lot)
        .join_from(Bottle, Product, Bottle.product_id == Product.id)
        .where(Bottle.lot.in_(lots), Bottle.lot != "")
        .distinct()
        .order_by(Product.name, Product.id, Bottle.lot)
        .limit(MOST_OF_A_KIND + 1)
    )
    rows = [
        Found(
            name=f"Lot {row.lot}",
            code="",
            detail=f"{row.name}, {row.supplier}",
            gone="",
            address=url_for("baths.lot", product_id=row.id, lot=row.lot),
            label="",
        )
        for row in session.execute(of_lot)
    ]
    return [FoundKind("lots", rows[:MOST_OF_A_KIND], len(rows) > MOST_OF_A_KIND)] if rows else []


def _substances(typed: str) -> list[FoundKind]:
    """Substances of the reference list, by name, usual short name or CAS number; each has its page in the register."""
    known = find_substances(typed)
    rows = [
        Found(
            name=each.name,
            code=each.cas,
            detail=", ".join(each.short_names),
            gone="",
            address=url_for("register.substance", cas=each.cas),
            label="",
        )
        for each in known[:MOST_OF_A_KIND]
    ]
    return [FoundKind("substances", rows, len(known) > MOST_OF_A_KIND)] if rows else []


def fold(words: str) -> str:
    """Words as they are compared: without capitals and accents.

    >>> fold("Łukasz Żak"), fold("Μαρία"), fold("STRASSE") == fold("Straße")
    ('lukasz zak', 'μαρια', True)
    """
    if words.isascii():  # most are, and ten years' lots are many
        return words.lower()
    taken_apart = unicodedata.normalize("NFKD", words.casefold())
    return "".join(letter for letter in taken_apart if not unicodedata.combining(letter)).translate(_STROKES)


def _names_with(
    session: DbSession, parts: Collection[str], searches: Mapping[str, Search], *, person: Person
) -> dict[str, list[str]]:
    """The names that have all parts of what was typed, by table; each different one is read once."""
    if not parts:
        return {}
    every = union_all(
        *(
            select(literal(table), column).where(*search.where(person)).distinct()
            for table, search in searches.items()
            for column in search.by
        )
    )
    names: dict[str, list[str]] = {}
    for table, name in session.execute(every).all():
        folded = fold(name)
        if all(part in folded for part in parts):
            names.setdefault(table, []).append(name)
    return {table: sorted(several)[:_MOST_NAMES] for table, several in names.items()}


def _ids_of(session: DbSession, codes: Collection[str]) -> dict[str, list[int]]:
    """The rows that codes stand on, by table."""
    ids: dict[str, list[int]] = {}
    if codes:
        for kind, row_id in session.execute(select(Code.kind, Code.row_id).where(Code.code.in_(codes))):
            ids.setdefault(OF_CODE[kind].table.__tablename__, []).append(row_id)
    return ids


def _rows(
    table: str, search: Search, *, names: Collection[str], ids: Collection[int], person: Person
) -> Select[*tuple[Any, ...]]:
    """The rows of one kind with these names or ids, one more than are shown."""
    id_, name, *_, is_gone = search.rows.selected_columns
    wanted = or_(id_.in_(ids), *(column.in_(names) for column in search.by))
    chosen = search.rows.where(wanted, *search.where(person)).order_by(is_gone, name, id_.desc())
    return select(literal(table), *chosen.limit(MOST_OF_A_KIND + 1).subquery().c)


def _found(kind: RowKind, rows: Iterable[_Row], person: Person) -> FoundKind:
    page = kind.page_for(person)
    assert page is not None  # noqa: S101 - else the kind was not searched
    ordered = sorted(rows, key=lambda row: (row.is_gone, fold(row.name), -row.id))
    return FoundKind(
        called=kind.many,
        rows=[
            Found(
                name=row.name,
                code=row.code,
                detail=row.detail,
                gone=kind.search.gone if kind.search and row.is_gone else "",
                address=page.address(row.id),
                label=kind.label.address(row.id) if kind.label and row.code and not row.is_gone else "",
            )
            for row in ordered[:MOST_OF_A_KIND]
        ],
        has_more=len(ordered) > MOST_OF_A_KIND,
    )
