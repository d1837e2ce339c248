"""The first page, worked out from rows: what needs doing, each line with its baths, and what this person does next."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from enum import IntEnum
from zoneinfo import ZoneInfo

from flask import url_for

from labsys.baths.cards import BathCard, card
from labsys.baths.models import Bath, BathLine
from labsys.baths.rules import WORKING_ORDER
from labsys.chemistry.life import State
from labsys.desk.queries import LabToday
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.quantities import show_volume
from labsys.stock.models import Bottle, Product
from labsys.timetable.local_time import to_local
from labsys.waste.models import WasteContainer

NEARLY_FULL = 0.9


class Urgency(IntEnum):
    """What comes first in the list of what needs doing."""

    NOW = 0
    SOON = 1
    LATER = 2


_URGENCY_OF = {State.EXHAUSTED: Urgency.NOW, State.NEAR_ITS_END: Urgency.SOON, State.NOT_KNOWN: Urgency.LATER}


@dataclass(frozen=True)
class Act:
    """Something a person can go and do."""

    words: str
    href: str


@dataclass(frozen=True)
class Duty:
    """Something that needs doing: what it is about, why, the act, and the permission that it needs.

    `also` names who else ought to see it: those for whom the work stands still until it is done.
    """

    urgency: Urgency
    what: str
    code: str
    href: str
    why: str
    act: Act
    needed: Permission
    also: Permission | None = None

    @property
    def is_now(self) -> bool:
        return self.urgency is Urgency.NOW


@dataclass(frozen=True)
class Line:
    """A line of baths: those in service in working order, and the spares."""

    line: BathLine
    cards: list[BathCard]
    spares: list[Bath]


@dataclass(frozen=True)
class TodayPage:
    """Everything the first page shows to one person. The first act is the obvious one."""

    date_words: str
    duties: list[Duty]
    lines: list[Line]
    acts: list[Act]


def lab_date(now: datetime, *, zone: ZoneInfo) -> date:
    """Return the date on the lab's wall."""
    return to_local(now, zone=zone).date()


def today_page(found: LabToday, *, person: Person, now: datetime, zone: ZoneInfo) -> TodayPage:
    """Work out the first page for a person."""
    cards = [card(bath, now=now) for bath in found.baths]
    lines = [_line(line, cards) for line in found.lines]
    duties = [
        *_bath_duties(cards),
        *_container_duties(found.containers),
        *(_waiting(product) for product in found.products_waiting),
        *(_past_date(bottle) for bottle in found.bottles_past_date),
    ]
    return TodayPage(
        date_words=f"{lab_date(now, zone=zone):%A %-d %B %Y}",
        duties=sorted((duty for duty in duties if _concerns(duty, person)), key=lambda duty: duty.urgency),
        lines=lines,
        acts=_acts(found, lines, person),
    )


def is_nearly_full(container: WasteContainer) -> bool:
    return container.vessel.share >= NEARLY_FULL


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


def _concerns(duty: Duty, person: Person) -> bool:
    """Whoever can do it sees it, and whoever oversees the lab sees all."""
    return (
        may(person, duty.needed)
        or (duty.also is not None and may(person, duty.also))
        or may(person, Permission.SEE_RECORD)
    )


def _bath_duties(cards: list[BathCard]) -> Iterator[Duty]:
    for one in cards:
        bath, state = one.bath, one.life.state
        if bath.is_in_service and state in _URGENCY_OF:
            yield _bath_duty(one, urgency=_URGENCY_OF[state], why=one.state_words, act=_remedy(one, cards))
        elif bath.is_spare and state is State.EXHAUSTED:
            yield _bath_duty(one, urgency=Urgency.SOON, why="A spare that went off unused", act=_dump(bath))
        elif not bath.is_in_service and not bath.is_spare:
            yield _bath_duty(one, urgency=Urgency.SOON, why="Out of service, waits to be dumped", act=_dump(bath))


def _bath_duty(one: BathCard, *, urgency: Urgency, why: str, act: Act) -> Duty:
    return Duty(
        urgency=urgency,
        what=one.title,
        code=one.code,
        href=url_for("baths.show", bath_id=one.bath.id),
        why=why,
        act=act,
        needed=Permission.KEEP_BATHS,
    )


def _remedy(one: BathCard, cards: list[BathCard]) -> Act:
    """What helps a bath that is used up or soon will be: its spare where there is a good one, else a new one."""
    bath = one.bath
    if one.life.state is State.NOT_KNOWN:
        return Act("See what is missing", url_for("baths.show", bath_id=bath.id))
    spare = next(
        (
            other.bath
            for other in cards
            if other.bath.is_spare
            and other.life.state is not State.EXHAUSTED
            and (other.bath.line_id, other.bath.place) == (bath.line_id, bath.place)
        ),
        None,
    )
    if spare:
        return Act(f"Spare {spare.code}", url_for("baths.show", bath_id=spare.id))
    return Act("Mix a new one", url_for("baths.mix", product_id=bath.product_id, line_id=bath.line_id))


def _dump(bath: Bath) -> Act:
    return Act("Dump it", url_for("baths.dump", bath_id=bath.id))


def _container_duties(containers: list[WasteContainer]) -> Iterator[Duty]:
    for one in containers:
        href = url_for("waste.container", container_id=one.id)
        if one.quarantine:
            yield _container_duty(
                one, Urgency.NOW, f"In quarantine: {one.quarantine.reason}", Act("See what to do", href)
            )
        elif is_nearly_full(one):
            held = f"{show_volume(one.vessel.level)} of {show_volume(one.vessel.capacity)}"
            yield _container_duty(
                one, Urgency.SOON, f"Nearly full: {held}", Act("Hand over waste", url_for("waste.collect"))
            )


def _container_duty(one: WasteContainer, urgency: Urgency, why: str, act: Act) -> Duty:
    return Duty(
        urgency=urgency,
        what=one.stream.name,
        code=one.label,
        href=url_for("waste.container", container_id=one.id),
        why=why,
        act=act,
        needed=Permission.KEEP_WASTE,
    )


def _waiting(product: Product) -> Duty:
    href = url_for("stock.product", product_id=product.id)
    return Duty(
        urgency=Urgency.LATER,
        what=product.name,
        code="",
        href=href,
        why="Its hazards wait to be confirmed against the SDS; nothing is mixed from it until then",
        act=Act("Confirm", href),
        needed=Permission.CONFIRM_PRODUCT,
        also=Permission.KEEP_STOCK,
    )


def _past_date(bottle: Bottle) -> Duty:
    href = url_for("stock.bottle", bottle_id=bottle.id)
    return Duty(
        urgency=Urgency.LATER,
        what=bottle.product.name,
        code=bottle.code,
        href=href,
        why=f"Past its date, {bottle.expires_on:%-d %b %Y}",
        act=Act("See the bottle", href),
        needed=Permission.KEEP_STOCK,
    )


def _acts(found: LabToday, lines: list[Line], person: Person) -> list[Act]:
    """What this person most likely came for, the likeliest first."""
    acts = []
    if may(person, Permission.KEEP_BATHS):
        first = Act("Mix a bath", url_for("baths.mix"))
        acts.append(first if lines else Act("Add a line of baths", url_for("baths.add_line")))
    if may(person, Permission.LOG_USE):
        acts += _ways_to_log([one.line for one in lines if one.cards])
    if may(person, Permission.CONFIRM_PRODUCT) and found.products_waiting:
        acts.append(Act("Confirm products", url_for("stock.products")))
    if may(person, Permission.KEEP_WASTE) and any(is_nearly_full(one) for one in found.containers):
        acts.append(Act("Hand over waste", url_for("waste.collect")))
    if may(person, Permission.KEEP_PEOPLE):
        acts.append(Act("People", url_for("people.index")))
    return acts


def _ways_to_log(lines: list[BathLine]) -> list[Act]:
    """One act for each line in use; with a single one there is nothing to choose."""
    return [
        Act("Log a use" if len(lines) == 1 else f"Log a use: {line.name}", url_for("baths.log", line_id=line.id))
        for line in lines
    ]
