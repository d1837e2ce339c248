"""Two-bath fixing: when the first bath is spent, the second takes its place and a fresh one stands second."""

from dataclasses import asdict

from sqlalchemy import func, select

from labsys.baths import queries, rules
from labsys.baths.models import Bath, Place, Rotation
from labsys.chemistry.fixing import MOST_TURNS
from labsys.chemistry.life import State
from labsys.database import DbSession
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records import service as records


@act
def rotate(act: Act, *, line_id: int) -> Rotation:
    """Move the second fixer of a line to the first place; a spare for the second place goes in service there.

    A first fixer that still stands waits to be dumped. Raises NotPermitted, NotFound, or BathRefused where there is
    no second fixer, the first is good still, or both have been rotated as often as they may.
    """
    require(act.actor, Permission.KEEP_BATHS)
    queries.line_or_raise(act.session, line_id, lock=True)
    in_service = queries.baths_in_service(act.session, line_id=line_id, at=act.now, lock=True)
    second = next((bath for bath in in_service if bath.place is Place.SECOND_FIXER), None)
    if second is None:
        raise rules.BathRefused("No second fixer is in service in this line. Mix one and put it in service first.")
    firsts = [bath for bath in in_service if bath.place is Place.FIXER]
    for first in firsts:
        if rules.life(first, now=act.now).state is State.PLENTY:
            raise rules.BathRefused(f"{first.name} {first.code} has plenty left. Rotate once it is near its end.")
    rotations = _rotations_so_far(act.session, line_id=line_id)
    if rotations >= MOST_TURNS:
        raise rules.BathRefused(
            f"These baths were rotated {rotations} times, as often as they may be. Dump both, and mix two fresh ones."
        )
    for first in firsts:
        first.out_of_service_at = act.now
    second.place = Place.FIXER
    rotation = Rotation(
        bath_id=second.id, number=rotations + 1, **asdict(second.used), rotated_at=act.now, rotated_by_id=act.actor.id
    )
    act.session.add(rotation)
    spares = queries.spares(act.session, line_id=line_id)
    fresh = next((spare for spare in spares if spare.place is Place.SECOND_FIXER), None)
    if fresh is not None:
        fresh.in_service_at = act.now
    act.session.flush()
    for bath in filter(None, (second, fresh)):
        records.await_label(act.session, bath.code, since=act.now)  # each is called by its place on its label
    facts = {
        "number": rotation.number,
        "first": second.code,
        "second": fresh.code if fresh else None,
        "was_first": [first.code for first in firsts],
    }
    act.tell("fixers.rotated", about=rotation, facts=facts)
    return rotation


def _rotations_so_far(session: DbSession, *, line_id: int) -> int:
    """How often the fixers were rotated since a fresh bath last began in the first place."""
    left_at = func.coalesce(Bath.out_of_service_at, Bath.dumped_at)
    newest_first = (
        select(Rotation.number)
        .select_from(Bath)
        .outerjoin(Bath.rotation)
        .where(Bath.line_id == line_id, Bath.place == Place.FIXER, Bath.in_service_at.is_not(None))
        .order_by(left_at.is_not(None), left_at.desc(), Bath.id.desc())
        .limit(1)
    )
    return session.execute(newest_first).scalar() or 0
