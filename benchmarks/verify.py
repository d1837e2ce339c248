"""How long `labsys verify` takes over the record, against a bare loop of the same hashes over the same rows.

The bare loop reads each entry through the database's own driver and computes two SHA-256, of salt and payload and of
the link: what no way of verifying can do without.
"""

import hashlib
import sqlite3
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from labsys.database import db
from labsys.records import queries as records

_ROWS = "SELECT number, at, salt, payload, digest, previous_hash, hash FROM record_entries ORDER BY number"


@dataclass(frozen=True)
class Verified:
    """Seconds to walk so many entries, the bare loop's, and seconds to look through the ledger besides."""

    entries: int
    ours_s: float
    bare_s: float
    ledger_s: float


def measure(path: Path, *, rounds: int = 3) -> Verified:
    """Walk the record of the lab that is open, and walk it barely, in turn."""
    from labsys.ledger import queries as ledger

    ours, bare, ledgers = [], [], []
    for _ in range(rounds):
        began = time.perf_counter()
        assert records.find_fault(db.session) is None
        ours.append(time.perf_counter() - began)
        began = time.perf_counter()
        entries = _walk(path)
        bare.append(time.perf_counter() - began)
        began = time.perf_counter()
        assert not ledger.wrong_levels(db.session)
        assert not ledger.unbalanced_movements(db.session)
        ledgers.append(time.perf_counter() - began)
    return Verified(entries, median(ours), median(bare), median(ledgers))


def _walk(path: Path) -> int:
    connection = sqlite3.connect(path)
    number = 0
    for number, at, salt, payload, digest, previous, own in connection.execute(_ROWS):
        assert salt is None or hashlib.sha256(f"{salt}\n{payload}".encode()).hexdigest() == digest
        instant = f"{at[:-8]}+00:00" if at.endswith(".000000Z") else f"{at[:-1]}+00:00"
        link = f'{{"at":"{instant}","digest":"{digest}","number":{number},"previous":"{previous}"}}'
        assert hashlib.sha256(link.encode()).hexdigest() == own
    connection.close()
    return int(number)
