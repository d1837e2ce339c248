"""Many rows put into a database at once: rows that are done, rows still changing, and the record's chain.

Rows are made by hand here, without services, and keep what the services keep: levels equal postings, entries follow
from each other, codes are numbered without gaps. `labsys verify` proves it.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Collection
from datetime import UTC, datetime
from random import Random
from typing import Any, TypeVar
from uuid import UUID

import sqlalchemy as sa
from sqlalchemy import Connection

from labsys.database import db
from labsys.records.chain import link_hash
from labsys.records.models import CodeKind
from labsys.records.rules import write_code

Row = dict[str, Any]
Place = TypeVar("Place", int, str)
Amount = tuple[Place, int]  # into a vessel or an account [µL]


class Rows:
    """Rows to be written by `write`, in the order in which the tables refer to each other.

    A row given to `add` is written as it is; one given to `keep` may go on changing, and is brought up to date by each
    `write` until it is let go.
    """

    def __init__(self, connection: Connection, *, random: Random, prefix: str):
        self._connection = connection
        self._random = random
        self._prefix = prefix
        self._as_text = connection.dialect.name == "sqlite"
        self._mark = "?" if self._as_text else "%s"
        self._new: dict[str, list[Row]] = defaultdict(list)
        self._kept: dict[str, dict[int, Row]] = defaultdict(dict)
        self._written: dict[str, set[int]] = defaultdict(set)
        self._changed: dict[str, list[Row]] = defaultdict(list)
        self._changes: dict[int, int] = defaultdict(int)
        self._entries: list[tuple[datetime, str]] = []
        self._last: dict[str, int] = {}
        self._last_code: dict[CodeKind, int] = {}

    def resume(self, connection: Connection) -> None:
        """Go on after whatever others have written meanwhile."""
        self._connection = connection
        self._last.clear()
        self._last_code.clear()

    def at(self, instant: datetime) -> Any:
        """An instant as the database keeps it."""
        if not self._as_text:
            return instant
        return f"{instant.astimezone(UTC).isoformat(timespec='microseconds')[:-6]}Z"

    def number(self, table: str) -> int:
        """The number of the next row."""
        if table not in self._last:
            newest = sa.select(sa.func.max(db.metadata.tables[table].c.id))
            self._last[table] = self._connection.execute(newest).scalar_one() or 0
        self._last[table] += 1
        return self._last[table]

    def add(self, table: str, **values: Any) -> int:
        """A row that will not change; its number is given unless the table has none."""
        if "id" in db.metadata.tables[table].c:
            values = {"id": self.number(table), **values}
        self._new[table].append(values)
        return values.get("id", 0)

    def keep(self, table: str, **values: Any) -> Row:
        """A row that may go on changing."""
        row = {"id": self.number(table), **values}
        self._kept[table][row["id"]] = row
        return row

    def let_go(self, table: str, row: Row) -> None:
        """A row that has come to rest: it is written once more."""
        if row["id"] in self._written[table]:
            self._update(table, [row])
            self._written[table].discard(row["id"])
        else:
            self._new[table].append(row)
        del self._kept[table][row["id"]]

    def change(self, table: str, number: int, **values: Any) -> None:
        """Change a row written before; the same columns each time."""
        self._changed[table].append({"id": number, **values})

    def code(self, kind: CodeKind, row_id: int) -> str:
        """Give a row the next code of its kind."""
        if kind not in self._last_code:
            counters = db.metadata.tables["code_counters"]
            last = sa.select(counters.c.last).where(counters.c.kind == kind)
            self._last_code[kind] = self._connection.execute(last).scalar_one_or_none() or 0
        self._last_code[kind] += 1
        code = write_code(prefix=self._prefix, kind=kind, number=self._last_code[kind])
        self._new["codes"].append({"code": code, "kind": kind.value, "row_id": row_id})
        return code

    def move(
        self, what: str, *, at: datetime, by: int, vessels: Collection[Amount[int]], accounts: Collection[Amount[str]]
    ) -> int:
        """One movement with its postings; levels follow. Amounts are microlitres and sum to nothing."""
        assert not sum(amount for _, amount in (*vessels, *accounts))
        instant = self.at(at)
        movement = self.add(
            "movements", what=what, happened_at=instant, recorded_at=instant, recorded_by_id=by, reverses_id=None
        )
        common = {"movement_id": movement, "unit": "µL"}
        for vessel_id, amount in vessels:
            if amount:
                self.add("postings", **common, vessel_id=vessel_id, account=None, amount=amount)
                self._changes[vessel_id] += amount
        for account, amount in accounts:
            if amount:
                self.add("postings", **common, vessel_id=None, account=account, amount=amount)
        return movement

    def level(self, vessel_id: int) -> int:
        """What a vessel holds."""
        vessels = db.metadata.tables["vessels"]
        level = sa.select(vessels.c.level).where(vessels.c.id == vessel_id)
        return (self._connection.execute(level).scalar_one_or_none() or 0) + self._changes[vessel_id]

    def tell(
        self, act: str, *, about: tuple[str, int], at: datetime, by: tuple[int, str], facts: Row, submitted: str = ""
    ) -> None:
        """One act on the record; `submitted` names the act of the form it came from."""
        payload = {"about": about, "act": act, "by": by, "facts": facts}
        self._entries.append((at, json.dumps(payload, sort_keys=True, separators=(",", ":"), ensure_ascii=False)))
        if submitted:
            self._new["submissions"].append(
                {
                    "key": str(UUID(int=self._random.getrandbits(128))),
                    "act": submitted,
                    "person_id": by[0],
                    "outcome_kind": about[0],
                    "outcome_id": about[1],
                }
            )

    def write(self) -> int:
        """Write all of it and return how many rows that were."""
        self._link()
        written = 0
        for name in (table.name for table in db.metadata.sorted_tables):
            kept, known = self._kept[name], self._written[name]
            self._update(name, [row for number, row in kept.items() if number in known])
            rows = [*self._new.pop(name, ()), *(row for number, row in kept.items() if number not in known)]
            known.update(kept)
            written += self._insert(name, rows)
            self._update(name, self._changed.pop(name, []))
        self._level()
        self._count_codes()
        return written

    def _insert(self, table: str, rows: list[Row]) -> int:
        if rows:
            columns = list(rows[0])
            marks = ", ".join([self._mark] * len(columns))
            statement = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})"
            assert all(len(row) == len(columns) for row in rows)
            self._connection.exec_driver_sql(statement, [tuple(map(row.get, columns)) for row in rows])
        return len(rows)

    def _update(self, table: str, rows: list[Row]) -> None:
        if rows:
            columns = [name for name in rows[0] if name != "id"]
            to = ", ".join(f"{name} = {self._mark}" for name in columns)
            statement = f"UPDATE {table} SET {to} WHERE id = {self._mark}"
            self._connection.exec_driver_sql(statement, [tuple(map(row.get, [*columns, "id"])) for row in rows])

    def _level(self) -> None:
        statement = f"UPDATE vessels SET level = level + {self._mark} WHERE id = {self._mark}"
        if changes := [(change, vessel_id) for vessel_id, change in self._changes.items() if change]:
            self._connection.exec_driver_sql(statement, changes)
        self._changes.clear()

    def _count_codes(self) -> None:
        statement = (
            f"INSERT INTO code_counters (kind, last) VALUES ({self._mark}, {self._mark}) "
            "ON CONFLICT (kind) DO UPDATE SET last = excluded.last"
        )
        for kind, last in self._last_code.items():
            self._connection.exec_driver_sql(statement, (kind.value, last))

    def _link(self) -> None:
        """Link the entries told, in order of time, to the head of the record."""
        heads = db.metadata.tables["record_head"]
        number, previous = self._connection.execute(sa.select(heads.c.number, heads.c.hash)).one()
        for at, payload in sorted(self._entries):
            number += 1
            salt = f"{self._random.getrandbits(128):032x}"
            digest = hashlib.sha256(f"{salt}\n{payload}".encode()).hexdigest()
            own = link_hash(number=number, at=at, digest=digest, previous_hash=previous)
            self._new["record_entries"].append(
                {
                    "number": number,
                    "at": self.at(at),
                    "salt": salt,
                    "payload": payload,
                    "digest": digest,
                    "previous_hash": previous,
                    "hash": own,
                }
            )
            previous = own
        self._entries.clear()
        self._connection.execute(sa.update(heads).values(number=number, hash=previous))
