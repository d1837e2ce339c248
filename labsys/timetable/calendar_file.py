"""Calendars as files that any calendar program reads (RFC 5545): every time an instant in UTC, never off by an hour."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

MEDIA_TYPE = "text/calendar; charset=utf-8"
LONGEST_LINE = 75  # octets, without the line end
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
# A calendar has at least one component. One without events says what zone its times would be in.
_NOTHING = (
    "BEGIN:VTIMEZONE",
    "TZID:Etc/UTC",
    "BEGIN:STANDARD",
    "DTSTART:19700101T000000",
    "TZOFFSETFROM:+0000",
    "TZOFFSETTO:+0000",
    "END:STANDARD",
    "END:VTIMEZONE",
)


@dataclass(frozen=True, kw_only=True)
class Event:
    """One event. `sequence` rises with every change of it, and `changed_at` is when it last was."""

    uid: str
    starts_at: datetime
    ends_at: datetime
    changed_at: datetime
    sequence: int
    summary: str
    location: str
    description: str = ""
    url: str = ""
    is_cancelled: bool = False


def as_calendar(events: Iterable[Event], *, name: str) -> str:
    r"""Return a calendar as the text of a file.

    Parameters:
        events: What is in it, in the order of the file. [-]
        name: What the calendar is called. [-]
    Returns:
        Lines ended as the standard says, none longer than 75 octets; the same events give the same text. [-]
    Source:
        RFC 5545 (B. Desruisseaux, 2009), sections 3.1 (folding), 3.3.5 (UTC), 3.3.11 (escaping), 3.6.1 and 3.8;
        RFC 7986 (C. Daboo, 2016), sections 5.1 and 5.7, for the name and how often to look again.

    >>> as_calendar([], name="Wet room").splitlines()[4]
    'NAME:Wet room'
    """
    return "".join(f"{folded(line)}\r\n" for line in _lines(list(events), name))


def _lines(events: list[Event], name: str) -> Iterator[str]:
    yield from ("BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//labsys//calendar//EN", "CALSCALE:GREGORIAN")
    yield from (f"NAME:{escaped(name)}", f"X-WR-CALNAME:{escaped(name)}")  # the second for who does not know the first
    yield from ("REFRESH-INTERVAL;VALUE=DURATION:PT1H", "X-PUBLISHED-TTL:PT1H")
    for event in events:
        yield from _event(event)
    if not events:
        yield from _NOTHING
    yield "END:VCALENDAR"


def _event(event: Event) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{event.uid}"
    yield f"DTSTAMP:{_instant(event.changed_at)}"
    yield f"LAST-MODIFIED:{_instant(event.changed_at)}"
    yield f"SEQUENCE:{event.sequence}"
    yield f"STATUS:{'CANCELLED' if event.is_cancelled else 'CONFIRMED'}"
    yield f"TRANSP:{'TRANSPARENT' if event.is_cancelled else 'OPAQUE'}"
    yield f"DTSTART:{_instant(event.starts_at)}"
    yield f"DTEND:{_instant(event.ends_at)}"
    texts = (("SUMMARY", event.summary), ("LOCATION", event.location), ("DESCRIPTION", event.description))
    yield from (f"{name}:{escaped(text)}" for name, text in texts if text)
    if event.url:
        yield f"URL:{event.url}"
    yield "END:VEVENT"


def _instant(instant: datetime) -> str:
    return f"{instant.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def escaped(text: str) -> str:
    r"""Return a text as a property has it; what no text may hold becomes a space.

    Parameters:
        text: Any text. [-]
    Returns:
        The same on one line. [-]
    Source:
        RFC 5545 (B. Desruisseaux, 2009), section 3.3.11; control characters by section 3.1.

    >>> escaped("Fix; wash, dry\nC:\\")
    'Fix\\; wash\\, dry\\nC:\\\\'
    """
    one_kind = text.replace("\r\n", "\n").replace("\r", "\n")
    plain = _CONTROL.sub(" ", one_kind).replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    return plain.replace("\n", "\\n")


def folded(line: str) -> str:
    r"""Return a line cut into lines of at most 75 octets, none of them within a character.

    Parameters:
        line: A content line without its end. [-]
    Returns:
        The line, every piece after the first begun with a space. [-]
    Source:
        RFC 5545 (B. Desruisseaux, 2009), section 3.1.

    >>> [len(piece.encode()) for piece in folded("SUMMARY:" + "ж" * 60).split("\r\n")]
    [74, 55]
    """
    pieces, piece, room = [], "", LONGEST_LINE
    for character in line:
        octets = len(character.encode())
        if octets > room:
            pieces.append(piece)
            piece, room = " ", LONGEST_LINE - 1
        piece, room = piece + character, room - octets
    return "\r\n".join([*pieces, piece])
