"""Decisions about closing: what is closed, and what becomes of a booking that is hit."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from labsys.records.errors import Refused
from labsys.timetable.spans import Span

OUT_OF_USE = "it is out of use"


class ClosingRefused(Refused):
    """It cannot be closed so; the message says why and what to do."""


class NotAnswered(ClosingRefused):
    """Bookings are hit about which nothing was said: they were made or changed after the list was read."""

    def __init__(self, count: int):
        hit = "One booking is" if count == 1 else f"{count} bookings are"
        super().__init__(f"{hit} hit that nothing was decided about. Look at the list and say what becomes of each.")


class NewTimeGone(ClosingRefused):
    """Where a booking was to be moved is not free after all."""

    def __init__(self, who: str, when: str):
        super().__init__(f"{who} cannot be moved to {when} any more. Look at the list again.")


class NewTimeRefused(ClosingRefused):
    """What a booking asks for does not hold at the time to which it was to be moved."""

    def __init__(self, who: str, when: str, why: str):
        super().__init__(f"{who} cannot be moved to {when}: {why} Choose otherwise, or leave it and ask them.")


@dataclass(frozen=True)
class Scope:
    """What is closed: the whole lab where nothing is named, else a room, a place or one unit."""

    room_id: int | None = None
    station_id: int | None = None
    unit_id: int | None = None

    @property
    def key(self) -> str:
        """As a form names it."""
        named = (("room", self.room_id), ("place", self.station_id), ("unit", self.unit_id))
        return next((f"{kind}-{row_id}" for kind, row_id in named if row_id is not None), "lab")


class Fate(StrEnum):
    """What becomes of a booking that is hit."""

    MOVE = "move"
    CANCEL = "cancel"
    KEEP = "keep"


@dataclass(frozen=True)
class Answer:
    """What was decided about one booking; one that is moved has its new time, which may be the old one."""

    fate: Fate
    span: Span | None = None

    @property
    def key(self) -> str:
        """As a form says it."""
        return self.fate if self.span is None else f"{self.fate} {self.span.start.isoformat()}"


def read_answer(text: str, *, length_of: Span) -> Answer | None:
    """Read what a form says of a booking that lasts as long as `length_of`; None for what is no answer.

    >>> from datetime import UTC
    >>> noon = datetime(2026, 7, 1, 12, tzinfo=UTC)
    >>> read_answer("move 2026-07-02T12:00:00+00:00", length_of=Span(noon, noon.replace(hour=14))).span.end.isoformat()
    '2026-07-02T14:00:00+00:00'
    """
    fate, _, when = text.partition(" ")
    if fate in (Fate.CANCEL, Fate.KEEP):
        return Answer(Fate(fate))
    try:
        start = datetime.fromisoformat(when)
        return Answer(Fate.MOVE, Span(start, start + length_of.length)) if fate == Fate.MOVE else None
    except (ValueError, OverflowError):
        return None


def check_answered(hit_ids: Collection[int], answered_ids: Collection[int]) -> None:
    """Raise NotAnswered unless something was decided about every booking that is hit."""
    if open_ids := set(hit_ids) - set(answered_ids):
        raise NotAnswered(len(open_ids))
