"""Decisions about being alone, about who has to be present, and how they are said. Plain values."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from labsys.duty.models import AloneRule
from labsys.people.models import Role
from labsys.records.errors import Refused
from labsys.timetable.local_time import clock_words
from labsys.timetable.spans import Span, merged

NO_ALARM = (
    "labsys is no alarm: it watches nobody, and a mail may come late or never. Tell somebody outside when to expect "
    "your call, and what to do if it does not come."
)
NOT_DECIDED = "What will be done is not decided yet, so all that could be counts: say what it will be."


class DutyRefused(Refused):
    """The rota or a rule cannot be so; the message says why and what to do."""


class CompanyRefused(Refused):
    """Somebody would be alone, or those who have to be there are not; the message says why and what to do."""


@dataclass(frozen=True)
class Settings:
    """What the lab chose about working alone and being overdue; the usual stands until it has chosen."""

    alone: AloneRule = AloneRule.CALL_IN
    ask_every_minutes: int = 30
    answer_within_minutes: int = 10
    overdue_after_minutes: int = 15

    @property
    def ask_every(self) -> timedelta:
        return timedelta(minutes=self.ask_every_minutes)

    @property
    def answer_within(self) -> timedelta:
        return timedelta(minutes=self.answer_within_minutes)

    @property
    def overdue_after(self) -> timedelta:
        return timedelta(minutes=self.overdue_after_minutes)


@dataclass(frozen=True)
class Work:
    """What of somebody's work nobody does alone; where it is not decided yet, of all that it could come to."""

    dangers: tuple[str, ...] = ()
    is_decided: bool = True


@dataclass(frozen=True)
class There:
    """People who are in the building for a time: one somebody, or a class with its instructor."""

    span: Span
    person_id: int | None
    heads: int = 1
    is_staff: bool = False  # on duty by the rota


@dataclass(frozen=True)
class Needed:
    """What a place or a process asks for, in words that end "… for enlarger 1"."""

    what: str
    least_people: int = 1
    who: str = ""
    who_ids: frozenset[int] = field(default_factory=frozenset)
    staffed_only: bool = False


def uncovered(span: Span, others: Iterable[Span]) -> list[Span]:
    """The parts of a span in which none of the others runs."""
    left: list[Span] = []
    begin = span.start
    for other in merged(others):
        if other.start > begin:
            left.append(Span(begin, min(other.start, span.end)))
        begin = max(begin, other.end)
        if begin >= span.end:
            return [part for part in left if part.start < span.end]
    return [*left, Span(begin, span.end)]


def at_once(span: Span, there: Sequence[There]) -> list[tuple[datetime, list[There]]]:
    """Who is there at each moment of a span at which somebody has come or gone."""
    moments = {span.start, *(end for one in there for end in (one.span.start, one.span.end))}
    inside = sorted(moment for moment in moments if span.start <= moment < span.end)
    return [(moment, [one for one in there if one.span.start <= moment < one.span.end]) for moment in inside]


def count(there: Iterable[There], *, own_heads: int) -> int:
    """How many people there are, whoever asks among them; somebody there for two reasons counts once."""
    known: dict[int, int] = {}
    others = 0
    for one in there:
        if one.person_id is None:
            others += one.heads
        else:
            known[one.person_id] = max(known.get(one.person_id, 0), one.heads)
    return own_heads + others + sum(known.values())


def others_in_words(numbers: Sequence[int]) -> str:
    """How many others are booked or on duty along a time, as they come and go.

    >>> others_in_words([0]), others_in_words([1, 3, 1])
    ('Nobody is booked or on duty then.', '1 to 3 others are booked or on duty.')
    """
    low, high = min(numbers, default=0), max(numbers, default=0)
    if not high:
        return "Nobody is booked or on duty then."
    if low == high:
        return f"{high} other is booked or on duty." if high == 1 else f"{high} others are booked or on duty."
    return f"{low} to {high} others are booked or on duty."


def why_understaffed(
    needed: Needed, *, span: Span, there: Sequence[There], person_id: int, own_heads: int, zone: ZoneInfo
) -> str:
    """Why those who have to be there are not all along; an empty text where they are."""
    for moment, present in at_once(span, there):
        at = f"from {clock_words(moment, zone=zone)}"
        number = count(present, own_heads=own_heads)
        if number < needed.least_people:
            return f"{needed.what} asks for {needed.least_people} people in the building; {at} there would be {number}."
        ids = {person_id, *(one.person_id for one in present)}
        if needed.who and not ids & needed.who_ids:
            return f"{needed.what} asks for {needed.who} to be there; {at} nobody is."
        if needed.staffed_only and not any(one.is_staff for one in present):
            return f"{needed.what} is for staffed hours only; {at} no keyholder or first aider is on duty."
    return ""


def why_never_alone(work: Work, *, is_young: bool) -> str:
    """Why no setting of the lab allows somebody to do this alone; an empty text where one may."""
    if work.dangers:
        undecided = "" if work.is_decided else f"{NOT_DECIDED} "
        return f"{undecided}Nobody does this alone, by no setting: {'; '.join(work.dangers)}."
    return "Nobody under 18 works alone, by no setting." if is_young else ""


def hours_alone(parts: Sequence[Span], *, zone: ZoneInfo) -> str:
    """When nobody else is there, such as "from 20:00 to 21:00"."""
    return " and ".join(
        f"from {clock_words(part.start, zone=zone)} to {clock_words(part.end, zone=zone)}" for part in parts
    )


def role_in_words(role: Role) -> str:
    return f"{'an' if role.value[0] in 'aeiou' else 'a'} {role.value}"
