"""What the pages of duty show, and who is on duty in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.database import DbSession
from labsys.duty.models import DutyKind, StaffingRule, Turn
from labsys.duty.queries import needed_words
from labsys.duty.rota import OnDuty, on_duty_at
from labsys.lab.help_page import OnDuty as OnHelp
from labsys.timetable.local_time import day_words

NOBODY = "nobody yet"


@dataclass(frozen=True)
class RotaView:
    """One opening on the page: its day once, its hours, and a name or that nobody is named, by kind."""

    day: str
    iso_day: str
    from_minute: int
    hours: str
    names: dict[DutyKind, str]
    is_filled: bool


@dataclass(frozen=True)
class StaffingView:
    id: int
    subject: str
    asks: str


def rota_views(openings: Sequence[OnDuty], *, zone: ZoneInfo) -> list[RotaView]:
    return [
        RotaView(
            day=f"{opening.day:%a} {day_words(opening.day)}",
            iso_day=opening.day.isoformat(),
            from_minute=opening.from_minute,
            hours=opening.hours(zone),
            names={kind: turn_words(opening.of(kind)) for kind in DutyKind},
            is_filled=not opening.unfilled,
        )
        for opening in openings
    ]


def turn_words(turn: Turn | None) -> str:
    """Who takes a turn, with where they are reached."""
    if turn is None or turn.person is None:
        return NOBODY
    return f"{turn.person.name}, {turn.telephone}" if turn.telephone else turn.person.name


def on_duty_now(session: DbSession, now: datetime, zone: ZoneInfo) -> OnHelp | None:
    """Who is on duty now, for the help page and papers; who is not named is said to be so. None while it is closed."""
    opening = on_duty_at(session, now=now, zone=zone)
    if opening is None:
        return None
    facts = [(kind.value.capitalize(), turn_words(opening.of(kind))) for kind in DutyKind]
    return OnHelp(facts, until=opening.span.end)


def on_duty_in_a_sentence(opening: OnDuty | None) -> str:
    """The same in one line, for Today; an empty text while it is closed."""
    if opening is None:
        return ""
    return f"On duty: {'; '.join(f'{kind} {turn_words(opening.of(kind))}' for kind in DutyKind)}."


def on_call_words(session: DbSession, *, now: datetime, zone: ZoneInfo) -> str:
    """Who is on call now; an empty text where nobody is named."""
    opening = on_duty_at(session, now=now, zone=zone)
    turn = opening.of(DutyKind.ON_CALL) if opening else None
    return turn_words(turn) if turn else ""


def staffing_views(rules: Sequence[StaffingRule]) -> list[StaffingView]:
    views = []
    for rule in rules:
        subject = rule.station or rule.process
        asks = [
            f"{rule.least_people} people in the building" if rule.least_people > 1 else "",
            needed_words(rule),
            "staffed hours only" if rule.staffed_only else "",
        ]
        views.append(StaffingView(rule.id, subject.name if subject else "", ", ".join(part for part in asks if part)))
    return views
