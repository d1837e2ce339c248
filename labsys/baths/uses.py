"""Logging uses: what somebody, or a class, put through a line of baths, and putting a wrong entry right."""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime

from labsys.baths import queries, rules
from labsys.baths.models import Bath, Use, UseBath
from labsys.chemistry.sizes import Load, Material, Size, load_of, size_of
from labsys.database import DbSession
from labsys.duty.gate import require_not_stopped
from labsys.inductions import gate
from labsys.inductions.rules import Subject
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may, require


@act
def log_use(
    act: Act,
    *,
    line_id: int,
    size: Size,
    material: Material,
    count: int,
    used_at: datetime,
    before_start: bool = False,
    class_name: str = "",
) -> Use:
    """Log work that went through a line, for oneself or as one tally for a class; it counts in every bath in service.

    `before_start` asks first: an exhausted bath then refuses the work and names the spare, and so does a missing
    induction, or being alone with what nobody does alone. Work already done is always recorded, and flagged where a
    bath was past its end or an induction was missing. Raises NotPermitted, NotFound, BathRefused, WorkRefused,
    CompanyRefused or NotCleared.
    """
    require(act.actor, Permission.LOG_TALLY if class_name else Permission.LOG_USE)
    line = queries.line_or_raise(act.session, line_id)
    load = rules.work_load(size=size, material=material, count=count, work=line.work)
    baths = queries.baths_in_service(act.session, line_id=line_id, at=used_at, lock=True)
    in_service = [rules.JudgedBath(bath, rules.life(bath, now=used_at)) for bath in baths]
    subject = _subject(act.session, baths=baths, material=material)
    if before_start:
        require_not_stopped(act, handled=[(bath.product, bath.water_parts_milli) for bath in baths])
        gate.require_clear(act, person=act.actor, subjects=[subject], at=used_at)
        spares = queries.spares(act.session, line_id=line_id)
        judged_spares = [rules.JudgedBath(spare, rules.life(spare, now=act.now)) for spare in spares]
        rules.check_may_start(in_service=in_service, spares=judged_spares, load=load)
    if not baths:
        raise rules.BathRefused(
            f"No bath of {line.name} was in service at that time. Check the time, or ask the technician.",
            field="used_at",
        )
    use = Use(
        line_id=line.id,
        person_id=act.actor.id,
        class_name=class_name,
        size=size.key,
        material=material,
        count=count,
        area_mm2=load.area_mm2(material),
        used_at=used_at,
        recorded_at=act.now,
        recorded_by_id=act.actor.id,
        flag=rules.flag_for(in_service=in_service, load=load, missing=_missing(act, subject, at=used_at)),
    )
    _count_in(act.session, use=use, baths=baths, added=load, taken_back=Load())
    act.tell("use.logged", about=use, facts=_facts(use))
    return use


@act
def correct_use(act: Act, *, use_id: int, size: Size, material: Material, count: int) -> Use:
    """Put a wrong entry right by a new one that names it, in the same baths; a count of 0 takes it back.

    One's own entries, or anybody's with the permission to keep baths. Raises NotPermitted, NotFound or BathRefused.
    """
    old = queries.use_or_raise(act.session, use_id)
    if not may_correct(act.actor, old):
        raise NotPermitted(Permission.KEEP_BATHS)
    require(act.actor, Permission.LOG_USE)
    if old.corrected_by is not None:
        raise rules.BathRefused("This entry was corrected already. Correct the newer one.")
    load = rules.work_load(size=size, material=material, count=count, work=old.line.work)
    baths = queries.baths_of_use(act.session, use_id=old.id, lock=True)
    before = load_of(size=size_of(key=old.size), material=old.material, count=old.count)
    use = Use(
        line_id=old.line_id,
        person_id=old.person_id,
        class_name=old.class_name,
        size=size.key,
        material=material,
        count=count,
        area_mm2=load.area_mm2(material),
        used_at=old.used_at,
        recorded_at=act.now,
        recorded_by_id=act.actor.id,
        flag=old.flag if count else "",
        corrects_id=old.id,
    )
    _count_in(act.session, use=use, baths=baths, added=load, taken_back=before)
    facts = {**_facts(use), "corrects": old.id}
    act.tell("use.corrected", about=use, facts=facts)
    return use


def may_correct(person: Person, use: Use) -> bool:
    """Whether a person may put an entry right: their own, or anybody's for who keeps the baths."""
    return use.recorded_by_id == person.id or may(person, Permission.KEEP_BATHS)


def _subject(session: DbSession, *, baths: Sequence[Bath], material: Material) -> Subject:
    """What a person must be cleared for to work in these baths."""
    hazards = gate.hazards_by_product(session, product_ids={bath.product_id for bath in baths})
    return Subject(material=material, hazards=frozenset().union(*hazards.values()))


def _missing(act: Act, subject: Subject, *, at: datetime) -> list[str]:
    """Names of the inductions that were missing."""
    person_id = act.actor.id
    clearance = gate.clearances(act.session, person_ids=[person_id], subjects=[subject], at=at)[person_id, subject]
    return [missing.name for missing in clearance.missing]


def _count_in(session: DbSession, *, use: Use, baths: Sequence[Bath], added: Load, taken_back: Load) -> None:
    use.baths = [UseBath(bath_id=bath.id) for bath in baths]
    session.add(use)
    before = asdict(taken_back)
    for bath in baths:
        for column, amount in asdict(added).items():
            setattr(bath, column, getattr(bath, column) + amount - before[column])
    session.flush()


def _facts(use: Use) -> dict[str, object]:
    facts = {name: getattr(use, name) for name in ("size", "material", "count", "flag")}
    return {**facts, "line": use.line_id, "class": use.class_name}
