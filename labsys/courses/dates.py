"""The dates of a course before it is booked: what stands against each, and what else is free."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

from labsys.bookings import terms
from labsys.bookings.rules import BookingRefused
from labsys.bookings.terms import ClassWanted
from labsys.courses import rules
from labsys.courses.models import Meeting
from labsys.courses.rules import CourseRefused, Term
from labsys.database import DbSession
from labsys.timetable.spans import Span


@dataclass(frozen=True)
class Planned:
    """One date by the rule: its time, why it cannot or should not be, and the nearest times that are free.

    A holiday is left out unless somebody chooses otherwise; `against` says why it cannot be booked as it stands.
    """

    day: date
    span: Span | None
    holiday: str = ""
    against: str = ""
    offers: tuple[Span, ...] = ()

    @property
    def is_free(self) -> bool:
        return self.span is not None and not self.against

    @property
    def why_not(self) -> str:
        """Why it is left out, where nobody chose otherwise."""
        return f"Public holiday: {self.holiday}." if self.holiday else self.against

    @property
    def choices(self) -> tuple[Span, ...]:
        """The times it can have, as planned first."""
        return (self.span, *self.offers) if self.span is not None and self.is_free else self.offers

    @property
    def proposed(self) -> Span | None:
        """What is booked unless somebody chooses otherwise; None leaves the date out."""
        return self.span if self.is_free and not self.holiday else None


def look(session: DbSession, *, term: Term, wanted: ClassWanted, zone: ZoneInfo, now: datetime) -> list[Planned]:
    """Say date by date what stands against a course and what else is free. Nothing is written or locked.

    Raises CourseRefused, BookingRefused or NotFound where it cannot be at all.
    """
    days = rules.meeting_days(term, zone=zone)
    holidays = rules.holidays_of(term, days)
    spans: dict[date, Span] = {}
    skipped: dict[date, str] = {}
    for day in days:
        try:
            spans[day] = rules.span_of(term, day, zone=zone)
        except BookingRefused as refusal:
            skipped[day] = str(refusal)
    if not spans:
        raise CourseRefused(next(iter(skipped.values())), field="starts")
    every = sorted(spans.values())
    if any(earlier.overlaps(later) for earlier, later in pairwise(every)):
        raise CourseRefused("One meeting would begin before the last is over. Check the times and the rule.")
    where = terms.ground(session, wanted=wanted, spans=every)
    unclear = terms.not_cleared(session, person_id=wanted.person_id, subjects=where.subjects, spans=every, now=now)
    planned = []
    for day in days:
        span = spans.get(day)
        against = skipped.get(day, "") if span is None else where.against(span, now=now) or unclear.get(span, "")
        offers = where.nearest(span, now=now) if span and (against or day in holidays) and span.start > now else []
        planned.append(Planned(day, span, holidays.get(day, ""), against, tuple(offers)))
    return planned


@dataclass(frozen=True)
class Decided:
    """What becomes of one date: booked at a time, or left out for a reason."""

    day: date
    span: Span | None
    why_not: str = ""


def decide(planned: Sequence[Planned], chosen: Mapping[date, Span | None]) -> list[Decided]:
    """What becomes of each date: as somebody chose among what was offered, else as proposed."""
    decided = []
    for one in planned:
        span = chosen.get(one.day, one.proposed)
        if span is not None and span not in one.choices:
            span = None if one.proposed is None else one.proposed
        why = "" if span else (one.why_not or "Left out.")[: Meeting.WHY_LENGTH]
        decided.append(Decided(one.day, span, why))
    return decided
