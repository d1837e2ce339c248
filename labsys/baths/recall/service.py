"""What people do about doubtful work: recall it, close the recall with a reason, say that they have seen to theirs."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from labsys.baths import queries as baths
from labsys.baths.models import Bath, Use
from labsys.baths.recall import queries, rules, telling, trace
from labsys.baths.recall.lots import sorted_by_lot
from labsys.baths.recall.models import Fault, Recall, RecalledBath, RecalledUse
from labsys.baths.rules import BathRefused, WorkRefused
from labsys.database import DbSession
from labsys.ledger.tracing import reached_from
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may, require, require_any
from labsys.products.queries import product_or_raise
from labsys.store import queries as store
from labsys.store.quarantine import keep_apart

WHO_RECALLS = (Permission.KEEP_BATHS, Permission.TEST_BATH, Permission.KEEP_STOCK)


@dataclass(frozen=True)
class Doubtful:
    """A bath that is doubtful, since when, and whether that is certain."""

    bath: Bath
    since: datetime
    is_certain: bool = True


@act
def open_recall(act: Act, *, bath_id: int, fault: Fault, why: str, since: datetime) -> Recall:
    """Call doubtful what went through a bath since a moment, and tell everybody whose work that was, once.

    Raises NotPermitted, NotFound or BathRefused.
    """
    require_any(act.actor, *WHO_RECALLS)
    bath = baths.bath_with_life(act.session, bath_id, lock=True)
    rules.check_text(why, asked="Write how it was found.", field="why")
    rules.check_since(since=since, bath=bath, now=act.now)
    _check_new(act.session, [bath], fault)
    return _open(act, Recall(fault=fault, why=why), [Doubtful(bath, since)])


@act
def recall_lot(
    act: Act, *, product_id: int, lot: str, fault: Fault, why: str, with_not_known: bool, sets_apart: bool
) -> Recall:
    """Recall every bath that a lot got into, and put in quarantine what is left of it.

    `with_not_known` takes bottles of the product along whose lot nobody noted: they are not ruled out. Raises
    NotPermitted, NotFound or BathRefused.
    """
    require_any(act.actor, *WHO_RECALLS)
    product = product_or_raise(act.session, product_id)
    rules.check_text(why, asked="Write how it was found.", field="why")
    bottles = sorted_by_lot(store.all_bottles_of(act.session, product_id), lot)
    not_known = bottles.not_known if with_not_known else ()
    if not (bottles.of_it or not_known):
        raise BathRefused(f"No bottle of {product.name} has that lot. Check how it is written.", field="lot")
    traced = trace.traced_baths(
        act.session,
        known=reached_from(act.session, [bottle.vessel_id for bottle in bottles.of_it]),
        doubtful=reached_from(act.session, [bottle.vessel_id for bottle in not_known]),
    )
    doubtful = [
        Doubtful(baths.bath_with_life(act.session, each.bath.id, lock=True), each.since, not each.only_not_known)
        for each in sorted(traced, key=lambda each: each.bath.id)
    ]
    recall = Recall(fault=fault, why=why, product_id=product_id, lot=lot)
    _open(act, recall, doubtful)
    if sets_apart:
        require(act.actor, Permission.KEEP_STOCK)
        left = [bottle for bottle in (*bottles.of_it, *not_known) if bottle.vessel.level and not bottle.is_quarantined]
        keep_apart(act, left, reason=f"Lot {lot or 'not noted'}: {why}"[:400])
    return recall


@act
def close_recall(act: Act, *, recall_id: int, closing: str) -> Recall:
    """Close a recall, with the reason. Raises NotPermitted, NotFound or BathRefused."""
    require_any(act.actor, *WHO_RECALLS)
    recall = queries.recall_or_raise(act.session, recall_id, lock=True)
    if recall.closed_at is not None:
        raise BathRefused("This recall is closed already.")
    rules.check_text(closing, asked="Write why it is closed.", field="closing")
    recall.closed_at, recall.closed_by_id, recall.closing = act.now, act.actor.id, closing
    act.tell("recall.closed", about=recall, facts={"closing": closing})
    return recall


@act
def see_to_own(act: Act, *, recall_id: int) -> Recall:
    """Say that one has seen to one's own work that a recall names. Raises NotFound, or NotPermitted without any."""
    recall = queries.recall_or_raise(act.session, recall_id)
    own = queries.named_uses(act.session, recall_id, only_of=act.actor.id)
    if not own:
        raise NotPermitted(Permission.SEE_USES)
    for named in own:
        named.seen_to_at = named.seen_to_at or act.now
    act.tell("recall.seen_to", about=recall, facts={"uses": [named.use_id for named in own]})
    return recall


def check_not_recalled(session: DbSession, bath_ids: Iterable[int]) -> None:
    """Step: raise WorkRefused where new work would go through a bath that is recalled."""
    for named in queries.open_of_baths(session, list(bath_ids)):
        raise WorkRefused(
            f"{named.bath.name} {named.bath.code} is recalled: {named.recall.fault}. Do not start. Ask the technician."
        )


def name_late(act: Act, uses: Sequence[Use], *, in_place_of: Use | None = None) -> None:
    """Step: work entered after its bath was recalled is named and told too; put right, it keeps what was told of it."""
    bath_ids = {part.bath_id for use in uses for part in use.baths}
    by_recall: dict[int, list[RecalledBath]] = {}
    for named in queries.open_of_baths(act.session, bath_ids) if bath_ids else ():
        by_recall.setdefault(named.recall_id, []).append(named)
    for recalled in by_recall.values():
        since = {named.bath_id: named.since for named in recalled}
        late = [
            use
            for use in uses
            if use.count and any(part.bath_id in since and use.used_at >= since[part.bath_id] for part in use.baths)
        ]
        _name(act, recalled[0].recall, late, in_place_of=in_place_of)


def may_recall(person: Person) -> bool:
    return any(may(person, permission) for permission in WHO_RECALLS)


def _check_new(session: DbSession, recalled: Sequence[Bath], fault: Fault) -> None:
    for named in queries.open_of_baths(session, [bath.id for bath in recalled]):
        if named.recall.fault is fault:
            raise BathRefused(
                f"{named.bath.code} is recalled for this already. Close that recall first.", field="fault"
            )


def _open(act: Act, recall: Recall, doubtful: Sequence[Doubtful]) -> Recall:
    recall.opened_at, recall.opened_by_id = act.now, act.actor.id
    recall.baths = [
        RecalledBath(bath=each.bath, since=max(each.since, each.bath.mixed_at), is_certain=each.is_certain)
        for each in doubtful
    ]
    act.session.add(recall)
    act.session.flush()
    facts = {
        "fault": recall.fault,
        "why": recall.why,
        "lot": recall.lot,
        "baths": [each.bath.code for each in doubtful],
    }
    act.tell("recall.opened", about=recall, facts=facts)
    since: Mapping[int, datetime] = {named.bath_id: named.since for named in recall.baths}
    _name(act, recall, queries.doubtful_uses(act.session, dict(since)))
    return recall


def _name(act: Act, recall: Recall, uses: Sequence[Use], *, in_place_of: Use | None = None) -> None:
    """Name work in a recall and write to whose it is; what takes the place of work that was told is not told again."""
    already = queries.named_already(act.session, recall.id, [use.id for use in uses])
    new = [use for use in uses if use.id not in already]
    before = queries.named_already(act.session, recall.id, [in_place_of.id]) if in_place_of else {}
    seen_to_at = before[in_place_of.id].seen_to_at if in_place_of and before else None
    for use in new:
        act.session.add(RecalledUse(recall_id=recall.id, use_id=use.id, told_at=act.now, seen_to_at=seen_to_at))
    act.session.flush()
    if new and not before:
        telling.tell(act, recall, new)
