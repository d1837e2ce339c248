"""Correcting a pour that was recorded wrongly: the row stays, a new one says what it really was."""

from dataclasses import replace

from labsys.ledger import service as ledger
from labsys.ledger.models import Account, Movement, Vessel
from labsys.ledger.rules import MovementLine
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.records.queries import get_or_raise
from labsys.waste import queries, rules
from labsys.waste.models import Pour, PourCorrection
from labsys.waste.service import hold, judged, keep_pour, moved_into, pour_facts


def may_correct(person: Person, pour: Pour) -> bool:
    """Whoever keeps the waste corrects a pour, and whoever recorded it their own."""
    own = may(person, Permission.POUR_WASTE) and pour.recorded_by_id == person.id
    return own or may(person, Permission.KEEP_WASTE)


@act
def correct_pour(act: Act, *, pour_id: int, poured: rules.Poured | None, reason: str) -> PourCorrection:
    """Put right what was recorded of a pour; without `poured` nothing was poured at all.

    What came out of a bath is known: of that only the volume is put right. A quarantine stays until somebody else
    releases the container, and one begins where a release spoke of what was recorded wrongly. Raises NotPermitted,
    NotFound or WasteRefused.
    """
    old = queries.pour_or_raise(act.session, pour_id)
    if not may_correct(act.actor, old):
        raise NotPermitted(Permission.KEEP_WASTE)
    container = queries.container_or_raise(act.session, old.container_id, lock=True)
    act.session.refresh(old)
    rules.check_correctable(
        is_corrected=not old.counts, left_at=container.collected_at, label=container.label, reason=reason
    )
    movement = get_or_raise(act.session, Movement, old.movement_id, "movement")
    bath = next((p.vessel_id for p in movement.postings if p.vessel_id not in (None, container.vessel_id)), None)
    if bath is not None:
        poured = rules.of_the_same_bath(old, poured)
    reversal = ledger.reverse(act, movement=movement, what="pour corrected")
    correction = PourCorrection(
        pour_id=old.id, movement_id=reversal.id, reason=reason, corrected_at=act.now, corrected_by_id=act.actor.id
    )
    act.session.add(correction)
    act.session.flush()
    act.session.expire(old)
    if poured is not None:
        is_as_right = _is_as_right(old, poured)
        wrong = None if is_as_right else judged(act.session, container=container, poured=poured, old=old)
        difference = old.volume_ul - poured.volume_ul
        lines = [
            MovementLine(
                act.session.get_one(Vessel, posting.vessel_id) if posting.vessel_id else posting.account or Account.TAP,
                posting.amount,
            )
            for posting in movement.postings
        ]
        lines = [
            replace(line, amount=line.amount - difference) if line.where is container.vessel else line for line in lines
        ]
        lines.append(MovementLine(Account.UNEXPLAINED if bath is not None else Account.FROM_OUTSIDE, difference))
        again = moved_into(act, container, what="pour", lines=lines, happened_at=old.poured_at)
        made = keep_pour(act, container=container, poured=poured, wrong=wrong, movement=again, poured_at=old.poured_at)
        correction.right_pour_id = made.id
    if container.was_restated_after(old.recorded_at):
        hold(act, container, wrong=rules.no_longer_as_stated(container.label), started_at=act.now)
    facts = {"was": pour_facts(old), "is": pour_facts(made) if poured is not None else None, "reason": reason}
    act.tell("waste.pour_corrected", about=old, facts=facts)
    return correction


def _is_as_right(old: Pour, poured: rules.Poured) -> bool:
    """Whether the same went in rightly, so that another volume of it is as right, whatever was poured in since."""
    is_same = (poured.waste_code, poured.kind, poured.product_id) == (old.waste_code, old.kind, old.product_id)
    return is_same and old.kind is not None and not old.wrong_because
