"""The file: a zip of one JSON-lines member a table and a manifest that says what must be in them. No database here."""

import base64
import binascii
import hashlib
import json
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from pathlib import Path
from types import TracebackType
from typing import IO, Any

FORMAT = 1
MANIFEST = "manifest.json"
_CHUNK = 1 << 20
_DAMAGE = (zipfile.BadZipFile, zlib.error, OSError, EOFError, RuntimeError)  # what reading a spoilt zip may raise


class ArchiveRefused(Exception):
    """This file cannot be restored; the message says what is wrong with it and what to do."""


class Kind(StrEnum):
    """How a column is written: as a JSON value of its own, or as text that gives it back exactly."""

    INTEGER = "integer"
    TEXT = "text"
    BOOLEAN = "boolean"
    INSTANT = "instant"
    DAY = "day"
    BYTES = "bytes"


@dataclass(frozen=True)
class Column:
    name: str
    kind: Kind


@dataclass(frozen=True)
class Table:
    """One table as the manifest tells of it: tables stand in an order in which each can be filled after those before.

    Attributes:
        digest: SHA-256 of its member.
    """

    name: str
    columns: list[Column]
    rows: int
    digest: str

    @property
    def member(self) -> str:
        return f"tables/{self.name}.jsonl"


@dataclass(frozen=True)
class Manifest:
    """What an archive says of itself.

    Attributes:
        revision: Migration the database stood at.
        head_number: Newest entry of the record, and `head_hash` its hash.
    """

    format: int
    labsys: str
    revision: str
    made_at: str
    lab: str
    head_number: int
    head_hash: str
    tables: list[Table]


Row = tuple[Any, ...]

_WRITE: dict[Kind, Callable[[Any], Any]] = {
    Kind.INTEGER: int,
    Kind.TEXT: str,
    Kind.BOOLEAN: bool,
    Kind.INSTANT: lambda instant: instant.astimezone(UTC).isoformat(),
    Kind.DAY: lambda day: day.isoformat(),
    Kind.BYTES: lambda content: base64.b64encode(content).decode("ascii"),
}
_READ: dict[Kind, tuple[type, Callable[[Any], Any]]] = {
    Kind.INTEGER: (int, lambda value: value),
    Kind.TEXT: (str, lambda value: value),
    Kind.BOOLEAN: (bool, lambda value: value),
    Kind.INSTANT: (str, lambda value: datetime.fromisoformat(value).astimezone(UTC)),
    Kind.DAY: (str, date.fromisoformat),
    Kind.BYTES: (str, lambda value: base64.b64decode(value, validate=True)),
}


def write_value(value: Any, kind: Kind) -> Any:
    """Write one value as JSON can carry it.

    >>> write_value(b"PDF", Kind.BYTES)
    'UERG'
    """
    return None if value is None else _WRITE[kind](value)


def read_value(value: Any, kind: Kind) -> Any:
    """Read one value back. Raises ValueError where it is not of its kind.

    >>> read_value("2026-03-02T09:00:00.000001+00:00", Kind.INSTANT)
    datetime.datetime(2026, 3, 2, 9, 0, 0, 1, tzinfo=datetime.timezone.utc)
    """
    if value is None:
        return None
    expected, read = _READ[kind]
    if type(value) is not expected:
        raise ValueError(f"{value!r} is not {kind}")
    try:
        return read(value)
    except binascii.Error as error:
        raise ValueError(str(error)) from error


class Writer(AbstractContextManager["Writer"]):
    """Writes an archive into an open file: tables in order, then the manifest."""

    def __init__(self, file: IO[bytes]):
        self._zip = zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED)
        self._tables: list[Table] = []

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._zip.close()

    def add_table(self, name: str, columns: list[Column], rows: Iterable[Row]) -> None:
        digest, count = hashlib.sha256(), 0
        with self._zip.open(f"tables/{name}.jsonl", "w", force_zip64=True) as member:
            for row in rows:
                values = [write_value(value, column.kind) for value, column in zip(row, columns, strict=True)]
                line = (json.dumps(values, ensure_ascii=False, separators=(",", ":")) + "\n").encode("utf-8")
                digest.update(line)
                member.write(line)
                count += 1
        self._tables.append(Table(name, columns, count, digest.hexdigest()))

    def finish(
        self, *, labsys: str, revision: str, made_at: datetime, lab: str, head_number: int, head_hash: str
    ) -> Manifest:
        made = made_at.astimezone(UTC).isoformat()
        manifest = Manifest(FORMAT, labsys, revision, made, lab, head_number, head_hash, self._tables)
        self._zip.writestr(MANIFEST, json.dumps(asdict(manifest), ensure_ascii=False, indent=1))
        return manifest


class Reader(AbstractContextManager["Reader"]):
    """Opens an archive and proves it whole before a single row is read. Raises ArchiveRefused."""

    def __init__(self, path: Path):
        try:
            self._zip = zipfile.ZipFile(path)
        except FileNotFoundError:
            raise ArchiveRefused(f"There is no file {path}.") from None
        except (ValueError, *_DAMAGE) as error:
            raise ArchiveRefused(f"{path} is not a whole back-up: it was cut short, or is something else.") from error
        try:
            self.manifest = self._read_manifest()
            self._check_members()
        except BaseException:
            self._zip.close()
            raise

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._zip.close()

    def rows(self, table: Table) -> Iterator[Row]:
        """The rows of a table, in the order they were written."""
        with self._zip.open(table.member) as member:
            for number, line in enumerate(member, start=1):
                try:
                    values = json.loads(line)
                    yield tuple(
                        read_value(value, column.kind) for value, column in zip(values, table.columns, strict=True)
                    )
                except (ValueError, TypeError) as error:
                    raise ArchiveRefused(f"Line {number} of {table.member} cannot be read: {error}.") from error

    def _read_manifest(self) -> Manifest:
        try:
            content = json.loads(self._zip.read(MANIFEST))
        except KeyError:
            raise ArchiveRefused("This is not a back-up of labsys: it has no manifest.") from None
        except (ValueError, *_DAMAGE) as error:
            raise ArchiveRefused(f"The manifest cannot be read: {error}.") from error
        if not isinstance(content, dict) or content.get("format") != FORMAT:
            written_in = content.get("format") if isinstance(content, dict) else None
            raise ArchiveRefused(
                f"The back-up is written in format {written_in!r}; this labsys reads format {FORMAT}. Use the labsys "
                "that made it, or a newer one."
            )
        try:
            tables = [
                Table(**{**table, "columns": [Column(told["name"], Kind(told["kind"])) for told in table["columns"]]})
                for table in content.pop("tables")
            ]
            return Manifest(**content, tables=tables)
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise ArchiveRefused(f"The manifest was altered: {error}.") from error

    def _check_members(self) -> None:
        wanted = {table.member for table in self.manifest.tables} | {MANIFEST}
        names = self._zip.namelist()
        if len(names) != len(set(names)) or set(names) != wanted:
            wrong = sorted(set(names) ^ wanted) or sorted({name for name in names if names.count(name) > 1})
            raise ArchiveRefused(f"Missing from the back-up, or added to it: {', '.join(wrong)}.")
        for table in self.manifest.tables:
            digest, rows = hashlib.sha256(), 0
            try:
                with self._zip.open(table.member) as member:
                    while chunk := member.read(_CHUNK):
                        digest.update(chunk)
                        rows += chunk.count(b"\n")
            except _DAMAGE as error:
                raise ArchiveRefused(f"{table.member} is damaged: {error}.") from error
            if (digest.hexdigest(), rows) != (table.digest, table.rows):
                raise ArchiveRefused(f"{table.member} was altered: it is not what the manifest says.")
