"""What the page of a closure shows of each booking that it hits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from labsys.bookings.rules import span_in_words
from labsys.closing.moving import Hit
from labsys.closing.rules import Answer, Fate
from labsys.timetable.local_time import clock_words, to_local
from labsys.timetable.spans import Span


@dataclass(frozen=True)
class Choice:
    value: str
    words: str
    is_chosen: bool


@dataclass(frozen=True)
class HitView:
    """A booking with what can become of it, the best chosen already."""

    booking_id: int
    who: str
    what: str
    times: str
    choices: tuple[Choice, ...]


def hit_views(hits: Sequence[Hit], *, zone: ZoneInfo, sent: Mapping[str, str]) -> list[HitView]:
    """The rows of the page; what was `sent` before stays chosen where it can still be chosen."""
    return [_view(hit, zone=zone, sent=sent.get(f"answer-{hit.booking.id}", "")) for hit in hits]


def _view(hit: Hit, *, zone: ZoneInfo, sent: str) -> HitView:
    offered = [(Answer(Fate.MOVE, move).key, _move_in_words(hit, move, zone=zone)) for move in hit.moves]
    offered.append((Answer(Fate.KEEP).key, "Leave it, ask them"))
    if not hit.is_here:
        offered.append((Answer(Fate.CANCEL).key, "Cancel it"))
    values = [value for value, _ in offered]
    chosen = sent if sent in values else values[0]
    booking = hit.booking
    of_class = (booking.class_name, f"{booking.station.name}, {booking.units} units")
    return HitView(
        booking_id=booking.id,
        who=booking.person.name,
        what=", ".join(of_class) if booking.class_name else booking.station.name,
        times=span_in_words(hit.span, zone=zone),
        choices=tuple(Choice(value, words, value == chosen) for value, words in offered),
    )


def _move_in_words(hit: Hit, move: Span, *, zone: ZoneInfo) -> str:
    """Short, since it stands in a narrow list; how long it lasts stays as it is."""
    if move == hit.span:
        return "Other unit, same time"
    return f"To {to_local(move.start, zone=zone):%a %-d %b}, {clock_words(move.start, zone=zone)}"
