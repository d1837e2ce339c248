"""Logging uses: what somebody, or a class, put through a line of baths; undoing it, and putting a wrong entry right."""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime

from labsys.baths import queries, rules
from labsys.baths.models import Bath, BathLine, LateUse, Use, UseBath
from labsys.baths.recall import service as recall
from labsys.chemistry.sizes import Load, Pieces, load_of, size_of
from labsys.database import DbSession
from labsys.duty.gate import require_not_stopped
from labsys.inductions import gate
from labsys.inductions.rules import AT_ANY_STRENGTH, Subject
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may, require
from labsys.people.queries import person_or_raise


@act
def log_uses(
    act: Act,
    *,
    line_id: int,
    went: Sequence[Pieces],
    used_at: datetime,
    before_start: bool = False,
    class_name: str = "",
    person_id: int | None = None,
) -> list[Use]:
    """Log work that went through a line, for oneself or as one tally for a class: a use for each size and material.

    It counts in every bath in service. `before_start` asks first: an exhausted bath then refuses the work and names
    the spare, and so does a missing induction, or being alone with what nobody does alone. Work already done is always
    recorded, and flagged where a bath was past its end or an induction was missing. Where a bath it went through was
    dumped since, it waits for whoever keeps the baths, and none is returned. `person_id` names whose work it was,
    where another writes it down afterwards. Raises NotPermitted, NotFound, BathRefused, WorkRefused, CompanyRefused
    or NotCleared.
    """
    person = act.actor if person_id is None else person_or_raise(act.session, person_id)
    is_for_others = class_name or person.id != act.actor.id
    require(act.actor, Permission.LOG_TALLY if is_for_others else Permission.LOG_USE)
    line = queries.line_or_raise(act.session, line_id)
    load = rules.work_load(went, work=line.work)
    baths = queries.baths_in_service(act.session, line_id=line_id, at=used_at, lock=True)
    if before_start:
        in_service = [rules.JudgedBath(bath, rules.life(bath, now=used_at)) for bath in baths]
        subjects = _subjects(act.session, baths=baths, went=went)
        require_not_stopped(act, handled=[(bath.product, bath.water_parts_milli) for bath in baths])
        gate.require_clear(act, person=act.actor, subjects=subjects, at=used_at)
        recall.check_not_recalled(act.session, [bath.id for bath in baths])
        spares = queries.spares(act.session, line_id=line_id)
        judged_spares = [rules.JudgedBath(spare, rules.life(spare, now=act.now)) for spare in spares]
        rules.check_may_start(in_service=in_service, spares=judged_spares, load=load)
    if any(bath.dumped_at for bath in baths) and not may(act.actor, Permission.KEEP_BATHS):
        _let_wait(act, line=line, person=person, went=went, used_at=used_at, class_name=class_name)
        return []
    return record(act, line=line, baths=baths, person=person, went=went, used_at=used_at, class_name=class_name)


def record(
    act: Act,
    *,
    line: BathLine,
    baths: Sequence[Bath],
    person: Person,
    went: Sequence[Pieces],
    used_at: datetime,
    class_name: str,
) -> list[Use]:
    """Step: work that is done counts in the baths that were in service, locked by now. Raises BathRefused for none."""
    if not baths:
        raise rules.BathRefused(
            f"No bath of {line.name} was in service at that time. Check the time, or ask the technician.",
            field="used_at",
        )
    in_service = [rules.JudgedBath(bath, rules.life(bath, now=used_at)) for bath in baths]
    subjects = _subjects(act.session, baths=baths, went=went)
    missing = _missing(act.session, subjects, person_id=person.id, at=used_at)
    flag = rules.flag_for(in_service=in_service, load=rules.work_load(went, work=line.work), missing=missing)
    uses = [
        Use(
            line_id=line.id,
            person_id=person.id,
            class_name=class_name,
            used_at=used_at,
            flag=flag,
            **_written(act, pieces),
        )
        for pieces in went
    ]
    for use in uses:
        _count_in(act.session, use=use, baths=baths, taken_back=Load())
    for use in uses:
        act.tell("use.logged", about=use, facts=_facts(use))
    recall.name_late(act, uses)
    return uses


@act
def undo_uses(act: Act, *, use_id: int) -> list[Use]:
    """Take back, while it is fresh, all that was saved with one use: each by an entry of nothing that corrects it.

    Only by whoever saved it. Raises NotPermitted, NotFound or BathRefused.
    """
    first = queries.use_or_raise(act.session, use_id)
    if first.recorded_by_id != act.actor.id:
        raise NotPermitted(Permission.KEEP_BATHS)
    require(act.actor, Permission.LOG_USE)
    rules.check_can_undo(recorded_at=first.recorded_at, now=act.now)
    saved = [use for use in queries.saved_with(act.session, first) if use.corrected_by is None]
    if not saved:
        raise rules.BathRefused("This was taken back already.")
    return [_correct(act, old, Pieces(size_of(key=old.size), old.material, 0)) for old in saved]


@act
def correct_use(act: Act, *, use_id: int, pieces: Pieces) -> Use:
    """Put a wrong entry right by a new one that names it, in the same baths; a count of 0 takes it back.

    One's own entries, or anybody's with the permission to keep baths. Raises NotPermitted, NotFound or BathRefused.
    """
    old = queries.use_or_raise(act.session, use_id)
    if not may_correct(act.actor, old):
        raise NotPermitted(Permission.KEEP_BATHS)
    require(act.actor, Permission.LOG_USE)
    if old.corrected_by is not None:
        raise rules.BathRefused("This entry was corrected already. Correct the newer one.")
    return _correct(act, old, pieces)


def _correct(act: Act, old: Use, pieces: Pieces) -> Use:
    """Step: a new entry in place of an old one, which it names."""
    rules.work_load([pieces], work=old.line.work)
    baths = queries.baths_of_use(act.session, use_id=old.id, lock=True)
    use = Use(
        line_id=old.line_id,
        person_id=old.person_id,
        class_name=old.class_name,
        used_at=old.used_at,
        flag=old.flag if pieces.count else "",
        corrects_id=old.id,
        **_written(act, pieces),
    )
    before = load_of(size=size_of(key=old.size), material=old.material, count=old.count)
    _count_in(act.session, use=use, baths=baths, taken_back=before)
    act.tell("use.corrected", about=use, facts={**_facts(use), "corrects": old.id})
    recall.name_late(act, [use], in_place_of=old)
    return use


def may_correct(person: Person, use: Use) -> bool:
    """Whether a person may put an entry right: their own, or anybody's for who keeps the baths."""
    return use.recorded_by_id == person.id or may(person, Permission.KEEP_BATHS)


def _let_wait(
    act: Act, *, line: BathLine, person: Person, went: Sequence[Pieces], used_at: datetime, class_name: str
) -> None:
    """Step: keep work until whoever keeps the baths says whether it went through the bath that was dumped."""
    for pieces in went:
        late = LateUse(
            line_id=line.id,
            person_id=person.id,
            class_name=class_name,
            size=pieces.size.key,
            material=pieces.material,
            count=pieces.count,
            used_at=used_at,
            recorded_at=act.now,
            recorded_by_id=act.actor.id,
        )
        act.session.add(late)
        act.session.flush()
        act.tell("late_use.waits", about=late, facts={"line": line.id, "size": late.size, "count": late.count})


def _subjects(session: DbSession, *, baths: Sequence[Bath], went: Sequence[Pieces]) -> list[Subject]:
    """What a person must be cleared for to work in these baths."""
    hazards = gate.hazards_by_product(session, product_ids={bath.product_id for bath in baths})
    every_hazard = AT_ANY_STRENGTH & frozenset(hazard for held in hazards.values() for hazard in held)
    return [Subject(material=material, hazards=every_hazard) for material in sorted({each.material for each in went})]


def _missing(session: DbSession, subjects: Sequence[Subject], *, person_id: int, at: datetime) -> list[str]:
    """Names of the inductions that were missing."""
    cleared = gate.clearances(session, person_ids=[person_id], subjects=subjects, at=at)
    return list(dict.fromkeys(missing.name for clearance in cleared.values() for missing in clearance.missing))


def _written(act: Act, pieces: Pieces) -> dict[str, object]:
    """What an entry holds of the pieces, and of who wrote it down when."""
    load = load_of(size=pieces.size, material=pieces.material, count=pieces.count)
    return {
        "size": pieces.size.key,
        "material": pieces.material,
        "count": pieces.count,
        "area_mm2": load.area_mm2(pieces.material),
        "recorded_at": act.now,
        "recorded_by_id": act.actor.id,
    }


def _count_in(session: DbSession, *, use: Use, baths: Sequence[Bath], taken_back: Load) -> None:
    added = load_of(size=size_of(key=use.size), material=use.material, count=use.count)
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
