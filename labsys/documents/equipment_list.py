"""What is checked here, for an inspector: when each check was last done and is due, and by whose rule."""

from collections.abc import Iterator
from dataclasses import dataclass

from flask import url_for
from reportlab.platypus import Flowable

from labsys.database import DbSession
from labsys.documents.blocks import HEADING, Column, gap, masthead, notice, ruled_table, words
from labsys.documents.document import Document, WholeLab
from labsys.documents.occasion import Occasion
from labsys.documents.page import Issue, bind, text_width
from labsys.equipment import pages, queries
from labsys.equipment.pages import StandingView
from labsys.people.permissions import Permission

CLOSING = "The record of each thorough examination and test of local exhaust is kept for five years, with the lab."


@dataclass(frozen=True, slots=True)
class ListedRoom:
    name: str
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class EquipmentListData:
    """All that the list prints: a row a check, by room."""

    issue: Issue
    as_of: str
    verdict: str
    rooms: tuple[ListedRoom, ...]
    faults: tuple[tuple[str, ...], ...]


def collect(session: DbSession, _: WholeLab, occasion: Occasion) -> EquipmentListData:
    """Read all equipment in use as it stands."""
    rooms = pages.by_room(queries.standings(session), now=occasion.now)
    late = sum(check.is_late for _, views in rooms for view in views for check in view.checks)
    closed = sum(bool(view.closed) for _, views in rooms for view in views)
    return EquipmentListData(
        issue=occasion.issue("/equipment", scan_code="the live list"),
        as_of=occasion.moment(occasion.now),
        verdict=_verdict(late, closed),
        rooms=tuple(
            ListedRoom(name or "Serves no room of its own", tuple(row for view in views for row in _rows(view)))
            for name, views in rooms
        ),
        faults=tuple(
            (
                fault.equipment.name if fault.equipment else fault.station.name if fault.station else "",
                f"{fault.kind}. {fault.words}".strip(),
                occasion.day(fault.reported_at),
            )
            for fault in queries.open_faults(session)
        ),
    )


def _verdict(late: int, closed: int) -> str:
    if not late and not closed:
        return "No check is overdue, and nothing failed."
    return f"Overdue, failed or never done: {late}. Closed or not to be used for it: {closed}."


def _rows(view: StandingView) -> Iterator[tuple[str, ...]]:
    equipment = view.equipment
    name = "\n".join(filter(None, (equipment.name, equipment.code, equipment.whereabouts)))
    for number, check in enumerate(view.checks):
        yield (
            name if not number else "",
            f"{check.check[:1].upper()}{check.check[1:]}",
            check.last,
            "\n".join(filter(None, (check.next, check.state))),
            check.source,
        )
    if view.lapses:
        yield "", "Last day of the bottle", "", view.lapses, "Printed on the bottle"


def draw(data: EquipmentListData) -> bytes:
    """Return the list as a PDF; equal data gives equal bytes."""
    return bind(_story(data, text_width(data.issue.paper)), title="Equipment", issue=data.issue, closing=CLOSING)


def _story(data: EquipmentListData, width: float) -> Iterator[Flowable]:
    lead = f"Each check, last done and due, as it stood {data.as_of}."
    yield masthead(title="Equipment and its checks", lead=lead, issue=data.issue, width=width)
    yield gap(3)
    yield notice(data.verdict, width=width)
    if not data.rooms:
        yield gap(3)
        yield words("No equipment is entered.")
    for room in data.rooms:
        yield gap(4)
        yield words(room.name, HEADING)
        yield gap(1)
        yield from ruled_table(
            (
                Column("What", 3.2),
                Column("Check", 2.4),
                Column("Last", 1.5),
                Column("Due", 1.9),
                Column("How often, by what", 4),
            ),
            room.rows,
            width=width,
        )
    if data.faults:
        yield gap(4)
        yield words("Faults not cleared", HEADING)
        yield gap(1)
        yield from ruled_table((Column("What", 3), Column("Fault", 6), Column("Reported", 2)), data.faults, width=width)


EQUIPMENT_LIST = Document(
    kind="equipment list",
    path="equipment-list",
    may_see=Permission.SEE_LAB,
    may_issue=Permission.ISSUE_REGISTER,
    read=lambda form: WholeLab(),
    written=lambda asked, data: {},
    collect=collect,
    title=lambda data: f"Equipment and its checks, {data.as_of}",
    draw=draw,
    shows={"closing": CLOSING},
    back=lambda form, asked: url_for("equipment.index"),
)
