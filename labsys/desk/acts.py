"""What a person most likely came for: the first of these acts is the obvious one."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from flask import url_for

from labsys.baths.models import BathLine
from labsys.bookings.cells import Shown
from labsys.bookings.rules import EARLIEST_ARRIVAL
from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.desk.matters import Topic
from labsys.desk.queries import LabToday
from labsys.people.models import Person
from labsys.people.permissions import Permission, may

_OF_THE_LAB = frozenset(
    {Permission.KEEP_BATHS, Permission.KEEP_WASTE, Permission.SEE_MAIL, Permission.APPROVE_ASSESSMENT}
)


def obvious_acts(
    lab: LabToday, duties: Sequence[Duty], *, lines_in_use: Sequence[BathLine], person: Person, now: datetime
) -> list[OfferedAct]:
    """What this person can go and do, the likeliest first: their own day, then the lab's, then what is always there."""
    acts = [
        *_all_right(lab, person),
        *_own_day(lab, duties, person=person, now=now),
        *_class(lab, lines_in_use, person=person, now=now),
        *_most_urgent(duties, person),
        *_of_the_roles(lab, lines_in_use, person),
        *_book(lab, person),
    ]
    by_address: dict[str, OfferedAct] = {}
    for act in acts:
        by_address.setdefault(act.href, act)
    return list(by_address.values())


def can_arrive(booking: Shown, *, now: datetime) -> bool:
    """Whether it is time to note the arrival on a booking of today."""
    is_over = booking.is_here or booking.has_left or booking.is_past
    return not is_over and now >= booking.starts_at - EARLIEST_ARRIVAL


def _all_right(lab: LabToday, person: Person) -> Iterator[OfferedAct]:
    """Whoever is alone is asked before anything else."""
    if (call_in := lab.call_in_of(person)) is not None:
        href = url_for("duty.answer_call", call_in_id=call_in.row_id)
        yield OfferedAct("I am all right", href, posts=True)


def _own_day(lab: LabToday, duties: Sequence[Duty], *, person: Person, now: datetime) -> Iterable[OfferedAct]:
    """What keeps the person from their work, and arriving; this comes first where they may start."""
    first = [duty.act for duty in duties if duty.urgency is Urgency.YOURS and duty.act]
    own = (booking for booking in lab.board.bookings if booking.is_mine)
    arriving = next((booking for booking in own if can_arrive(booking, now=now)), None)
    if arriving is None or not may(person, Permission.BOOK_STATION):
        return first
    arrive = OfferedAct("Arrive", url_for("bookings.arrive", booking_id=arriving.booking_id), posts=True)
    is_blocked = any(each.missing for each in lab.expected if each.booking_id == arriving.booking_id)
    return [*first, arrive] if is_blocked else [arrive, *first]


def _class(lab: LabToday, lines: Sequence[BathLine], *, person: Person, now: datetime) -> Iterator[OfferedAct]:
    """Before one's class it is signed off; once it has begun its work is logged."""
    classes = [booking for booking in lab.board.bookings if booking.is_mine and booking.is_class]
    if not classes or not may(person, Permission.SIGN_OFF):
        return
    has_begun = any(booking.starts_at <= now for booking in classes)
    if has_begun and may(person, Permission.LOG_TALLY):
        yield from _ways_to_log(lines, "Log the class's work")
    if not has_begun or not lines:
        yield OfferedAct("Sign off the class", url_for("inductions.sign_off"))


def _most_urgent(duties: Sequence[Duty], person: Person) -> Iterable[OfferedAct]:
    """The one act of the lab that can least wait, where there is one that may not wait."""
    pressing = (duty for duty in duties if duty.urgency < Urgency.LATER and duty.needed in _OF_THE_LAB)
    acts = [duty.act for duty in pressing if duty.act and duty.needed and may(person, duty.needed)]
    return acts[:1]


def _of_the_roles(lab: LabToday, lines: Sequence[BathLine], person: Person) -> Iterator[OfferedAct]:
    if may(person, Permission.KEEP_BATHS):
        add_line = OfferedAct("Add a line of baths", url_for("baths.add_line"))
        yield OfferedAct("Mix a bath", url_for("baths.mix")) if lab.lines else add_line
    if may(person, Permission.LOG_USE):
        yield from _ways_to_log(lines, "Log a use")
    if may(person, Permission.CONFIRM_PRODUCT) and any(matter.topic is Topic.UNCONFIRMED for matter in lab.matters):
        yield OfferedAct("Confirm products", url_for("products.index"))
    if may(person, Permission.KEEP_PEOPLE):
        yield OfferedAct("People", url_for("people.index"))
    if may(person, Permission.CONFIRM_PRODUCT):
        yield OfferedAct("Who holds what", url_for("matrix.index"))


def _ways_to_log(lines: Sequence[BathLine], words: str) -> list[OfferedAct]:
    """One act for each line in use; with a single one there is nothing to choose."""
    return [
        OfferedAct(words if len(lines) == 1 else f"{words}: {line.name}", url_for("baths.log", line_id=line.id))
        for line in lines
    ]


def _book(lab: LabToday, person: Person) -> Iterator[OfferedAct]:
    if may(person, Permission.BOOK_STATION) and lab.board.stations:
        yield OfferedAct("Book a place", url_for("bookings.book"))
