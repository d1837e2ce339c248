"""The rota: who is on duty at each opening, worked out from the turns and from when the lab is open."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import or_, select
from sqlalchemy.orm import joinedload

from labsys.database import DbSession
from labsys.duty.models import DutyKind, Turn
from labsys.people.models import Person
from labsys.places import queries as places
from labsys.places.calendar import Calendar
from labsys.places.models import Station
from labsys.timetable.local_time import clock_words, to_local
from labsys.timetable.opening import MINUTES_PER_DAY, day_span
from labsys.timetable.spans import Span, merged

DAYS_AHEAD = 7  # for so long the rota is asked for


@dataclass(frozen=True)
class OnDuty:
    """An opening of a day with who is on duty: nobody where a kind is left out."""

    day: date
    span: Span
    from_minute: int
    turns: Mapping[DutyKind, Turn]

    def of(self, kind: DutyKind) -> Turn | None:
        turn = self.turns.get(kind)
        return turn if turn is not None and turn.person is not None and turn.person.is_active else None

    def runs_at(self, now: datetime) -> bool:
        return self.span.start <= now < self.span.end

    @property
    def unfilled(self) -> list[DutyKind]:
        return [kind for kind in DutyKind if self.of(kind) is None]

    @property
    def in_the_lab(self) -> set[int]:
        """Who is in the building meanwhile, by the rota."""
        turns = [self.of(kind) for kind in DutyKind if kind.is_in_the_lab]
        return {turn.person_id for turn in turns if turn is not None and turn.person_id is not None}

    def hours(self, zone: ZoneInfo) -> str:
        return f"{clock_words(self.span.start, zone=zone)} to {clock_words(self.span.end, zone=zone)}"


def rota(
    session: DbSession,
    *,
    within: Span,
    zone: ZoneInfo,
    calendar: Calendar | None = None,
    stations: Sequence[Station] | None = None,
) -> list[OnDuty]:
    """Every opening that meets a stretch of time, in order of time, with who is on duty.

    A calendar that holds it, and all stations with their rooms, need not be read twice.
    """
    first, last = (to_local(end, zone=zone).date() for end in (within.start, within.end))
    if calendar is None:
        a_day = timedelta(days=1)
        calendar = places.calendar(session, within=Span(within.start - a_day, within.end + a_day))
    if stations is None:
        every = select(Station).options(joinedload(Station.room)).order_by(Station.id)
        stations = session.execute(every).scalars().all()
    query = select(Turn).where(or_(Turn.day.is_(None), Turn.day.between(first, last)))
    person = joinedload(Turn.person).lazyload(Person.role_rows)
    turns = session.execute(query.options(person)).scalars().all()
    days = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    openings = [(day, span) for day in days for span in _openings(calendar, stations, day) if span.overlaps(within)]
    return [_on_duty(day, span, turns, zone=zone) for day, span in openings]


def ahead(now: datetime, *, zone: ZoneInfo) -> Span:
    """From the beginning of today as far as the rota is asked for."""
    today = day_span(to_local(now, zone=zone).date(), zone=zone)
    return Span(today.start, today.end + timedelta(days=DAYS_AHEAD))


def rota_of_day(session: DbSession, *, day: date, zone: ZoneInfo) -> list[OnDuty]:
    return [opening for opening in rota(session, within=day_span(day, zone=zone), zone=zone) if opening.day == day]


def on_duty_at(session: DbSession, *, now: datetime, zone: ZoneInfo) -> OnDuty | None:
    """The opening that runs now; None where it is closed."""
    around = Span(now, now + timedelta(minutes=1))
    return next((opening for opening in rota(session, within=around, zone=zone) if opening.span.contains(around)), None)


def _openings(calendar: Calendar, stations: Iterable[Station], day: date) -> list[Span]:
    """When the lab, or a room with hours of its own, is open on a day."""
    by_room = {station.room_id: station for station in stations}
    return merged(
        [*calendar.lab.on(day), *(span for station in by_room.values() for span in calendar.of(station).on(day))]
    )


def _on_duty(day: date, span: Span, turns: Sequence[Turn], *, zone: ZoneInfo) -> OnDuty:
    begins = _minute(span.start, zone=zone)
    ends = _minute(span.end, zone=zone) or MINUTES_PER_DAY
    named: dict[DutyKind, Turn] = {}
    for turn in sorted(turns, key=lambda turn: turn.day is not None):  # what is said of a date comes last, and stands
        is_of_day = turn.day == day if turn.day is not None else turn.weekday == day.weekday()
        if is_of_day and begins <= turn.from_minute < ends:
            named[turn.kind] = turn
    return OnDuty(day, span, begins, named)


def _minute(instant: datetime, *, zone: ZoneInfo) -> int:
    local = to_local(instant, zone=zone)
    return local.hour * 60 + local.minute
