"""Fees as plain records: paid until, hours left, as somebody noted it. No payment is taken, and nothing is refused."""

from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.database import DbSession
from labsys.membership import rules
from labsys.membership.keeping import rules_of, ward
from labsys.membership.models import FeeNote
from labsys.people.acts import Act, act
from labsys.people.models import Person


@act
def note_fee(act: Act, *, person_id: int, paid_until: date | None, hours_left: int | None, note: str = "") -> Person:
    """Note how somebody stands with the fee. Raises NotPermitted, NotFound or MembershipRefused."""
    person = ward(act, person_id)
    if not rules_of(act.session).keeps_fees:
        raise rules.MembershipRefused("This lab keeps no fees here. A manager can change that.")
    if paid_until is None and hours_left is None:
        raise rules.MembershipRefused("Enter until when it is paid, or how many hours are left.", field="paid_until")
    act.session.add(
        FeeNote(
            person_id=person.id,
            paid_until=paid_until,
            hours_left=hours_left,
            note=note,
            noted_at=act.now,
            noted_by_id=act.actor.id,
        )
    )
    facts = {"paid_until": paid_until.isoformat() if paid_until else None, "hours_left": hours_left}
    act.tell("person.fee_noted", about=person, facts=facts)
    return person


def fees_of(session: DbSession, person_id: int) -> list[FeeNote]:
    """How somebody stood with the fee, the newest first; nothing where the lab keeps none."""
    if not rules_of(session).keeps_fees:
        return []
    query = select(FeeNote).where(FeeNote.person_id == person_id).options(joinedload(FeeNote.noted_by))
    return list(session.execute(query.order_by(FeeNote.id.desc())).scalars())
