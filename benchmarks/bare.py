"""The bare page to hold a page against: the same reads as plain SQL, and as many bytes through Jinja.

What a page asks of the database is taken down, statement by statement with its parameters, and asked again through the
database's own driver in a Flask view that has nothing around it: no sign-in, no session, no objects, no rules. Its
template is one loop that escapes each value read into a cell, and cells of nothing else up to the same size. A bare
write makes the same reads in one transaction begun as ours is, then as many INSERT and UPDATE statements with as many
characters of values, on a table of its own, and commits with the same durability (write-ahead log, full sync).
"""

import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flask import Flask, Response
from markupsafe import escape
from sqlalchemy import Engine, event

_CELL = 64  # bytes of a cell of nothing else
_AROUND = len("<p></p>\n")
_TEMPLATE = "{% for cell in cells %}<p>{{ cell }}</p>\n{% endfor %}"
_PRAGMAS = ("busy_timeout=5000", "journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON")
SCRATCH = "CREATE TABLE IF NOT EXISTS bare_rows (id INTEGER PRIMARY KEY, content TEXT NOT NULL)"


@dataclass(frozen=True)
class Asked:
    """One statement as the driver was given it."""

    statement: str
    parameters: Any

    @property
    def verb(self) -> str:
        return self.statement.split(None, 1)[0].upper()

    @property
    def characters(self) -> int:
        return sum(len(str(value)) for value in self.parameters)


@dataclass(frozen=True)
class BarePage:
    """All that a page asked of the database, and how many bytes it answered with."""

    asked: tuple[Asked, ...]
    size: int

    @property
    def reads(self) -> list[Asked]:
        return [one for one in self.asked if one.verb in ("SELECT", "WITH")]

    @property
    def writes(self) -> list[Asked]:
        return [one for one in self.asked if one.verb in ("INSERT", "UPDATE", "DELETE")]


@contextmanager
def taken_down(engine: Engine) -> Iterator[list[Asked]]:
    """Take down what is asked of a database."""
    asked: list[Asked] = []

    def note(_connection: Any, _cursor: Any, statement: str, parameters: Any, _context: Any, _many: bool) -> None:
        is_many = bool(parameters) and isinstance(parameters[0], tuple)
        asked.extend(Asked(statement, one) for one in (parameters if is_many else [parameters]))

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield asked
    finally:
        event.remove(engine, "before_cursor_execute", note)


def framed(values: Sequence[Any], *, size: int) -> tuple[int, list[str]]:
    """How many of the values read come to a size once rendered, and cells of nothing else for what is wanting to it.

    >>> framed(["<b>", 7, "much more than there is room for" * 9], size=300)[0]
    2
    """
    left, shown = size, 0
    for value in values:
        taken = len(str(escape(value)).encode()) + _AROUND
        if left - taken < 2 * _CELL:
            break
        left, shown = left - taken, shown + 1
    count, over = divmod(max(left, _CELL), _CELL)
    return shown, ["x" * (_CELL - _AROUND)] * (count - 1) + ["x" * (_CELL - _AROUND + over)]


def bare_app(path: Path, pages: dict[str, BarePage]) -> Flask:
    """A Flask application with one view a page, on the lab's own database."""
    app = Flask("bare")
    local = threading.local()
    template = app.jinja_env.from_string(_TEMPLATE)
    frames: dict[BarePage, tuple[int, list[str]]] = {}

    def connection() -> sqlite3.Connection:
        if not hasattr(local, "connection"):
            local.connection = sqlite3.connect(path, isolation_level=None)
            for pragma in _PRAGMAS:
                local.connection.execute(f"PRAGMA {pragma}")
        return local.connection

    def render(database: sqlite3.Connection, page: BarePage) -> str:
        rows = [database.execute(asked.statement, asked.parameters).fetchall() for asked in page.reads]
        values = [value for found in rows for row in found for value in row]
        if page not in frames:
            frames[page] = framed(values, size=page.size)
        shown, padding = frames[page]
        return template.render(cells=[*values[:shown], *padding])

    def read(page: BarePage) -> str:
        database = connection()
        database.execute("BEGIN")
        text = render(database, page)
        database.execute("ROLLBACK")
        return text

    def write(page: BarePage) -> Response:
        database = connection()
        database.execute("BEGIN IMMEDIATE")
        text = render(database, page)
        newest = 0
        for asked in page.writes:
            content = "x" * asked.characters
            if asked.verb == "INSERT":
                newest = database.execute("INSERT INTO bare_rows (content) VALUES (?)", (content,)).lastrowid or 0
            else:
                database.execute("UPDATE bare_rows SET content = ? WHERE id = ?", (content, newest))
        database.execute("COMMIT")
        return Response(text, 303, {"Location": "/"})

    for name, page in pages.items():
        view, method = (write, "POST") if page.writes else (read, "GET")
        app.add_url_rule(f"/{name}", name, view, methods=[method], defaults={"page": page})
    return app
