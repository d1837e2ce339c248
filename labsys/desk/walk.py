"""A technician's day in the order in which they walk: what is to be done today, room by room, one touch each."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from flask import url_for
from sqlalchemy import select

from labsys.baths import queries as baths
from labsys.baths.cards import card
from labsys.database import DbSession
from labsys.desk.duties import bath_duties, container_duties
from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.equipment import queries as equipment
from labsys.equipment.models import EquipmentFault
from labsys.equipment.pages import due_view
from labsys.equipment.queries import EQUIPMENT, Standing
from labsys.equipment.rules import Due
from labsys.forms import given
from labsys.ledger.models import Vessel
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.places import queries as places
from labsys.places.models import Room
from labsys.products.models import Product
from labsys.store.models import Bottle, BottlePlace, Shelf
from labsys.store.queries import BOTTLE
from labsys.timetable.local_time import day_words, to_local
from labsys.waste import queries as waste

LAPSES_SOON = timedelta(days=14)  # house rule
BATHS, WASTE, ELSEWHERE = "At the baths", "At the waste", "No room of its own"


@dataclass(frozen=True)
class Stop:
    """One room, or one part of the work, with what is to be done there."""

    name: str
    duties: tuple[Duty, ...]


def walk(session: DbSession, *, person: Person, now: datetime, zone: ZoneInfo) -> list[Stop]:
    """What is to be done today, by room in the order of the board, then baths, waste and the rest.

    What is done is gone from it; the act only where this person may do it.
    """
    today = to_local(now, zone=zone).date()
    standings, faults = equipment.standings(session), equipment.open_faults(session)
    by_stop: dict[str, list[Duty]] = {name: [] for name in (*_rooms_in_order(session), BATHS, WASTE, ELSEWHERE)}
    for standing in standings:
        room = _room_of(standing)
        by_stop[room.name if room else ELSEWHERE] += _checks(standing, today=today)
    for fault in faults:
        room = _room_of_fault(fault)
        by_stop[room.name if room else ELSEWHERE].append(_fault(fault))
    for room_name, duty in bottles_lapsing(session, by=today + LAPSES_SOON, today=today):
        by_stop[room_name or ELSEWHERE].append(duty)
    by_stop[BATHS] += bath_duties([card(bath, now=now) for bath in baths.baths_here(session)])
    contents = waste.contents(session, waste.containers_here(session))
    by_stop[WASTE] += container_duties(contents.values(), today=today)
    return [
        Stop(name, tuple(_allowed(duty, person) for duty in sorted(duties, key=lambda duty: duty.urgency)))
        for name, duties in by_stop.items()
        if duties
    ]


def _rooms_in_order(session: DbSession) -> list[str]:
    """Rooms as one comes through them: by the first of their places on the board, those without any last."""
    first: dict[int, int] = {}
    for number, station in enumerate(places.stations(session)):
        first.setdefault(station.room_id, number)
    rooms = places.rooms(session)
    return [room.name for room in sorted(rooms, key=lambda room: (first.get(room.id, len(first) + 999), room.name))]


def _allowed(duty: Duty, person: Person) -> Duty:
    return duty if duty.needed is None or may(person, duty.needed) else replace(duty, act=None)


def _room_of(standing: Standing) -> Room | None:
    station = standing.equipment.station
    return station.room if station is not None else standing.equipment.room


def _room_of_fault(fault: EquipmentFault) -> Room | None:
    if fault.station is not None:
        return fault.station.room
    piece = fault.equipment
    if piece is None:
        return None
    return piece.station.room if piece.station is not None else piece.room


def _checks(standing: Standing, *, today: date) -> Iterator[Duty]:
    piece = standing.equipment
    if piece.lapses_on is not None and piece.lapses_on <= today + LAPSES_SOON:
        href = url_for("equipment.change", equipment_id=piece.id)
        act = OfferedAct("Enter the new one", href, alone=f"{piece.name}: enter the new one")
        why = f"Good until {day_words(piece.lapses_on)}"
        urgency = Urgency.NOW if piece.lapses_on < today else Urgency.SOON
        yield Duty(urgency, piece.name, EQUIPMENT.address(piece.id), why, act, piece.code, Permission.KEEP_EQUIPMENT)
    for check in standing.checks:
        if check.is_failed or check.due_on <= today:
            yield _check(standing, check, today=today)


def _check(standing: Standing, check: Due, *, today: date) -> Duty:
    piece, kind = standing.equipment, check.period.check
    named: dict[str, Any] = {"equipment_id": piece.id, "check": kind.replace(" ", "-")}
    if check.period.at_a_touch:
        act = OfferedAct(
            "In order",
            url_for("equipment.passed", back="walk", **named),
            f"In order: {kind} of {piece.name}",
            posts=True,
        )
    else:
        act = OfferedAct("Enter it", url_for("equipment.check", **named), alone=f"Enter it: {kind} of {piece.name}")
    view = due_view(check, standing, today=today)
    why = f"{kind[:1].upper()}{kind[1:]}, due {view.next}" + (f": {view.state}" if view.state else "")
    urgency = Urgency.NOW if check.is_failed else Urgency.SOON
    return Duty(urgency, piece.name, EQUIPMENT.address(piece.id), why, act, piece.code, Permission.KEEP_EQUIPMENT)


def _fault(fault: EquipmentFault) -> Duty:
    subject = fault.equipment or fault.station
    name = subject.name if subject is not None else ""
    href = url_for("equipment.fault", fault_id=fault.id)
    act = OfferedAct("Clear it", href, alone=f"{name}: {fault.kind}")
    why = f"Reported: {fault.kind}. {fault.words}".strip()
    return Duty(Urgency.SOON, name, href, why, act, needed=Permission.KEEP_EQUIPMENT)


def bottles_lapsing(session: DbSession, *, by: date, today: date) -> Iterator[tuple[str, Duty]]:
    """Bottles with something in them that lapse by a day, each with the room of its shelf."""
    query = (
        select(Bottle, Product.name, Room.name, Shelf.name)
        .join(Product, Bottle.product_id == Product.id)
        .join(Bottle.vessel)
        .outerjoin(BottlePlace, BottlePlace.bottle_id == Bottle.id)
        .outerjoin(Shelf, BottlePlace.shelf_id == Shelf.id)
        .outerjoin(Room, Shelf.room_id == Room.id)
        .where(Vessel.level > 0, Bottle.expires_on <= by)
        .order_by(Bottle.expires_on, Bottle.id)
    )
    for bottle, product, room, shelf in session.execute(query):
        lapses_on = given(bottle.expires_on)
        lapses = "Past its date" if lapses_on < today else "Lapses on"
        why = f"{lapses} {day_words(lapses_on)}" + (f", {shelf}" if shelf else "")
        act = OfferedAct("See the bottle", BOTTLE.address(bottle.id), alone=f"See the bottle {bottle.code}")
        yield room or "", Duty(Urgency.LATER, product, act.href, why, act, bottle.code, Permission.KEEP_STOCK)
