"""What a kind of row is: its page, what one is called, its code, its label, and how it is searched for.

Each room describes its own kinds; `labsys.desk.registry` lists them all.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from flask import url_for
from sqlalchemy import Boolean, ColumnElement, Select, String, literal
from sqlalchemy.orm import InstrumentedAttribute

from labsys.database import Model
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.records.models import CodeKind

NOTHING = literal("", String)
NEVER = literal(False, Boolean)


@dataclass(frozen=True)
class Page:
    """A page of one row, which its `argument` takes as `written`; without an argument a page that lists them all."""

    endpoint: str
    argument: str = ""
    needed: Permission = Permission.SEE_LAB
    written: str = "{}"

    def address(self, row_id: int) -> str:
        arguments: dict[str, Any] = {self.argument: self.written.format(row_id)} if self.argument else {}
        return url_for(self.endpoint, **arguments)


@dataclass(frozen=True)
class Search:
    """How rows are found: `rows` gives id, name, code, what tells it from its namesakes, and whether it is gone.

    `by` are the columns that are searched for words. A row is found only by those `open_to` lets see it.
    """

    rows: Select[int, str, str, str, bool]
    by: tuple[InstrumentedAttribute[str], ...]
    gone: str = ""  # what is said of one that is
    open_to: Callable[[Person], ColumnElement[bool]] | None = None

    def where(self, person: Person) -> tuple[ColumnElement[bool], ...]:
        return (self.open_to(person),) if self.open_to else ()


@dataclass(frozen=True, kw_only=True)
class RowKind:
    """One kind of row. Somebody is led to the first of its `pages` that they may open."""

    table: type[Model]
    called: str
    many: str
    pages: tuple[Page, ...]
    coded: CodeKind | None = None
    label: Page | None = None
    search: Search | None = None

    def address(self, row_id: int) -> str:
        return self.pages[0].address(row_id)

    def page_for(self, person: Person) -> Page | None:
        return next((page for page in self.pages if may(person, page.needed)), None)
