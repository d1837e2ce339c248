"""Keeping bottles apart: what is doubtful, and what was found without a label; and how each comes out again."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from labsys.ledger.models import Account
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.products import queries as products
from labsys.records import service as records
from labsys.records.models import CodeKind
from labsys.store import queries, rules
from labsys.store.models import Bottle, BottleQuarantine, QuarantineEnd, UnlabelledBottle, UnlabelledEnd
from labsys.store.service import add_bottle


@act
def set_apart(act: Act, *, bottle_ids: Sequence[int], reason: str) -> list[BottleQuarantine]:
    """Put bottles in quarantine: they are offered nowhere. Those that are there already stay as they are.

    Raises NotPermitted, NotFound or BottleRefused.
    """
    require(act.actor, Permission.KEEP_STOCK)
    if not reason.strip():
        raise rules.BottleRefused("Write why nobody is to use it.", field="reason")
    bottles = [queries.bottle_or_raise(act.session, bottle_id, lock=True) for bottle_id in sorted(set(bottle_ids))]
    new = [bottle for bottle in bottles if not bottle.is_quarantined]
    if not new:
        raise rules.BottleRefused("It is in quarantine already.", field="reason")
    return keep_apart(act, new, reason=reason)


def keep_apart(act: Act, bottles: Sequence[Bottle], *, reason: str) -> list[BottleQuarantine]:
    """Step: put bottles in quarantine."""
    begun = []
    for bottle in bottles:
        begun.append(
            BottleQuarantine(bottle_id=bottle.id, reason=reason, started_at=act.now, started_by_id=act.actor.id)
        )
        act.tell("bottle.set_apart", about=bottle, facts={"code": bottle.code, "reason": reason})
    act.session.add_all(begun)
    act.session.flush()
    for bottle in bottles:
        act.session.refresh(bottle, ["is_quarantined"])
    return begun


@act
def clear(act: Act, *, bottle_id: int, note: str) -> Bottle:
    """Say that a bottle may be used again, and how that is known: by somebody else than who set it apart.

    Raises NotPermitted, NotFound or BottleRefused.
    """
    require(act.actor, Permission.RELEASE_WASTE)
    bottle = queries.bottle_or_raise(act.session, bottle_id, lock=True)
    quarantine = queries.quarantine_of(act.session, bottle_id)
    if quarantine is None:
        raise rules.BottleRefused(f"{bottle.code} is not in quarantine.")
    rules.check_apart(person_id=act.actor.id, set_apart_by=quarantine.started_by_id, code=bottle.code)
    if not note.strip():
        raise rules.BottleRefused("Write how you know that it is good.", field="note")
    end_quarantine(act, quarantine, ending=QuarantineEnd.CLEARED, note=note)
    act.tell("bottle.cleared", about=bottle, facts={"code": bottle.code, "note": note})
    return bottle


def end_quarantine(act: Act, quarantine: BottleQuarantine, *, ending: QuarantineEnd, note: str = "") -> None:
    """Step: a quarantine is over; that the bottle left the store ends it too."""
    quarantine.ended_at, quarantine.ended_by_id = act.now, act.actor.id
    quarantine.ending, quarantine.note = ending, note
    act.session.flush()


@act
def report_unlabelled(act: Act, *, looks: str, place: str, stands: str, found_at: datetime) -> UnlabelledBottle:
    """Write down a bottle found without a label: anybody may. It is in quarantine from then on."""
    require(act.actor, Permission.REPORT_INCIDENT)
    found = UnlabelledBottle(
        code=f"new {act.now:%d%H%M%S%f}"[:20],
        looks=looks,
        place=place,
        stands=stands,
        found_at=found_at,
        recorded_at=act.now,
        found_by_id=act.actor.id,
    )
    act.session.add(found)
    act.session.flush()
    found.code = records.give_code(act.session, kind=CodeKind.UNLABELLED, row_id=found.id)
    act.tell("bottle.found_unlabelled", about=found, facts={"code": found.code, "looks": looks, "place": place})
    return found


@dataclass(frozen=True)
class KnownAs:
    """What an unlabelled bottle turned out to be: one of ours by its code, or a product and how much of it."""

    bottle_code: str = ""
    product_id: int | None = None
    amount: int = 0
    lot: str = ""


@act
def end_unlabelled(
    act: Act, *, unlabelled_id: int, ending: UnlabelledEnd, note: str, known_as: KnownAs = KnownAs()
) -> UnlabelledBottle:
    """Say what an unlabelled bottle is and how that is known, or who took it away as not known.

    Never by whoever found it. What is known now comes into the book from outside it; one of ours is in it already.
    Raises NotPermitted, NotFound or BottleRefused.
    """
    require(act.actor, Permission.RELEASE_WASTE)
    unlabelled = queries.unlabelled_or_raise(act.session, unlabelled_id, lock=True)
    if unlabelled.ended_at is not None:
        raise rules.BottleRefused(f"{unlabelled.code} is decided already: {unlabelled.ending}.")
    if unlabelled.found_by_id == act.actor.id:
        raise rules.BottleRefused(f"You found {unlabelled.code} yourself. Somebody else has to say what it is.")
    if not note.strip():
        is_gone = ending is UnlabelledEnd.HANDED_OVER
        asked = "Write who took it, and under which note." if is_gone else "Write how it is known."
        raise rules.BottleRefused(asked, field="note")
    facts = {"code": unlabelled.code, "ending": ending, "note": note}
    act.tell("bottle.unlabelled_ended", about=unlabelled, facts=facts)
    bottle = _what_it_is(act, ending, known_as)
    unlabelled.ended_at, unlabelled.ended_by_id = act.now, act.actor.id
    unlabelled.ending, unlabelled.note, unlabelled.bottle_id = ending, note, bottle.id if bottle else None
    return unlabelled


def _what_it_is(act: Act, ending: UnlabelledEnd, known_as: KnownAs) -> Bottle | None:
    if ending is UnlabelledEnd.OURS:
        return queries.bottle_of_code_or_refuse(act.session, known_as.bottle_code, field="bottle_code")
    if ending is UnlabelledEnd.HANDED_OVER:
        return None
    if known_as.product_id is None:
        raise rules.BottleRefused("Choose what it is.", field="product_id")
    product = products.product_or_raise(act.session, known_as.product_id)
    noted = rules.Noted(lot=known_as.lot, received_at=act.now)
    rules.check_bottle(amount=known_as.amount, noted=noted)
    return add_bottle(act, product=product, amount=known_as.amount, noted=noted, source=Account.FROM_OUTSIDE)
