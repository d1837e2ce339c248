"""Changing an exhausted bath over in one act: the old one dumped, a spare or the same mixed again in its place.

So that an evening does not end with a dead bath, whoever has shown that they can do it may, and not only those who
keep the baths.
"""

from collections.abc import Sequence
from datetime import datetime

from labsys.baths import queries, rules, same_again, service
from labsys.baths.models import Bath, Place
from labsys.chemistry.life import State
from labsys.competences import gate as competences
from labsys.competences.asked import TO_CHANGE_OVER
from labsys.competences.rules import Asked
from labsys.database import DbSession
from labsys.duty import queries as duty
from labsys.people import queries as people
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, may, require


@act
def change_over(
    act: Act,
    *,
    bath_id: int,
    container_id: int,
    volume_ul: int,
    spare_id: int | None = None,
    taken: Sequence[rules.Taken] = (),
    water_ul: int = 0,
    is_as_planned: bool = False,
) -> Bath:
    """Dump an exhausted bath into a container, and put a spare or the same mixed again in its place; now.

    Raises NotPermitted, NotFound, LacksCompetence, BathRefused, Stopped, and what `service.mix` raises.
    """
    require(act.actor, Permission.LOG_USE)
    competences.require(act, asked_of(act.actor))
    old = queries.bath_with_life(act.session, bath_id, lock=True)
    is_spare_used = spare_id is not None
    if why_not := why_not_now(act.session, old, state=rules.life(old, now=act.now).state, has_spare=is_spare_used):
        raise rules.BathRefused(why_not)
    fresh = _spare(act, old, spare_id) if spare_id is not None else _mixed(act, old, taken, water_ul, is_as_planned)
    service.dump(act, old, container_id=container_id, volume_ul=volume_ul, dumped_at=act.now)
    return fresh


def asked_of(person: Person) -> Sequence[Asked]:
    """What changing a bath over asks of somebody: nothing beyond their role of those who keep the baths."""
    return () if may(person, Permission.KEEP_BATHS) else TO_CHANGE_OVER


def is_offered(session: DbSession, bath: Bath, *, person: Person, now: datetime) -> bool:
    """Whether somebody is offered to change a bath over, on the pages that lead there."""
    state = rules.life(bath, now=now).state
    if not bath.is_in_service or state is not State.EXHAUSTED or not may(person, Permission.LOG_USE):
        return False
    if competences.lacked_by(session, person=person, asked=asked_of(person), now=now):
        return False
    if why_not_now(session, bath, state=state, has_spare=True):
        return False
    return not same_again.why_changed(session, bath) or spare_for(session, bath, now=now) is not None


def spare_for(session: DbSession, bath: Bath, *, now: datetime) -> Bath | None:
    """A spare that can take the place of a bath."""
    spares = (spare for spare in queries.spares(session, line_id=bath.line_id) if spare.place is bath.place)
    return next((spare for spare in spares if rules.life(spare, now=now).state is not State.EXHAUSTED), None)


def why_not_now(session: DbSession, bath: Bath, *, state: State, has_spare: bool) -> str:
    """Why a bath is not changed over, in words; empty where it may be. A spare needs no mixing as it was."""
    called = f"{bath.name} {bath.code}"
    if bath.dumped_at is not None:
        return f"{called} was dumped already."
    if not bath.is_in_service:
        return f"{called} is not in service."
    if bath.place is Place.FIXER and (bath.rotation is not None or bath.has_second_fixer):
        return f"{called} is the first of two fixers: rotate them instead, or ask the technician to."
    if state is not State.EXHAUSTED:
        return f"{called} is not exhausted: it stays in service."
    return "" if has_spare else same_again.why_changed(session, bath)


def keepers_here(session: DbSession) -> list[str]:
    """Those who keep the baths and are known to be in the building, by name."""
    here = {each.person_id for each in duty.who_is_in(session)}
    return [person.name for person in people.people_who_may(session, Permission.KEEP_BATHS) if person.id in here]


def _spare(act: Act, old: Bath, spare_id: int) -> Bath:
    spare = queries.bath_with_life(act.session, spare_id, lock=True)
    called = f"{spare.name} {spare.code}"
    if not spare.is_spare or (spare.line_id, spare.place) != (old.line_id, old.place):
        raise rules.BathRefused(f"{called} is not a spare for {old.name} {old.code}. Load the page again.")
    if rules.life(spare, now=act.now).state is State.EXHAUSTED:
        raise rules.BathRefused(f"{called} went off unused. Load the page again: it is mixed anew then.")
    replaced = service.take_place(act.session, bath=spare, at=act.now)
    facts = {"code": spare.code, "replaces": [bath.code for bath in replaced]}
    act.tell("bath.put_in_service", about=spare, facts=facts)
    return spare


def _mixed(act: Act, old: Bath, taken: Sequence[rules.Taken], water_ul: int, is_as_planned: bool) -> Bath:
    return service.mix(
        act,
        product_id=old.product_id,
        water_parts_milli=old.water_parts_milli,
        line_id=old.line_id,
        place=old.place,
        name=old.name,
        holding=old.holding,
        capacity_ul=old.vessel.capacity,
        working_ul=same_again.volume_again(old),
        taken=taken,
        water_ul=water_ul,
        in_service=True,
        mixed_at=act.now,
        is_as_planned=is_as_planned,
        label_waits=True,
        way=old.way,
        rate_of=old.replenishing,
    )
