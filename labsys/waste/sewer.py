"""What people do about the foul sewer: enter a consent, discharge under it, record what went down, answer for it."""

from collections.abc import Collection, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from types import MappingProxyType

from labsys.hazards.waste_codes import waste_code
from labsys.ledger import service as ledger
from labsys.ledger.models import Account, Vessel
from labsys.ledger.rules import MovementLine
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records.queries import zone
from labsys.timetable.local_time import to_local
from labsys.waste import queries, rules, sewer_rules
from labsys.waste.models import (
    Discharge,
    DischargeAnswer,
    DischargeReading,
    SewerConsent,
    SewerConsentName,
    SewerLimit,
    WasteKind,
)

NOT_MEASURED: sewer_rules.Readings = MappingProxyType({})


@dataclass(frozen=True)
class LimitEntry:
    """One thing a consent limits, such as pH from 6 to 10; without figures a condition in words."""

    quantity: str
    unit: str = ""
    low_milli: int | None = None
    high_milli: int | None = None


@dataclass(frozen=True)
class ConsentEntry:
    """A consent as its paper states it; `names` are codes and kinds."""

    reference: str
    issued_by: str
    most_ul_a_day: int | None
    valid_from: date
    valid_until: date
    codes: Collection[str] = ()
    kinds: Collection[WasteKind] = ()
    limits: Collection[LimitEntry] = ()


@act
def add_consent(act: Act, *, entry: ConsentEntry) -> SewerConsent:
    """Enter a consent of the sewerage undertaker. Raises NotPermitted or WasteRefused."""
    require(act.actor, Permission.KEEP_SEWER)
    if queries.consent_by_reference(act.session, entry.reference) is not None:
        raise rules.WasteRefused(f"{entry.reference} is on file already.", field="reference")
    if entry.valid_until < entry.valid_from:
        raise rules.WasteRefused("It ends before it begins. Change one of the days.", field="valid_until")
    if not (entry.codes or entry.kinds):
        raise rules.WasteRefused("Choose what it names: a code, a kind, or several.", field="codes")
    codes = [waste_code(code).code for code in entry.codes]
    consent = SewerConsent(
        reference=entry.reference,
        issued_by=entry.issued_by,
        most_ul_a_day=entry.most_ul_a_day,
        valid_from=entry.valid_from,
        valid_until=entry.valid_until,
        recorded_at=act.now,
        recorded_by_id=act.actor.id,
        names=[
            *(SewerConsentName(waste_code=code) for code in codes),
            *(SewerConsentName(kind=kind) for kind in entry.kinds),
        ],
        limits=[SewerLimit(**asdict(limit)) for limit in entry.limits],
    )
    act.session.add(consent)
    facts = {
        "reference": entry.reference,
        "issued_by": entry.issued_by,
        "limits": [limit.in_words for limit in consent.limits],
        "most_ul_a_day": entry.most_ul_a_day,
        "from": entry.valid_from.isoformat(),
        "until": entry.valid_until.isoformat(),
        "codes": codes,
        "kinds": list(entry.kinds),
    }
    act.tell("consent.added", about=consent, facts=facts)
    return consent


@act
def end_consent(act: Act, *, consent_id: int) -> SewerConsent:
    """End a consent from today on: it was withdrawn, or entered wrongly. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.KEEP_SEWER)
    consent = queries.consent_or_raise(act.session, consent_id, lock=True)
    yesterday = to_local(act.now, zone=zone(act.session)).date() - timedelta(days=1)
    if consent.valid_until <= yesterday:
        raise rules.WasteRefused(f"{consent.reference} has ended already.")
    consent.valid_until = yesterday
    consent.valid_from = min(consent.valid_from, yesterday)
    act.tell("consent.ended", about=consent, facts={"reference": consent.reference})
    return consent


def discharge_from(
    act: Act,
    *,
    source: Vessel | Account,
    poured: rules.Poured,
    discharged_at: datetime,
    readings: sewer_rules.Readings,
    losses: Sequence[MovementLine] = (),
    is_done: bool = False,
) -> Discharge:
    """Step: let something go to the foul sewer under a consent that names it, within its limits as measured.

    Else it is stopped; `is_done` says that it went down already, which is recorded as such. Raises NotToSewer.
    """
    answer = queries.sewer_answer(act.session, poured=poured, at=discharged_at, readings=readings, lock=True)
    why = answer.why_not
    if why and not is_done:
        raise sewer_rules.NotToSewer(why)
    out = poured.volume_ul + sum(line.amount for line in losses)
    movement = ledger.move(
        act,
        what="discharge",
        lines=[MovementLine(source, -out), MovementLine(Account.FOUL_SEWER, poured.volume_ul), *losses],
        happened_at=discharged_at,
    )
    made = Discharge(
        movement_id=movement.id,
        what=poured.what,
        waste_code=poured.waste_code,
        volume_ul=poured.volume_ul,
        wrong_because=why,
        consent_id=answer.consent.id if answer.consent else None,
        readings=[
            DischargeReading(limit=limit, **asdict(readings.get(limit.id, sewer_rules.Reading())))
            for limit in answer.limits
        ],
        discharged_at=discharged_at,
        recorded_at=act.now,
        recorded_by_id=act.actor.id,
    )
    act.session.add(made)
    act.session.flush()
    return made


@act
def record_drained(
    act: Act, *, poured: rules.Poured, discharged_at: datetime, readings: sewer_rules.Readings = NOT_MEASURED
) -> Discharge:
    """Record that something from outside the book went down the sink. Raises NotPermitted."""
    require(act.actor, Permission.POUR_WASTE)
    made = discharge_from(
        act, source=Account.FROM_OUTSIDE, poured=poured, discharged_at=discharged_at, readings=readings, is_done=True
    )
    act.tell("discharge.recorded", about=made, facts=discharge_facts(made))
    return made


def discharge_facts(made: Discharge) -> dict[str, object]:
    """What the record keeps of a discharge."""
    return {
        "what": made.what,
        "code": made.waste_code,
        "volume_ul": made.volume_ul,
        "consent": made.consent_id,
        "measured": {reading.limit.in_words: reading.told for reading in made.readings},
        "wrong_because": made.wrong_because,
    }


@act
def answer_discharge(act: Act, *, discharge_id: int, answer: str) -> Discharge:
    """Say what was found and done about a discharge without consent. Raises NotPermitted, NotFound or WasteRefused."""
    require(act.actor, Permission.KEEP_SEWER)
    made = queries.discharge_or_raise(act.session, discharge_id, lock=True)
    if not made.wrong_because or made.answer is not None:
        raise rules.WasteRefused("There is nothing to answer for.", field="answer")
    if not answer.strip():
        raise rules.WasteRefused("Write whom you told and what was done.", field="answer")
    made.answer = DischargeAnswer(answer=answer, answered_at=act.now, answered_by_id=act.actor.id)
    act.tell("discharge.answered", about=made, facts={"answer": answer})
    return made
