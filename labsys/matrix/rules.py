"""Decisions about the matrix: as of which day, by which of two questions, of whom, and what a cell says."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from labsys.competences import rules as competences
from labsys.competences.rules import CompetenceState, HeldCompetence
from labsys.inductions import rules as inductions
from labsys.inductions.rules import Held, InductionState
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import day_span

_MOMENT = timedelta(microseconds=1)
_A_DAY = timedelta(days=1)
EVERYBODY_HERE, EVERYBODY = "here", "all"


class By(StrEnum):
    """Two questions about a day that are both asked, and may be answered differently."""

    HAPPENED = "happened"  # what was true then, as it is known now
    ENTERED = "entered"  # what the lab knew then


IN_WORDS = {By.HAPPENED: "what was true that day", By.ENTERED: "what was known that day"}
SAID = {
    By.HAPPENED: "What was true on that day, as it is known now: what was entered later counts from when it happened.",
    By.ENTERED: "What the lab knew on that day: what was entered or confirmed later is left out.",
}


@dataclass(frozen=True)
class Asked:
    """What somebody asks: as of a day, by which question, about whom."""

    day: date
    by: By = By.HAPPENED
    who: str = EVERYBODY_HERE  # or everybody, or the key of a course
    find: str = ""  # part of a name

    @property
    def course_id(self) -> int | None:
        return int(self.who) if self.who.isdigit() else None

    @property
    def written(self) -> dict[str, Any]:
        """As an address asks for it and as the record keeps it."""
        return {"day": self.day.isoformat(), "by": str(self.by), "who": self.who, "find": self.find}

    def at(self, *, now: datetime, zone: ZoneInfo) -> datetime:
        """The instant that is asked about: the end of the day, or now on the day that is today."""
        if self.day == to_local(now, zone=zone).date():
            return now
        return day_span(self.day, zone=zone).end - _MOMENT

    def known_at(self, *, now: datetime, zone: ZoneInfo) -> datetime:
        """What was entered until then counts."""
        return now if self.by is By.HAPPENED else min(now, self.at(now=now, zone=zone))


class Look(StrEnum):
    """How a cell is drawn; its words say the same."""

    HELD = "held"
    NEAR = "near"
    DONE = "done"
    WAIT = "wait"
    NEVER = "never"


@dataclass(frozen=True)
class Cell:
    """How one person stands with one thing: the state, the day that matters and, of what is held, how much is left."""

    look: Look
    state: str
    day: date | None = None
    left: int = 0  # of a hundred

    @property
    def is_held(self) -> bool:
        return self.look in (Look.HELD, Look.NEAR)

    def shown(self, *, on: date) -> str:
        """In a cell, where there is little room: the year only where it is another."""
        day = "" if self.day is None else f"{self.day:%-d %b}" + ("" if self.day.year == on.year else f" {self.day:%Y}")
        if self.look is Look.HELD:
            return day or "held"
        return " ".join(part for part in ("until" if self.look is Look.NEAR else self.state, day) if part)

    @property
    def exact(self) -> str:
        """In a spreadsheet: the state, and the day as it is sorted."""
        until = " until" if self.is_held and self.day else ""
        return f"{self.state}{until}{f' {self.day.isoformat()}' if self.day else ''}"


NEVER = Cell(Look.NEVER, "never")


def cell_of_induction(held: Held, *, at: datetime, zone: ZoneInfo) -> Cell:
    """What a cell says of one induction."""
    signed = held.signed
    if signed is None:
        return NEVER
    if held.standing is InductionState.WITHDRAWN and signed.withdrawn_at:
        return Cell(Look.DONE, "withdrawn", to_local(signed.withdrawn_at, zone=zone).date())
    if held.standing is InductionState.REPEAT and held.repeat:
        day = to_local(held.repeat.issued_at, zone=zone).date()
        return Cell(Look.DONE, f"repeat version {held.repeat.number}, of", day)
    lapses_on = to_local(signed.lapses_at, zone=zone).date() if signed.lapses_at else None
    if held.standing is InductionState.LAPSED:
        return Cell(Look.DONE, "lapsed", lapses_on)
    if held.standing is InductionState.WAITING:
        return Cell(Look.WAIT, "to confirm")
    if inductions.lapse_to_remind_of(held, now=at) is not None:
        return Cell(Look.NEAR, "lapsing", lapses_on, _left(signed.taught_at, signed.lapses_at, at))
    return Cell(Look.HELD, "current", lapses_on, _left(signed.taught_at, signed.lapses_at, at))


def cell_of_competence(held: HeldCompetence, *, on: date, zone: ZoneInfo) -> Cell:
    """What a cell says of one competence."""
    grant = held.grant
    if grant is None:
        return NEVER
    if held.state is CompetenceState.REVOKED and grant.revoked_at:
        return Cell(Look.DONE, "revoked", to_local(grant.revoked_at, zone=zone).date())
    if held.state is CompetenceState.LAPSED:
        return Cell(Look.DONE, "lapsed", grant.until + _A_DAY)  # the first day on which it no longer holds
    if held.state is CompetenceState.WAITING:
        return Cell(Look.WAIT, "to be witnessed")
    left = round(100 * (grant.until - on).days / max((grant.until - grant.happened_on).days, 1))
    if competences.lapse_to_remind_of(held, today=on) is not None:
        return Cell(Look.NEAR, "lapsing", grant.until, left)
    return Cell(Look.HELD, "current", grant.until, left)


def _left(begins_at: datetime, ends_at: datetime | None, at: datetime) -> int:
    return 100 if ends_at is None else round(100 * (ends_at - at) / (ends_at - begins_at))
