"""What is due in the store, the register and the background, read in one statement however many rooms it comes from."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Date,
    Select,
    String,
    case,
    cast,
    exists,
    func,
    literal,
    null,
    or_,
    select,
    union_all,
)
from sqlalchemy.orm import aliased

from labsys.baths.models import BathLine, LateUse, Use
from labsys.baths.recall.models import Recall, RecalledUse
from labsys.baths.rules import UNCLEARED
from labsys.brought_in.models import Declaration
from labsys.competences.models import Competence, CompetenceGrant
from labsys.competences.rules import REMIND_BEFORE
from labsys.database import BigId, DbSession
from labsys.duty.models import Alert, CallIn, DutyRules
from labsys.equipment.models import Equipment, EquipmentFault
from labsys.forecast.models import ProductForecast, Run
from labsys.handover.models import HandoverNote, LeftFilm
from labsys.incidents.models import Incident
from labsys.inductions.models import Induction, InductionVersion, SignOff, Withdrawal
from labsys.jobs.models import Job
from labsys.ledger.models import Vessel
from labsys.mail import queries as mail
from labsys.mail.models import OutgoingMail
from labsys.offline.models import KeptEntry, State
from labsys.offline.queries import NEEDS_STAFF
from labsys.people.models import Person
from labsys.places.models import Station
from labsys.products.models import Confirmation, Product
from labsys.proving import queries as proving
from labsys.proving.models import SafelightTest, WashTest
from labsys.records.models import Lab, WaitingLabel
from labsys.restrictions.models import Talk
from labsys.store.models import Bottle, UnlabelledBottle
from labsys.waste.models import Discharge, DischargeAnswer


class Topic(StrEnum):
    """What a matter is about, in the order in which they are listed."""

    ALERT = "somebody does not answer or is overdue"
    CALL_IN = "somebody is alone and is asked"
    TO_CONFIRM = "entries made at a tablet in somebody's name"
    KEPT = "entries made without a network that nothing took over"
    LATE_USE = "uses told after their bath was dumped"
    JOB = "job of the lab's own that went wrong"
    TALK = "people who ask for a talk in confidence"
    DISCHARGE = "discharge without consent"
    NOTE = "note to whoever comes next"
    LEFT_FILM = "film that waits for its owner"
    FAULT = "fault of equipment or of a place"
    UNCLEARED = "work done without an induction"
    INCIDENT = "open incident"
    OVERSTAYED = "guest bottle past its last day"
    DECLARED = "chemical declared"
    UNGRANTED = "competence that nobody here can grant"
    WITNESS = "how many grants wait for one's word as their witness"
    LAPSING = "competence that lapses soon"
    UNCONFIRMED = "unconfirmed product"
    RECALLED = "work that went through a faulty bath"
    RECALL = "open recall"
    UNLABELLED = "bottle without a label"
    SET_APART = "bottle in quarantine"
    PAST_DATE = "bottle past its date"
    LABELS = "how many labels wait to be printed"
    SHORT = "product of which too little is left for what will be mixed"
    WASH = "wash to be tested"
    SAFELIGHT = "safelight to be tested"
    MAIL = "how many messages somebody has to decide about"
    ALONE_NOT_DECIDED = "nobody has said what holds for working alone"


@dataclass(frozen=True)
class Matter:
    """One row that somebody should see to; `on` is the day that counts, where there is one.

    Of talks in confidence only how many people wait is read: it stands in `row_id`.
    """

    topic: Topic
    row_id: int
    name: str
    code: str
    on: date | None


_ORDER = {topic: place for place, topic in enumerate(Topic)}
_NO_DAY = cast(null(), Date)
UNCLEARED_SHOWN = timedelta(days=28)  # house rule: by then they come no more, or stand there for their next booking


def matters(
    session: DbSession, *, today: date, now: datetime, with_talks: bool, person_id: int, overseer_id: int | None = None
) -> list[Matter]:
    """All that is due, by topic, then by its day and name; talks only for whoever may know of them.

    To whoever oversees the lab also everybody's competences that lapse, and what waits for their own word.
    """
    rows = session.execute(
        union_all(
            _alerts(),
            _call_ins(),
            *_without_network(),
            _alone_not_decided(),
            _mail(now),
            _labels(),
            *([_talks()] if with_talks else []),
            _discharges(),
            _faults(),
            _notes(),
            _left_films(),
            _uncleared(now),
            _jobs(),
            _unconfirmed(),
            _recalled(person_id),
            _recalls(),
            _unlabelled(),
            _set_apart(),
            _past_date(today),
            _short(),
            _open_incidents(),
            _declared(),
            _overstayed(today),
            _washes(now),
            _safelights(now),
            *(_ungranted(competence, today) for competence in _ASKED_EVERYWHERE),
            *([] if overseer_id is None else [_to_witness(overseer_id, today), _lapsing(today)]),
        )
    )
    due = [Matter(Topic(topic), *row) for topic, *row in rows]
    return sorted(due, key=lambda matter: (_ORDER[matter.topic], matter.on or date.min, matter.name, matter.row_id))


def _alerts() -> Select[*tuple[Any, ...]]:
    """Alerts that nobody has answered: what is said, and of whom."""
    said = literal(Topic.ALERT.value), Alert.id, cast(Alert.said, String), Alert.who, _NO_DAY
    return select(*said).where(Alert.answered_at.is_(None), Alert.ended_at.is_(None))


def _call_ins() -> Select[*tuple[Any, ...]]:
    """Whoever is alone now, by the number of their account, and why their work has to stop."""
    who, why = cast(CallIn.person_id, String), cast(CallIn.stopped, String)
    return select(literal(Topic.CALL_IN.value), CallIn.id, why, who, _NO_DAY).where(CallIn.ended_at.is_(None))


def _without_network() -> list[Select[*tuple[Any, ...]]]:
    """How many entries wait for each person to confirm them, for staff, and for whoever keeps the baths.

    A row each, the number in `row_id`; of what waits for a person, the number of their account is the code.
    """
    number, whose = func.count(KeptEntry.id), cast(KeptEntry.person_id, String)
    confirm = select(literal(Topic.TO_CONFIRM.value), number, literal(""), whose, _NO_DAY)
    kept = select(literal(Topic.KEPT.value), number, literal(""), literal(""), _NO_DAY)
    late = select(literal(Topic.LATE_USE.value), func.count(LateUse.id), literal(""), literal(""), _NO_DAY)
    return [
        confirm.where(KeptEntry.state == State.NOT_CONFIRMED).group_by(KeptEntry.person_id),
        kept.where(KeptEntry.state.in_(NEEDS_STAFF)).having(number > 0),
        late.where(LateUse.settled_at.is_(None)).having(func.count(LateUse.id) > 0),
    ]


def _alone_not_decided() -> Select[*tuple[Any, ...]]:
    """One row while the lab has not said what holds for working alone."""
    undecided = literal(Topic.ALONE_NOT_DECIDED.value), Lab.id, literal(""), literal(""), _NO_DAY
    return select(*undecided).where(~exists().where(DutyRules.id == 1))


def _mail(now: datetime) -> Select[*tuple[Any, ...]]:
    """One row, its number how many messages need somebody."""
    number = literal(Topic.MAIL.value), func.count(OutgoingMail.id), literal(""), literal(""), _NO_DAY
    return select(*number).where(*mail.is_stuck(now))


def _labels() -> Select[*tuple[Any, ...]]:
    """How many labels wait to be printed; no row where none does."""
    waiting = func.count(WaitingLabel.id)
    return select(literal(Topic.LABELS.value), waiting, literal(""), literal(""), _NO_DAY).having(waiting > 0)


# What every lab comes to do; powders, toners and late hours are asked of those labs alone that have them.
_ASKED_EVERYWHERE = (Competence.CORROSIVES, Competence.RELEASING, Competence.WASTE_AWAY)


def _ungranted(competence: Competence, today: date) -> Select[*tuple[Any, ...]]:
    """A competence that nobody who is here holds with the right to grant it, as in a lab just upgraded."""
    granter = (
        exists()
        .where(CompetenceGrant.competence == competence, CompetenceGrant.may_grant, *_holds(CompetenceGrant, today))
        .where(Person.id == CompetenceGrant.person_id, Person.left_at.is_(None))
    )
    return select(
        literal(Topic.UNGRANTED.value), literal(0, BigId), literal(competence.value), literal(""), _NO_DAY
    ).where(~granter)


def _holds(grant: type[CompetenceGrant], today: date) -> tuple[ColumnElement[bool], ...]:
    """That a grant counts today: seen by its witness or granted without one, not revoked, not lapsed."""
    counts = or_(grant.witness_id.is_(None), grant.witnessed_at.is_not(None))
    return counts, grant.revoked_at.is_(None), grant.until >= today, grant.happened_on <= today


def _to_witness(person_id: int, today: date) -> Select[*tuple[Any, ...]]:
    """How many grants wait for somebody to say that they saw it; no row where none does."""
    waiting = func.count(CompetenceGrant.id)
    counted = select(literal(Topic.WITNESS.value), waiting, literal(""), literal(""), _NO_DAY)
    return counted.where(
        CompetenceGrant.witness_id == person_id,
        CompetenceGrant.witnessed_at.is_(None),
        CompetenceGrant.revoked_at.is_(None),
        CompetenceGrant.until >= today,
    ).having(waiting > 0)


def _lapsing(today: date) -> Select[*tuple[Any, ...]]:
    """Who holds a competence that soon lapses, and by no other grant for longer: the person, which, and until when."""
    longer = aliased(CompetenceGrant)
    is_followed = (
        exists()
        .where(longer.person_id == CompetenceGrant.person_id, longer.competence == CompetenceGrant.competence)
        .where(longer.until > CompetenceGrant.until, *_holds(longer, today))
    )
    named = literal(Topic.LAPSING.value), Person.id, Person.name, cast(CompetenceGrant.competence, String)
    return (
        select(*named, CompetenceGrant.until)
        .join(Person, Person.id == CompetenceGrant.person_id)
        .where(Person.left_at.is_(None), CompetenceGrant.until < today + REMIND_BEFORE)
        .where(*_holds(CompetenceGrant, today), ~is_followed)
    )


def _jobs() -> Select[*tuple[Any, ...]]:
    """What the lab does by itself and could not do the last time; its name is what went wrong."""
    went_wrong = literal(Topic.JOB.value), Job.id, Job.last_error, literal(""), _NO_DAY
    return select(*went_wrong).where(Job.once_key == Job.kind, Job.last_error != "")


def _talks() -> Select[*tuple[Any, ...]]:
    """How many people wait for a talk in confidence; no row where nobody does."""
    waiting = func.count(Talk.person_id.distinct())
    counted = select(literal(Topic.TALK.value), waiting, literal(""), literal(""), _NO_DAY)
    return counted.where(Talk.held_at.is_(None)).having(waiting > 0)


def _unconfirmed() -> Select[*tuple[Any, ...]]:
    """Products whose entries, as they now stand, nobody has confirmed."""
    confirmed = exists().where(Confirmation.product_id == Product.id, Confirmation.version == Product.version)
    return select(literal(Topic.UNCONFIRMED.value), Product.id, Product.name, literal(""), _NO_DAY).where(~confirmed)


def _past_date(today: date) -> Select[*tuple[Any, ...]]:
    """Bottles with something in them whose date has gone by."""
    return (
        select(literal(Topic.PAST_DATE.value), Bottle.id, Product.name, Bottle.code, Bottle.lapses_on)
        .join_from(Bottle, Product)
        .join(Bottle.vessel)
        .where(Bottle.lapses_on < today, Vessel.level > 0)
    )


def _recalled(person_id: int) -> Select[*tuple[Any, ...]]:
    """Open recalls that name work of one person to which they have not seen yet."""
    correction = aliased(Use)
    own = (
        exists()
        .where(RecalledUse.recall_id == Recall.id, RecalledUse.seen_to_at.is_(None))
        .where(Use.id == RecalledUse.use_id, Use.person_id == person_id, Use.count > 0)
        .where(~exists().where(correction.corrects_id == Use.id))
    )
    return select(literal(Topic.RECALLED.value), Recall.id, Recall.why, literal(""), _NO_DAY).where(
        Recall.closed_at.is_(None), own
    )


def _recalls() -> Select[*tuple[Any, ...]]:
    """Recalls that nobody has closed."""
    opened = literal(Topic.RECALL.value), Recall.id, Recall.why, literal(""), _NO_DAY
    return select(*opened).where(Recall.closed_at.is_(None))


def _set_apart() -> Select[*tuple[Any, ...]]:
    """Bottles in quarantine: somebody else than who set them apart says what becomes of them."""
    return (
        select(literal(Topic.SET_APART.value), Bottle.id, Product.name, Bottle.code, _NO_DAY)
        .join_from(Bottle, Product)
        .where(Bottle.is_quarantined)
    )


def _unlabelled() -> Select[*tuple[Any, ...]]:
    """Bottles found without a label about which nobody has decided."""
    found = literal(Topic.UNLABELLED.value), UnlabelledBottle.id, UnlabelledBottle.looks, UnlabelledBottle.code, _NO_DAY
    return select(*found).where(UnlabelledBottle.ended_at.is_(None))


def _short() -> Select[*tuple[Any, ...]]:
    """Products that run short by the forecast that stands: from which day, and of which day the forecast is."""
    newest = select(func.max(Run.id)).scalar_subquery()
    return (
        select(
            *(literal(Topic.SHORT.value), Product.id, Product.name, cast(Run.day, String)),
            func.date(ProductForecast.short_from, type_=Date),
        )
        .join_from(ProductForecast, Product)
        .join(Run, Run.id == ProductForecast.run_id)
        .where(ProductForecast.run_id == newest, ProductForecast.short_from.is_not(None))
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


def _notes() -> Select[*tuple[Any, ...]]:
    """Notes that nobody has read: what they say, and the number of the account and the name of who wrote it."""
    by = cast(HandoverNote.written_by_id, String) + literal(" ") + Person.name
    note = select(literal(Topic.NOTE.value), HandoverNote.id, cast(HandoverNote.text, String), by, _NO_DAY)
    return note.join(Person, HandoverNote.written_by_id == Person.id).where(HandoverNote.read_at.is_(None))


def _left_films() -> Select[*tuple[Any, ...]]:
    """Film here whose owner is known: what it is, the number of their account, and where it lies."""
    whose = cast(LeftFilm.owner_id, String) + literal(" ") + LeftFilm.whereabouts
    film = select(literal(Topic.LEFT_FILM.value), LeftFilm.id, LeftFilm.what, whose, LeftFilm.found_on)
    return film.where(LeftFilm.gone_at.is_(None), LeftFilm.owner_id.is_not(None))


def _faults() -> Select[*tuple[Any, ...]]:
    """Faults that nobody has cleared: of what, and what was said of it."""
    said = cast(EquipmentFault.kind, String) + literal(". ") + EquipmentFault.words
    named = func.coalesce(Equipment.name, Station.name)
    fault = select(literal(Topic.FAULT.value), EquipmentFault.id, named, said, _NO_DAY)
    joined = fault.outerjoin(Equipment, EquipmentFault.equipment_id == Equipment.id)
    return joined.outerjoin(Station, EquipmentFault.station_id == Station.id).where(EquipmentFault.cleared_at.is_(None))


def _uncleared(now: datetime) -> Select[*tuple[Any, ...]]:
    """Who logged work without an induction, by their newest such use, until they confirm what was missing."""
    newer, correction = aliased(Use), aliased(Use)
    is_newest = ~exists().where(
        newer.person_id == Use.person_id, newer.id > Use.id, newer.flag.contains(UNCLEARED), newer.count > 0
    )
    held_since = (
        exists()
        .where(SignOff.version_id == InductionVersion.id, InductionVersion.induction_id == Induction.id)
        .where(SignOff.person_id == Use.person_id, SignOff.confirmed_at > Use.used_at)
        .where(~exists().where(Withdrawal.sign_off_id == SignOff.id))
        .correlate(Use, Induction)  # of this very use: two queries deep it would take anybody's
    )
    is_named = Use.flag.contains(Induction.name)
    return (
        select(literal(Topic.UNCLEARED.value), Use.person_id, Use.flag, Person.name, func.date(Use.used_at, type_=Date))
        .join(Person, Use.person_id == Person.id)
        .where(Use.used_at > now - UNCLEARED_SHOWN, Use.flag.contains(UNCLEARED), is_newest)
        .where(~exists().where(correction.corrects_id == Use.id))
        .where(or_(exists().where(is_named, ~held_since), ~exists().where(is_named)))
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


def _washes(now: datetime) -> Select[*tuple[Any, ...]]:
    """Lines whose newest test of the wash failed, or is old; the code says which."""
    failed = case((proving.wash_failed(), "failed"), else_="")
    day = func.date(WashTest.tested_at, type_=Date)
    return (
        select(literal(Topic.WASH.value), WashTest.line_id, BathLine.name, failed, day)
        .join(BathLine, WashTest.line_id == BathLine.id)
        .where(proving.is_newest_of_wash(), proving.wash_due(now))
    )


def _safelights(now: datetime) -> Select[*tuple[Any, ...]]:
    """Places whose newest test of a paper failed, or is old; the code says which."""
    failed = case((proving.light_failed(), "failed"), else_="")
    day = func.date(SafelightTest.tested_at, type_=Date)
    return (
        select(literal(Topic.SAFELIGHT.value), SafelightTest.id, Station.name + ", " + SafelightTest.paper, failed, day)
        .join(Station, SafelightTest.station_id == Station.id)
        .where(proving.is_newest_of_light(), proving.light_due(now), Station.closed_at.is_(None))
    )
