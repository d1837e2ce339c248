"""Clearing a lab out at the end of term, worked out from what is here: what to leave alone first."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from flask import url_for

from labsys.baths import queries as baths
from labsys.database import DbSession
from labsys.desk.duty import Duty, OfferedAct
from labsys.desk.walk import bottles_lapsing
from labsys.handover import queries as handover
from labsys.handover.models import LeftFilm
from labsys.handover.rules import STOP_LIST, STOP_SOURCE, LeftAlone
from labsys.lab.emergency import emergency_of
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.quantities import UL_PER_L, show_volume
from labsys.records.models import Lab
from labsys.timetable.local_time import to_local
from labsys.waste import queries as waste
from labsys.waste.leaving import why_it_stays
from labsys.waste.queries import CONTAINER
from labsys.waste.rules import HEAVIEST_KG_PER_L, LIGHTEST_KG_PER_L

DAYS_AHEAD = 90  # house rule: a long vacation


@dataclass(frozen=True)
class BathHere:
    id: int
    name: str
    code: str
    holds: str


@dataclass(frozen=True)
class ContainerHere:
    name: str
    label: str
    href: str
    holds: str
    weighs: str
    act: OfferedAct | None


@dataclass(frozen=True)
class ClearOut:
    """All that the page shows, in the order in which it is done."""

    ring: str
    baths: Sequence[BathHere]
    bottles: Sequence[Duty]
    films: Sequence[LeftFilm]
    containers: Sequence[ContainerHere]
    weighs: str
    left_alone: Sequence[LeftAlone] = STOP_LIST
    left_alone_source: str = STOP_SOURCE
    days_ahead: int = DAYS_AHEAD


def clear_out(session: DbSession, lab: Lab, *, person: Person, now: datetime, zone: ZoneInfo) -> ClearOut:
    """What is here to be cleared, and what of it by whom."""
    today = to_local(now, zone=zone).date()
    lapsing = bottles_lapsing(session, by=today + timedelta(days=DAYS_AHEAD), today=today)
    contents = waste.contents(session, waste.containers_here(session)).values()
    held = [each for each in contents if each.container.vessel.level]
    return ClearOut(
        ring=emergency_of(lab).call,
        baths=[
            BathHere(bath.id, bath.name, bath.code, show_volume(bath.vessel.level))
            for bath in baths.baths_here(session)
        ],
        bottles=[duty for _, duty in lapsing],
        films=handover.films_here(session),
        containers=[
            ContainerHere(
                each.container.stream.name,
                each.container.label,
                CONTAINER.address(each.container.id),
                show_volume(each.container.vessel.level),
                _weighs(each.container.vessel.level),
                _hand_over(each.container.id, may_leave=why_it_stays(each) is None, person=person),
            )
            for each in held
        ],
        weighs=f"In all {_weighs(sum(each.container.vessel.level for each in held))}, without the containers: an "
        f"estimate at {LIGHTEST_KG_PER_L:g} to {HEAVIEST_KG_PER_L:g} kg a litre. The carrier's scale counts.",
    )


def _weighs(level_ul: int) -> str:
    litres = level_ul / UL_PER_L
    return f"{LIGHTEST_KG_PER_L * litres:.1f} to {HEAVIEST_KG_PER_L * litres:.1f} kg"


def _hand_over(container_id: int, *, may_leave: bool, person: Person) -> OfferedAct | None:
    if not may(person, Permission.KEEP_WASTE):
        return None
    if not may_leave:
        return OfferedAct("See what to do first", CONTAINER.address(container_id))
    return OfferedAct("Hand over waste", url_for("waste.collect", container=container_id))
