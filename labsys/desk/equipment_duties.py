"""Duties about equipment: what is closed, which checks are overdue or soon due."""

from collections.abc import Iterator
from datetime import datetime

from flask import url_for

from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.desk.queries import LabToday
from labsys.equipment.queries import EQUIPMENT, Standing
from labsys.equipment.rules import DUE_SOON, Due
from labsys.people.models import Person
from labsys.people.permissions import Permission
from labsys.quantities import counted
from labsys.timetable.local_time import day_words, to_local

MOST_NAMED = 3


def of_equipment(lab: LabToday, *, person: Person, now: datetime) -> Iterator[Duty]:
    """To whoever keeps the equipment all of it; to anybody else what closes the place they are booked at today."""
    closing = [(standing, why[1]) for standing in lab.equipment if (why := standing.closing(now)) is not None]
    yield from (_closed(standing, why) for standing, why in closing)
    yield from _own_bookings(lab, closing)
    shut = {standing.equipment.id for standing, _ in closing}
    open_ones = [standing for standing in lab.equipment if standing.equipment.id not in shut]
    yield from _late(open_ones, now=now)
    yield from _soon(open_ones, now=now)


def _closed(standing: Standing, why: str) -> Duty:
    equipment = standing.equipment
    href = EQUIPMENT.address(equipment.id)
    act = OfferedAct("See to it", href, alone=f"See to {equipment.name}")
    said = f"{equipment.serves} is closed: {why}" if equipment.serves else f"Not to be used: {why}"
    return Duty(Urgency.NOW, equipment.name, href, said, act, equipment.code, needed=Permission.KEEP_EQUIPMENT)


def _own_bookings(lab: LabToday, closing: list[tuple[Standing, str]]) -> Iterator[Duty]:
    for shown in lab.board.bookings:
        if not shown.is_mine or shown.is_past or shown.has_left:
            continue
        held = {shown.station, shown.with_station}
        if why := next((why for standing, why in closing if lab.closes(standing.equipment, held)), ""):
            href = url_for("bookings.show", booking_id=shown.booking_id)
            act = OfferedAct("See your booking", href, alone=f"Your booking, {shown.times}: it is closed")
            yield Duty(Urgency.YOURS, f"Your booking, {shown.times}", href, f"No start: {why}", act)


def _late(standings: list[Standing], *, now: datetime) -> Iterator[Duty]:
    """Checks past their day, in one row, with what the first of them closes and when."""
    late = sorted(_due(standings, now=now, before=None), key=lambda pair: pair[1].due_on)
    if not late:
        return
    serving = [
        (check.closes_on(standing.grace_days), standing) for standing, check in late if standing.equipment.serves
    ]
    why = _named(late)
    if serving:
        closes_on, standing = min(serving, key=lambda pair: pair[0])
        why = f"{why}. {standing.equipment.serves} closes on {day_words(closes_on)}"
    act = OfferedAct("Do them", url_for("desk.walk"), alone="Do the checks that are overdue")
    what = f"{counted(len(late), 'check')} overdue"
    yield Duty(Urgency.SOON, what, url_for("equipment.index"), why, act, needed=Permission.KEEP_EQUIPMENT)


def _soon(standings: list[Standing], *, now: datetime) -> Iterator[Duty]:
    soon = sorted(_due(standings, now=now, before=DUE_SOON.days), key=lambda pair: pair[1].due_on)
    if soon:
        act = OfferedAct("See them", url_for("equipment.index"), alone="See the checks that are due")
        what = f"{counted(len(soon), 'check')} soon due"
        why = f"{_named(soon)}, the first on {day_words(soon[0][1].due_on)}"
        yield Duty(Urgency.LATER, what, act.href, why, act, needed=Permission.KEEP_EQUIPMENT)


def _due(standings: list[Standing], *, now: datetime, before: int | None) -> Iterator[tuple[Standing, Due]]:
    """Checks past their day, or those due from today on within some days; what failed is told apart."""
    for standing in standings:
        today = to_local(now, zone=standing.zone).date()
        for check in standing.checks:
            days = (check.due_on - today).days
            wanted = days < 0 if before is None else 0 <= days <= _ahead(check, before)
            if wanted and not check.is_failed:
                yield standing, check


def _ahead(check: Due, most: int) -> int:
    """How many days before it is due a check is spoken of: what comes every week, on its day alone."""
    return 0 if check.period.unit == "days" else most


def _named(pairs: list[tuple[Standing, Due]]) -> str:
    named = "; ".join(f"{standing.equipment.name}, {check.period.check}" for standing, check in pairs[:MOST_NAMED])
    return named if len(pairs) <= MOST_NAMED else f"{named}; and {len(pairs) - MOST_NAMED} more"
