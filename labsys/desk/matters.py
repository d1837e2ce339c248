"""What is due in the store, the register and the background, read in one statement however many rooms it comes from."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from sqlalchemy import Date, Select, String, cast, exists, literal, null, select, union_all

from labsys.brought_in.models import Declaration
from labsys.database import DbSession
from labsys.incidents.models import Incident
from labsys.jobs.models import Job
from labsys.ledger.models import Vessel
from labsys.products.models import Confirmation, Product
from labsys.store.models import Bottle
from labsys.waste.models import Discharge, DischargeAnswer


class Topic(StrEnum):
    """What a matter is about, in the order in which they are listed."""

    JOB = "job of the lab's own that went wrong"
    DISCHARGE = "discharge without consent"
    INCIDENT = "open incident"
    OVERSTAYED = "guest bottle past its last day"
    DECLARED = "chemical declared"
    UNCONFIRMED = "unconfirmed product"
    PAST_DATE = "bottle past its date"


@dataclass(frozen=True)
class Matter:
    """One row that somebody should see to; `on` is the day that counts, where there is one."""

    topic: Topic
    row_id: int
    name: str
    code: str
    on: date | None


_ORDER = {topic: place for place, topic in enumerate(Topic)}
_NO_DAY = cast(null(), Date)


def matters(session: DbSession, *, today: date) -> list[Matter]:
    """All that is due, by topic, then by its day and name."""
    rows = session.execute(
        union_all(
            _discharges(),
            _jobs(),
            _unconfirmed(),
            _past_date(today),
            _open_incidents(),
            _declared(),
            _overstayed(today),
        )
    )
    due = [Matter(Topic(topic), *row) for topic, *row in rows]
    return sorted(due, key=lambda matter: (_ORDER[matter.topic], matter.on or date.min, matter.name, matter.row_id))


def _jobs() -> Select[*tuple[Any, ...]]:
    """What the lab does by itself and could not do the last time; its name is what went wrong."""
    went_wrong = literal(Topic.JOB.value), Job.id, Job.last_error, literal(""), _NO_DAY
    return select(*went_wrong).where(Job.once_key == Job.kind, Job.last_error != "")


def _unconfirmed() -> Select[*tuple[Any, ...]]:
    """Products whose entries, as they now stand, nobody has confirmed."""
    confirmed = exists().where(Confirmation.product_id == Product.id, Confirmation.version == Product.version)
    return select(literal(Topic.UNCONFIRMED.value), Product.id, Product.name, literal(""), _NO_DAY).where(~confirmed)


def _past_date(today: date) -> Select[*tuple[Any, ...]]:
    """Bottles with something in them whose date has gone by."""
    return (
        select(literal(Topic.PAST_DATE.value), Bottle.id, Product.name, Bottle.code, Bottle.expires_on)
        .join_from(Bottle, Product)
        .join(Bottle.vessel)
        .where(Bottle.expires_on < today, Vessel.level > 0)
    )


def _open_incidents() -> Select[*tuple[Any, ...]]:
    """Incidents that nobody has closed with what was changed."""
    return select(literal(Topic.INCIDENT.value), Incident.id, cast(Incident.kind, String), literal(""), _NO_DAY).where(
        Incident.closed_at.is_(None)
    )


def _discharges() -> Select[*tuple[Any, ...]]:
    """What went down the sink without consent, for which nobody has answered."""
    answered = exists().where(DischargeAnswer.discharge_id == Discharge.id)
    return select(literal(Topic.DISCHARGE.value), Discharge.id, Discharge.what, literal(""), _NO_DAY).where(
        Discharge.wrong_because != "", ~answered
    )


def _declared() -> Select[*tuple[Any, ...]]:
    """Chemicals that people want to bring, about which nobody has decided."""
    declared = literal(Topic.DECLARED.value), Declaration.id, Declaration.name, literal(""), Declaration.first_on
    return select(*declared).where(Declaration.is_accepted.is_(None), Declaration.ended_at.is_(None))


def _overstayed(today: date) -> Select[*tuple[Any, ...]]:
    """Guest bottles that should have been taken home or disposed of."""
    return select(
        literal(Topic.OVERSTAYED.value), Declaration.id, Declaration.name, Declaration.code, Declaration.last_on
    ).where(Declaration.is_accepted.is_(True), Declaration.ended_at.is_(None), Declaration.last_on < today)
