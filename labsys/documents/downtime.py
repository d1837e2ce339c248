"""The downtime pack: what the lab works from while there is no power, and the sheets it writes on meanwhile.

First aid and whom to ring, the register of baths with what is left, who may do what, and empty sheets: who came, what
went through each line, what happened. Afterwards the sheets are entered once, with their times.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from reportlab.platypus import Flowable, PageBreak

from labsys.baths import queries as baths
from labsys.baths import rules
from labsys.baths.cards import card
from labsys.baths.models import Bath
from labsys.database import DbSession
from labsys.documents import blocks, first_aid
from labsys.documents.blocks import HEADING, Column, caution, gap, masthead, ruled_table, words
from labsys.documents.document import Document, WholeLab
from labsys.documents.first_aid import FirstAidData
from labsys.documents.occasion import Occasion
from labsys.documents.page import Issue, bind, text_width
from labsys.duty.pages import on_duty_now
from labsys.hazards.first_aid import SDS_FIRST, SOURCES
from labsys.matrix.queries import matrix
from labsys.matrix.rules import Asked
from labsys.people.permissions import Permission
from labsys.timetable.local_time import to_local

AFTERWARDS = "When there is power again, copy each line once, with its real time, on the page What is on paper."
EACH_WEEK = "Print it anew each week: what is left in a bath, and who holds what, changes."
EXHAUSTED = "A bath that is exhausted takes no new work, with or without power. Not known is not plenty: test it."
BLANK = "\u00a0"
ROWS_OF_PEOPLE, ROWS_OF_WORK = 24, 22
_COMING = Column("Name", 5), Column("Came", 1.5), Column("Went", 1.5), Column("Where, or whose guest", 3)
_WORK = (
    Column("Name, or class", 4),
    Column("Time", 1.4),
    Column("Size", 2),
    Column("RC or fibre", 1.6),
    Column("How many", 1.6),
)
_OF_BATHS = Column("Line", 2), Column("Bath", 3.4), Column("Stands", 1.6), Column("What is left", 5)
_OF_HOLDERS = Column("Person", 2.4), Column("Group", 1.4), Column("Holds", 7)


@dataclass(frozen=True, slots=True)
class PrintedBath:
    """One bath: in which line, what it is, how it stands, and what is left."""

    line: str
    bath: str
    stands: str
    left: str


@dataclass(frozen=True, slots=True)
class DowntimeData:
    """All that the pack prints."""

    issue: Issue
    as_of: str
    first_aid: FirstAidData
    on_duty: tuple[tuple[str, str], ...]
    baths: tuple[PrintedBath, ...]
    lines: tuple[str, ...]
    holders: tuple[tuple[str, str, str], ...]

    @property
    def emergency(self) -> str:
        return self.first_aid.emergency.call


def collect(session: DbSession, asked: WholeLab, occasion: Occasion) -> DowntimeData:
    """Read what is needed to go on with paper alone."""
    on_duty = on_duty_now(session, occasion.now, occasion.zone)
    here = baths.baths_here(session)
    here.sort(key=lambda bath: (bath.line.name, rules.WORKING_ORDER[bath.place], bath.id))
    return DowntimeData(
        issue=occasion.issue("/documents/downtime", scan_code="the live pack"),
        as_of=occasion.moment(occasion.now),
        first_aid=first_aid.collect(session, asked, occasion),
        on_duty=tuple(on_duty.facts) if on_duty else (),
        baths=tuple(_bath(bath, occasion) for bath in here),
        lines=tuple(line.name for line in baths.lines(session)),
        holders=tuple(_holders(session, occasion)),
    )


def _bath(bath: Bath, occasion: Occasion) -> PrintedBath:
    shown = card(bath, now=occasion.now)
    stands = "in service" if bath.is_in_service else "spare" if bath.is_spare else "waits to be dumped"
    return PrintedBath(
        line=bath.line.name,
        bath=f"{bath.name} {bath.code}\n{bath.place}, mixed {occasion.day(bath.mixed_at)}",
        stands=stands,
        left=f"{shown.state_words}\n{shown.limit_words}".strip(),
    )


def _holders(session: DbSession, occasion: Occasion) -> Iterator[tuple[str, str, str]]:
    """Everybody here with what they hold now, and until when; whoever holds nothing is told so, not left out."""
    today = to_local(occasion.now, zone=occasion.zone).date()
    asked = Asked(day=today)
    found = matrix(session, asked, now=occasion.now, zone=occasion.zone)
    for row in found.rows:
        held = [
            f"{column.name} ({cell.shown(on=today)})"
            for column, cell in zip(found.columns, row.cells, strict=True)
            if cell.is_held
        ]
        yield row.name, row.group, "; ".join(held) or "nothing: may not start alone"


def draw(data: DowntimeData) -> bytes:
    """Return the pack as a PDF; equal data gives equal bytes."""
    return bind(_story(data, text_width(data.issue.paper)), title="Downtime pack", issue=data.issue, closing=SDS_FIRST)


def _story(data: DowntimeData, width: float) -> Iterator[Flowable]:
    yield from first_aid.fitted_story(data.first_aid, width)
    yield PageBreak()
    lead = f"As of {data.as_of}. {EACH_WEEK}"
    yield masthead(title="Without power: the baths", lead=lead, issue=data.issue, width=width)
    yield gap(3)
    yield caution(head=EXHAUSTED, width=width)
    yield gap(3)
    if data.on_duty:
        yield blocks.notice("; ".join(f"{kind}: {who}" for kind, who in data.on_duty), width=width)
        yield gap(3)
    if data.baths:
        rows = [(row.line, row.bath, row.stands, row.left) for row in data.baths]
        yield from ruled_table(_OF_BATHS, rows, width=width)
    else:
        yield words("There is no bath.")
    yield PageBreak()
    yield words("Who may do what", HEADING)
    yield words("What each person holds on that day, and until when. Anything else they may not start.")
    yield gap(2)
    yield from ruled_table(_OF_HOLDERS, data.holders, width=width)
    how = "A line each, guests as well; the time by a clock on the wall."
    yield from _sheet("Who came and went", how, _COMING, ROWS_OF_PEOPLE, width)
    for line in data.lines:
        how = "A line each time; a class may be one line, with its name."
        yield from _sheet(f"What went through {line}", how, _WORK, ROWS_OF_WORK, width)
    yield PageBreak()
    yield words("Something happened", HEADING)
    yield gap(1)
    yield caution(head=data.first_aid.emergency.nobody_told, body="Paper tells nobody. Ring first.", width=width)
    yield gap(3)
    asked = ("When", "Where", "What happened", "What was done about it", "Who writes this", "Whom I rang, and when")
    to_fill = [(question, "\n".join([BLANK] * 5)) for question in asked]
    yield from ruled_table((Column(BLANK, 2), Column(BLANK, 6)), to_fill, width=width)
    yield gap(3)
    yield words(AFTERWARDS)


def _sheet(title: str, how: str, columns: tuple[Column, ...], rows: int, width: float) -> Iterator[Flowable]:
    """An empty sheet, on a page of its own, its rows high enough to write in."""
    yield PageBreak()
    yield words(title, HEADING)
    yield words(how)
    yield gap(2)
    yield from ruled_table(columns, [tuple([f"{BLANK}\n{BLANK}"] * len(columns))] * rows, width=width)


DOWNTIME = Document(
    kind="downtime pack",
    path="downtime",
    may_see=Permission.SEE_HOLDERS,
    may_issue=Permission.SEE_HOLDERS,
    read=lambda form: WholeLab(),
    written=lambda asked, data: {},
    collect=collect,
    title=lambda data: f"Downtime pack, {data.as_of}",
    draw=draw,
    shows={"closing": SDS_FIRST, "sources": SOURCES, "exhausted": EXHAUSTED, "afterwards": AFTERWARDS},
)
