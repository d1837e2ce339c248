"""Setting the book right by what was found: one bottle, or a shelf; each difference is a row of its own."""

from collections.abc import Sequence
from datetime import datetime

from labsys.ledger import service as ledger
from labsys.ledger.models import Account
from labsys.ledger.rules import MovementLine
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.store import queries, rules
from labsys.store.models import Bottle, BottleCorrection, Reason, StockCount
from labsys.store.service import place


@act
def correct_level(
    act: Act,
    *,
    bottle_id: int,
    found: int,
    found_at: datetime,
    reason: Reason | None = Reason.NOT_KNOWN,
    note: str = "",
) -> Bottle:
    """Set a bottle's level to what was found in it, in its own unit; the difference goes down with its reason.

    Raises NotPermitted, NotFound or BottleRefused.
    """
    require(act.actor, Permission.KEEP_STOCK)
    bottle = queries.bottle_or_raise(act.session, bottle_id, lock=True)
    rules.check_fits(bottle, found=found)
    rules.check_reason(bottle, found=found, reason=reason, field="reason")
    correction = set_level(act, bottle=bottle, found=found, found_at=found_at, reason=reason, note=note)
    if correction is None:
        raise rules.BottleRefused("The book says the same. Nothing to correct.", field="found")
    facts = {"found": found, "difference": correction.difference, "reason": reason}
    act.tell("bottle.level_corrected", about=bottle, facts=facts)
    return bottle


def set_level(
    act: Act,
    *,
    bottle: Bottle,
    found: int,
    found_at: datetime,
    reason: Reason | None,
    note: str = "",
    count: StockCount | None = None,
) -> BottleCorrection | None:
    """Step: bring the book to what was found in a bottle. Returns the difference with its reason; None where none is.

    What was spilled or dried up is put down as that, all else as unexplained.
    """
    unit = bottle.vessel.unit
    difference = found - bottle.vessel.level
    rules.check_fits(bottle, found=found)
    if not difference:
        return None
    reason = reason or Reason.NOT_KNOWN
    bottle.vessel.capacity = max(bottle.vessel.capacity, found)  # filled to the brim, it holds more than it says
    act.session.flush()
    account = rules.ACCOUNT_OF.get(reason, Account.UNEXPLAINED)
    movement = ledger.move(
        act,
        what="level corrected",
        lines=[MovementLine(bottle.vessel, difference, unit), MovementLine(account, -difference, unit)],
        happened_at=found_at,
    )
    correction = BottleCorrection(
        bottle_id=bottle.id,
        movement_id=movement.id,
        count_id=count.id if count else None,
        difference=difference,
        reason=reason,
        note=note,
    )
    act.session.add(correction)
    return correction


@act
def count_shelf(
    act: Act,
    *,
    shelf_id: int | None,
    counted: Sequence[rules.Counted],
    counted_at: datetime,
    also_here: Sequence[str] = (),
) -> StockCount:
    """Save what was counted on a shelf, all of it or nothing; without a shelf, among what stands on none.

    `also_here` are codes of bottles that stand there though the book has them elsewhere: they are put there. Raises
    NotPermitted, NotFound or BottleRefused.
    """
    require(act.actor, Permission.KEEP_STOCK)
    if not counted and not also_here:
        raise rules.BottleRefused("Say of at least one bottle what you found.", field="")
    standing = [bottle.id for bottle in queries.standing_at(act.session, shelf_id)]
    moved = [queries.bottle_of_code_or_refuse(act.session, code) for code in also_here]
    keys = sorted(each.bottle_id for each in counted)
    bottles = {key: queries.bottle_or_raise(act.session, key, lock=True) for key in keys}
    rules.check_counted(counted, bottles)
    count = StockCount(
        shelf_id=shelf_id,
        looked_at=len(counted) + len(moved),
        not_looked_at=len(set(standing) - set(bottles)),
        counted_at=counted_at,
        recorded_at=act.now,
        counted_by_id=act.actor.id,
    )
    act.session.add(count)
    act.session.flush()
    differences = {}
    for each in counted:
        if each.found is not None:
            bottle = bottles[each.bottle_id]
            correction = set_level(
                act,
                bottle=bottle,
                found=each.found,
                found_at=counted_at,
                reason=each.reason,
                note=each.note,
                count=count,
            )
            if correction:
                differences[bottle.code] = [correction.difference, correction.reason]
    facts = {"shelf": shelf_id, "looked_at": count.looked_at, "differences": differences, "moved": list(also_here)}
    act.tell("stock.counted", about=count, facts=facts)
    for bottle in moved:
        place(act, bottle=bottle, shelf_id=shelf_id)
    return count
