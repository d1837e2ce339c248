"""The arithmetic of the record: digests, links, and finding the first link that does not hold."""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, NamedTuple

import rfc8785

GENESIS = "0" * 64
SHORT_HASH_LENGTH = 12


class Link(NamedTuple):
    """One entry as it stands in the database. Payload and salt are None together once erased."""

    number: int
    at: datetime
    salt: str | None
    payload: str | None
    digest: str
    previous_hash: str
    hash: str


@dataclass(frozen=True)
class Fault:
    """The first place where the record does not hold."""

    number: int
    what: str

    def __str__(self) -> str:
        return f"Entry {self.number}: {self.what}"


def canonical(value: Mapping[str, Any]) -> str:
    """Return the one JSON text of a value (RFC 8785), so that equal facts have equal digests."""
    return rfc8785.dumps(dict(value)).decode("utf-8")


def payload_digest(*, salt: str, payload: str) -> str:
    return hashlib.sha256(f"{salt}\n{payload}".encode()).hexdigest()


def link_hash(*, number: int, at: datetime, digest: str, previous_hash: str) -> str:
    """Return the hash over one entry and the hash before it.

    The canonical JSON is written out here, since a walk over the record needs it for every entry: its names are in
    order, and an instant, a number and digits have nothing in them to escape.
    """
    instant = at.astimezone(UTC).isoformat()
    linked = f'{{"at":"{instant}","digest":"{digest}","number":{number},"previous":"{previous_hash}"}}'
    return hashlib.sha256(linked.encode()).hexdigest()


def short_hash(full: str) -> str:
    return full[:SHORT_HASH_LENGTH]


def find_fault(links: Iterable[Link], *, head_number: int, head_hash: str, erased: frozenset[int]) -> Fault | None:
    """Walk the record in order of number and return the first fault, or None when all of it holds.

    Parameters:
        links: Entries in ascending number. [-]
        head_number: Number in the head row. [-]
        head_hash: Hash in the head row. [-]
        erased: Numbers whose erasure is itself on the record. [-]
    Returns:
        The first fault, or None. [-]
    Raises:
        Nothing.
    Source:
        The project's own; a hash chain after S. Haber and W. S. Stornetta, "How to time-stamp a digital document",
        Journal of Cryptology 3 (1991), 99-111 (from memory).
    """
    number, previous = 0, GENESIS
    for link in links:
        number += 1
        if link.number != number:
            return Fault(number, f"missing: the next entry there is has number {link.number}.")
        if link.previous_hash != previous:
            return Fault(number, "does not follow from the entry before it.")
        if link.payload is None or link.salt is None:
            if number not in erased:
                return Fault(number, "its content is gone, and no entry says that it was erased.")
        elif payload_digest(salt=link.salt, payload=link.payload) != link.digest:
            return Fault(number, "its content was altered.")
        expected = link_hash(number=number, at=link.at, digest=link.digest, previous_hash=previous)
        if link.hash != expected:
            return Fault(number, "its number, time or digest was altered.")
        previous = link.hash
    if head_number > number:
        return Fault(number + 1, f"missing: the record says its newest entry is number {head_number}.")
    if (head_number, head_hash) != (number, previous):
        return Fault(number, "the head of the record does not point at its newest entry.")
    return None
