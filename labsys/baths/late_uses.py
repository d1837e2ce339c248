"""Work told of after a bath it went through was dumped: whoever keeps the baths accepts it onto them, or refuses it."""

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.baths import queries, rules, uses
from labsys.baths.models import LateUse, Use
from labsys.chemistry.sizes import Pieces, size_of
from labsys.database import DbSession
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, may, require
from labsys.records.queries import get_or_raise

MOST_SHOWN = 200


@act
def accept(act: Act, *, late_use_id: int) -> Use:
    """Count late work in the baths that were in service when it was done, dumped ones among them.

    What was poured away of such a bath stays as it was poured; its work and its silver are now known better.
    Raises NotPermitted, NotFound or BathRefused.
    """
    late = _open(act, late_use_id)
    (use,) = uses.record(
        act,
        line=late.line,
        baths=queries.baths_in_service(act.session, line_id=late.line_id, at=late.used_at, lock=True),
        person=late.person,
        went=[pieces_of(late)],
        used_at=late.used_at,
        class_name=late.class_name,
    )
    late.use_id = use.id
    _settle(late, act)
    act.tell("late_use.accepted", about=late, facts={"use": use.id})
    return use


@act
def refuse(act: Act, *, late_use_id: int, reason: str) -> LateUse:
    """Refuse late work, with why; it counts nowhere. Raises NotPermitted, NotFound or BathRefused."""
    late = _open(act, late_use_id)
    if not reason:
        raise rules.BathRefused("Write why it does not count.", field="reason")
    late.refused_because = reason
    _settle(late, act)
    act.tell("late_use.refused", about=late, facts={"because": reason})
    return late


def seen_by(session: DbSession, person: Person) -> list[LateUse]:
    """What waits first, then the newest settled: everybody's for who may see the uses, else one's own."""
    query = select(LateUse).options(joinedload(LateUse.line), joinedload(LateUse.person))
    if not may(person, Permission.SEE_USES):
        query = query.where(LateUse.person_id == person.id)
    order = LateUse.settled_at.is_not(None), LateUse.id.desc()
    return list(session.execute(query.order_by(*order).limit(MOST_SHOWN)).scalars())


def counts_in(session: DbSession, late: LateUse) -> list[str]:
    """The baths it would count in, those dumped meanwhile first."""
    baths = queries.baths_in_service(session, line_id=late.line_id, at=late.used_at)
    return [
        f"{bath.name} {bath.code}" + (", dumped since" if bath.dumped_at else "")
        for bath in sorted(baths, key=lambda bath: bath.dumped_at is None)
    ]


def pieces_of(late: LateUse) -> Pieces:
    return Pieces(size_of(key=late.size), late.material, late.count)


def _open(act: Act, late_use_id: int) -> LateUse:
    require(act.actor, Permission.KEEP_BATHS)
    late = get_or_raise(act.session, LateUse, late_use_id, "late use", lock=True)
    if late.settled_at is not None:
        raise rules.BathRefused("This was decided already.")
    return late


def _settle(late: LateUse, act: Act) -> None:
    late.settled_at, late.settled_by_id = act.now, act.actor.id
