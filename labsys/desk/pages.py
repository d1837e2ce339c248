"""The first page, worked out from rows: the day in a sentence, who is where, each line with its baths, what is due."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.baths.cards import BathCard, card
from labsys.baths.models import Bath, BathLine
from labsys.baths.rules import WORKING_ORDER
from labsys.bookings.board import Board
from labsys.bookings.cells import Shown
from labsys.desk.acts import obvious_acts
from labsys.desk.duties import due, needs_somebody
from labsys.desk.duty import Duty, OfferedAct
from labsys.desk.queries import LabToday
from labsys.duty.pages import on_duty_in_a_sentence
from labsys.forecast.pages import ClassShown
from labsys.people.models import Person, Role
from labsys.people.permissions import stands_in_for
from labsys.timetable.local_time import clock_words


@dataclass(frozen=True)
class LineToday:
    """A line of baths: those in service in working order, and the spares."""

    line: BathLine
    cards: list[BathCard]
    spares: list[Bath]


@dataclass(frozen=True)
class OwnBooking:
    """One of the reader's own bookings today, and what they lack to start, in words."""

    shown: Shown
    why_not: str


@dataclass(frozen=True)
class TodayPage:
    """Everything the first page shows to one person. The first act is the obvious one."""

    heading: str
    sentence: str
    acts: list[OfferedAct]
    own: list[OwnBooking]
    board: Board
    lines: list[LineToday]
    duties: list[Duty]
    stands_in_for: list[Role]
    on_duty: str
    classes: list[ClassShown]


def today_page(lab: LabToday, *, person: Person, now: datetime, zone: ZoneInfo) -> TodayPage:
    """Work out the first page for a person."""
    cards = [card(bath, now=now) for bath in lab.baths]
    lines = [_line(line, cards) for line in lab.lines]
    duties = due(lab, cards, person=person, now=now, zone=zone)
    in_use = [line.line for line in lines if line.cards]
    needing = needs_somebody(cards) if lab.lines else None
    return TodayPage(
        heading=f"{lab.board.day:%A %-d %B}",
        sentence=day_in_a_sentence(lab.board, baths=needing, now=now, zone=zone),
        acts=obvious_acts(lab, duties, lines_in_use=in_use, person=person, now=now),
        own=_own(lab),
        board=lab.board,
        lines=lines,
        duties=duties,
        stands_in_for=stands_in_for(person),
        classes=lab.classes,
        on_duty=on_duty_in_a_sentence(next((each for each in lab.openings if each.runs_at(now)), None)),
    )


def day_in_a_sentence(board: Board, *, baths: int | None, now: datetime, zone: ZoneInfo) -> str:
    """Say how many are booked and here, when the next class is, and how many baths need somebody before then.

    `baths` is None before there are any.
    """
    booked, need = _booked(board), ""
    if baths is not None:
        need = {0: "no bath needs somebody", 1: "1 bath needs somebody"}.get(baths, f"{baths} baths need somebody")
    classes = (booking for booking in board.bookings if booking.is_class and not booking.has_left)
    coming = next((booking for booking in classes if booking.starts_at > now), None)
    if coming is None:
        return f"{booked}, and {need}." if need else f"{booked}."
    next_class = f"the next class is {coming.class_name} at {clock_words(coming.starts_at, zone=zone)}"
    return f"{booked}; {next_class}, and {need} before then." if need else f"{booked}, and {next_class}."


def _booked(board: Board) -> str:
    if not board.bookings:
        return "Nobody is booked" if board.opening else "No opening hours today"
    return f"{len(board.bookings)} booked, {board.here or 'nobody'} here now"


def _own(lab: LabToday) -> list[OwnBooking]:
    """The reader's own bookings that are not over; what they lack is said with the one it stands before."""
    lacks = {
        expected.booking_id: " ".join(lack.sentence for lack in expected.missing)
        for expected in lab.expected
        if expected.is_viewer
    }
    return [
        OwnBooking(booking, lacks.get(booking.booking_id, ""))
        for booking in lab.board.bookings
        if booking.is_mine and not (booking.is_past or booking.has_left)
    ]


def _line(line: BathLine, cards: list[BathCard]) -> LineToday:
    own = [card for card in cards if card.bath.line_id == line.id]
    own.sort(key=lambda card: (WORKING_ORDER[card.bath.place], card.bath.id))
    return LineToday(
        line=line,
        cards=[card for card in own if card.bath.is_in_service],
        spares=[card.bath for card in own if card.bath.is_spare],
    )
