"""What the first page reads, across the rooms."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.baths import queries as baths
from labsys.baths.models import Bath, BathLine
from labsys.bookings.board import Board, board
from labsys.database import DbSession
from labsys.desk.competences import CompetencesToday, competences_today
from labsys.desk.expected import Expected, expected_today
from labsys.desk.matters import Matter, Topic, matters
from labsys.duty.rota import OnDuty, ahead, rota
from labsys.equipment import queries as equipment
from labsys.equipment.models import Equipment
from labsys.equipment.queries import Standing
from labsys.forecast.pages import LOOKED_AHEAD, ClassShown, classes_ahead
from labsys.inductions import queries as inductions
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.places import queries as places
from labsys.planning.asks_less import AsksLess, assessments_that_ask_less
from labsys.records.models import Admits, Lab
from labsys.risk.today import DueHere, due_here
from labsys.timetable.local_time import to_local
from labsys.waste import queries as waste
from labsys.waste.contents import Contents

MOST_TO_CONFIRM = 20


@dataclass(frozen=True)
class LabToday:
    """The day as one person may see it, and the lab as it stands, in rows."""

    board: Board
    expected: list[Expected]
    to_confirm: int
    competences: CompetencesToday
    mail_needs_somebody: int
    admits: Admits
    lines: list[BathLine]
    baths: list[Bath]
    containers: list[Contents]
    matters: list[Matter]
    assessments: DueHere
    asks_less: list[AsksLess]
    openings: list[OnDuty]
    classes: list[ClassShown]
    equipment: list[Standing]
    room_of_place: dict[str, int]

    def closes(self, equipment: Equipment, held: Collection[str]) -> bool:
        """Whether a piece closes one of the places of these names when it fails."""
        rooms = {self.room_of_place.get(name) for name in held}
        by_place = equipment.station is not None and equipment.station.name in held
        return by_place or (equipment.room_id is not None and equipment.room_id in rooms)

    def call_in_of(self, person: Person) -> Matter | None:
        """What asks a person who is alone whether they are all right."""
        return next(self.of_person(Topic.CALL_IN, person), None)

    def of_person(self, topic: Topic, person: Person) -> Iterator[Matter]:
        """Matters whose code is the number of somebody's account."""
        return (matter for matter in self.matters if matter.topic is topic and matter.code == str(person.id))


def lab_today(session: DbSession, *, person: Person, now: datetime, zone: ZoneInfo) -> LabToday:
    """Everything the first page is made from, in a fixed number of queries."""
    day = to_local(now, zone=zone).date()
    within = ahead(now, zone=zone)
    calendar, stations = places.calendar(session, within=within, zone=zone), places.stations_with_units(session)
    standings = equipment.standings(session)
    calendar = replace(calendar, closures=(*calendar.closures, *equipment.closed_of(standings, now)))
    shown = board(session, day=day, zone=zone, viewer=person, now=now, calendar=calendar, every=stations)
    works_here = may(person, Permission.BOOK_STATION) or may(person, Permission.KEEP_PLACES)
    openings = rota(session, within=within, zone=zone, calendar=calendar, stations=stations) if works_here else []
    assessments = due_here(session, person=person, today=day, zone=zone)
    oversees = may(person, Permission.SEE_RECORD)
    is_adviser = may(person, Permission.CONFIRM_PRODUCT)
    waiting = inductions.unconfirmed(session, now=now, person_id=person.id, limit=MOST_TO_CONFIRM)
    due = matters(
        session,
        today=day,
        now=now,
        with_talks=may(person, Permission.SEE_CONFIDENCES),
        person_id=person.id,
        overseer_id=person.id if oversees else None,
    )

    unsent = next(matter.row_id for matter in due if matter.topic is Topic.MAIL)
    return LabToday(
        board=shown,
        expected=expected_today(session, bookings=shown.bookings, viewer=person, now=now, zone=zone),
        to_confirm=len(waiting),
        competences=CompetencesToday() if oversees else competences_today(session, person=person, now=now, zone=zone),
        mail_needs_somebody=unsent if may(person, Permission.SEE_MAIL) else 0,
        admits=session.get_one(Lab, 1).admits_under_18,
        lines=baths.lines(session),
        baths=baths.baths_here(session),
        containers=_containers(session, person),
        matters=[matter for matter in due if matter.topic is not Topic.MAIL],
        openings=openings,
        equipment=standings,
        room_of_place={station.name: station.room_id for station in stations},
        assessments=assessments,
        classes=_classes(session, person, now=now, zone=zone),
        asks_less=assessments_that_ask_less(session, assessments.approved) if is_adviser else [],
    )


def _classes(session: DbSession, person: Person, *, now: datetime, zone: ZoneInfo) -> list[ClassShown]:
    """The classes of the next days with what is forecast of their baths, for who keeps baths and who teaches."""
    if not (may(person, Permission.KEEP_BATHS) or may(person, Permission.BOOK_CLASS)):
        return []
    return classes_ahead(session, now=now, zone=zone, until=now + LOOKED_AHEAD)


def _containers(session: DbSession, person: Person) -> list[Contents]:
    """The waste containers in the lab, for those who have to do with what becomes of them."""
    concerned = (Permission.KEEP_WASTE, Permission.RELEASE_WASTE, Permission.SEE_RECORD)
    if not any(may(person, permission) for permission in concerned):
        return []
    return list(waste.contents(session, waste.containers_here(session)).values())
