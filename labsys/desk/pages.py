"""The first page, worked out from rows: the day in a sentence, who is where, each line with its baths, what is due."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.baths.cards import BathCard, card
from labsys.baths.models import Bath, BathLine
from labsys.baths.rules import WORKING_ORDER
from labsys.bookings.board import Board, Shown
from labsys.desk.acts import obvious_acts
from labsys.desk.duties import due, needs_somebody
from labsys.desk.duty import Duty, OfferedAct
from labsys.desk.queries import LabToday
from labsys.people.models import Person, Role
from labsys.people.permissions import stands_in_for
from labsys.timetable.local_time import clock_words


@dataclass(frozen=True)
class Line:
    """A line of baths: those in service in working order, and the spares."""

    line: BathLine
    cards: list[BathCard]
    spares: list[Bath]


@dataclass(frozen=True)
class Own:
    """One of the reader's own bookings today, and what they lack to start, in words."""

    shown: Shown
    why_not: str


@dataclass(frozen=True)
class TodayPage:
    """Everything the first page shows to one person. The first act is the obvious one."""

    heading: str
    sentence: str
    acts: list[OfferedAct]
    own: list[Own]
    board: Board
    lines: list[Line]
    duties: list[Duty]
    stands_in_for: list[Role]


def today_page(found: LabToday, *, person: Person, now: datetime, zone: ZoneInfo) -> TodayPage:
    """Work out the first page for a person."""
    cards = [card(bath, now=now) for bath in found.baths]
    lines = [_line(line, cards) for line in found.lines]
    duties = due(found, cards, person=person, now=now, zone=zone)
    in_use = [one.line for one in lines if one.cards]
    return TodayPage(
        heading=f"{found.board.day:%A %-d %B}",
        sentence=day_in_a_sentence(
            found.board, baths=needs_somebody(cards) if found.lines else None, now=now, zone=zone
        ),
        acts=obvious_acts(found, duties, lines_in_use=in_use, person=person, now=now),
        own=_own(found),
        board=found.board,
        lines=lines,
        duties=duties,
        stands_in_for=stands_in_for(person),
    )


def day_in_a_sentence(board: Board, *, baths: int | None, now: datetime, zone: ZoneInfo) -> str:
    """Say how many are booked and here, when the next class is, and how many baths need somebody before then.

    `baths` is None before there are any.
    """
    parts = [_booked(board)]
    coming = next((one for one in board.bookings if one.is_class and one.starts_at > now and not one.has_left), None)
    if coming:
        parts.append(f"the next class is {coming.class_name} at {clock_words(coming.starts_at, zone=zone)}")
    if baths is not None:
        many = {0: "no bath needs", 1: "1 bath needs"}.get(baths, f"{baths} baths need")
        parts.append(f"{many} somebody{' before then' if coming else ''}")
    return f"{_in_a_row(parts)}."


def _booked(board: Board) -> str:
    if not board.bookings:
        return "Nobody is booked" if board.opening else "No opening hours today"
    return f"{len(board.bookings)} booked, {board.here or 'nobody'} here now"


def _in_a_row(parts: Sequence[str]) -> str:
    *most, last = parts
    return f"{'; '.join(most)}, and {last}" if most else last


def _own(found: LabToday) -> list[Own]:
    """The reader's own bookings that are not over; what they lack is said with the one it stands before."""
    lacks = {one.booking_id: " ".join(lack.sentence for lack in one.missing) for one in found.expected if one.is_viewer}
    return [
        Own(one, lacks.get(one.booking_id, ""))
        for one in found.board.bookings
        if one.is_mine and not (one.is_past or one.has_left)
    ]


def _line(line: BathLine, cards: list[BathCard]) -> Line:
    own = sorted(
        (one for one in cards if one.bath.line_id == line.id),
        key=lambda one: (WORKING_ORDER[one.bath.place], one.bath.id),
    )
    return Line(
        line=line,
        cards=[one for one in own if one.bath.is_in_service],
        spares=[one.bath for one in own if one.bath.is_spare],
    )
