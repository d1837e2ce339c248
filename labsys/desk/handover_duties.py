"""Duties between one technician and the next, and film that waits for its owner."""

from collections.abc import Iterator

from flask import url_for

from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.desk.matters import Topic
from labsys.desk.queries import LabToday
from labsys.people.models import Person
from labsys.people.permissions import Permission, may

SHOWN = 80


def of_handover(lab: LabToday, *, person: Person) -> Iterator[Duty]:
    """Notes that somebody else left, to whoever keeps the store; to anybody their own film that lies here."""
    for matter in lab.matters:
        whose, _, name = matter.code.partition(" ")
        if matter.topic is Topic.NOTE and whose != str(person.id) and may(person, Permission.KEEP_STOCK):
            act = OfferedAct("Read it", url_for("handover.index"), alone=f"Read the handover from {name}")
            text = matter.name if len(matter.name) <= SHOWN else f"{matter.name[:SHOWN]}…"
            yield Duty(Urgency.SOON, f"Handover from {name}", act.href, text, act)
        elif matter.topic is Topic.LEFT_FILM and whose == str(person.id):
            why = f"It waits for you{f': {name}' if name else ''}. Take it with you, or ask the technician to keep it"
            yield Duty(Urgency.LATER, matter.name, url_for("desk.today"), why, None)
