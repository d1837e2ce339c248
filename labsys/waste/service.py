"""What people do with waste: open containers, pour, correct a level, hand over."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta

from labsys.competences import gate as competences
from labsys.competences.asked import TO_HAND_OVER
from labsys.database import DbSession
from labsys.hazards.waste_codes import waste_code
from labsys.ledger import service as ledger
from labsys.ledger.models import Account, Movement, Vessel, VesselKind
from labsys.ledger.rules import LevelRefused, MovementLine
from labsys.mail import service as mail
from labsys.mail.kinds import QUARANTINE, Message
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, may, require
from labsys.people.queries import people_who_may
from labsys.quantities import show_volume
from labsys.records import service as records
from labsys.records.models import CodeKind
from labsys.records.queries import zone
from labsys.timetable.local_time import to_local
from labsys.waste import queries, rules
from labsys.waste.contents import hazards_in, into_of
from labsys.waste.leaving import check_poured_before, why_it_stays
from labsys.waste.meeting import solution_of
from labsys.waste.models import Collection, CollectionLine, Pour, Quarantine, WasteContainer, WasteStream


@act
def add_stream(act: Act, *, name: str, code: str) -> WasteStream:
    """Add a stream of waste. Raises NotPermitted or WasteRefused."""
    require(act.actor, Permission.KEEP_WASTE)
    code = waste_code(code).code
    if queries.stream_by_code(act.session, code) is not None:
        raise rules.WasteRefused(f"There is a stream for {code} already.", field="code")
    if queries.stream_by_name(act.session, name) is not None:
        raise rules.WasteRefused(f"There is a stream called {name} already.", field="name")
    stream = WasteStream(name=name, code=code)
    act.session.add(stream)
    act.tell("stream.added", about=stream, facts={"name": name, "code": code})
    return stream


@act
def open_container(act: Act, *, stream_id: int, capacity_ul: int, place: str, opened_at: datetime) -> WasteContainer:
    """Put an empty container into use and give it its code. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.KEEP_WASTE)
    stream = queries.stream_or_raise(act.session, stream_id)
    vessel = ledger.add_vessel(act.session, kind=VesselKind.CONTAINER, capacity=capacity_ul)
    container = WasteContainer(
        vessel=vessel, stream=stream, label=f"new {vessel.id}", place=place, opened_at=opened_at, recorded_at=act.now
    )
    act.session.add(container)
    act.session.flush()
    container.label = records.give_code(act.session, kind=CodeKind.CONTAINER, row_id=container.id)
    facts = {"label": container.label, "stream": stream.code, "capacity_ul": capacity_ul}
    act.tell("container.opened", about=container, facts=facts)
    return container


@act
def pour(act: Act, *, container_id: int, poured: rules.Poured, poured_at: datetime, is_done: bool = False) -> Pour:
    """Pour something from outside the book into a container, such as a developer used once.

    What should not go in is stopped; `is_done` says that it was poured already, which is recorded and quarantines the
    container. Raises NotPermitted, NotFound, Stopped or WasteRefused.
    """
    require(act.actor, Permission.POUR_WASTE)
    made = pour_from(
        act, source=Account.FROM_OUTSIDE, container_id=container_id, poured=poured, poured_at=poured_at, is_done=is_done
    )
    act.tell("waste.poured", about=made, facts=pour_facts(made))
    return made


def pour_from(
    act: Act,
    *,
    source: Vessel | Account,
    container_id: int,
    poured: rules.Poured,
    poured_at: datetime,
    losses: Sequence[MovementLine] = (),
    is_done: bool = False,
) -> Pour:
    """Step: pour from a vessel or an account into a container, unless that would be wrong and is not done yet.

    `losses` go into the same movement, such as what the bath lost on film; together with the pour they must balance.
    """
    container = queries.container_or_raise(act.session, container_id, lock=True)
    rules.check_not_collected(collected_at=container.collected_at, label=container.label)
    rules.check_in_use(at=poured_at, opened_at=container.opened_at, label=container.label, field="poured_at")
    wrong = judged(act.session, container=container, poured=poured)
    if wrong and not is_done:
        raise rules.Stopped(wrong)
    out = poured.volume_ul + sum(line.amount for line in losses)
    movement = moved_into(
        act,
        container,
        what="pour",
        lines=[MovementLine(source, -out), MovementLine(container.vessel, poured.volume_ul), *losses],
        happened_at=poured_at,
    )
    return keep_pour(act, container=container, poured=poured, wrong=wrong, movement=movement, poured_at=poured_at)


def judged(
    session: DbSession, *, container: WasteContainer, poured: rules.Poured, old: Pour | None = None
) -> rules.WrongPour | None:
    """Say what is wrong with a pour into a container as it is now, or None.

    `old` is the pour that it puts right: a quarantine that did not stand yet when that went in speaks against nothing,
    nor does a release that came after it.
    """
    product = None if poured.product_id is None else queries.product_or_raise(session, poured.product_id)
    into = into_of(queries.contents(session, [container])[container.id])
    if old and container.quarantine and old.recorded_at <= container.quarantine.recorded_at:
        into = replace(into, is_quarantined=False)
    if old and container.was_restated_after(old.recorded_at):
        into = replace(into, is_restated=False)
    return rules.wrong_pour(poured=poured, solution=solution_of(poured.kind, product), into=into)


def keep_pour(
    act: Act,
    *,
    container: WasteContainer,
    poured: rules.Poured,
    wrong: rules.WrongPour | None,
    movement: Movement,
    poured_at: datetime,
) -> Pour:
    """Step: write down a pour that was moved; a wrong one quarantines the container."""
    made = Pour(
        container_id=container.id,
        movement_id=movement.id,
        **asdict(poured),
        wrong_because=wrong.reason if wrong else "",
        poured_at=poured_at,
        recorded_at=act.now,
        recorded_by_id=act.actor.id,
    )
    act.session.add(made)
    if wrong:
        hold(act, container, wrong=wrong, started_at=poured_at)
    act.session.flush()
    return made


def hold(act: Act, container: WasteContainer, *, wrong: rules.WrongPour, started_at: datetime) -> None:
    """Step: put a container in quarantine; one that is in it already may come to give off more."""
    quarantine = container.quarantine
    if quarantine is not None:
        gases = dict.fromkeys(filter(None, (*quarantine.gas.split(", "), *wrong.gas.split(", "))))
        if len(", ".join(gases)) > len(quarantine.gas):
            _tell_of_quarantine(act, container, wrong)
        quarantine.gas = ", ".join(gases)
        quarantine.advice = wrong.advice if wrong.gas else quarantine.advice
        return
    _tell_of_quarantine(act, container, wrong)
    day = to_local(started_at, zone=zone(act.session)).date()
    container.quarantines.append(
        Quarantine(
            reason=wrong.reason,
            advice=wrong.advice,
            gas=wrong.gas,
            started_at=started_at,
            recorded_at=act.now,
            due_on=day + timedelta(days=rules.QUARANTINE_DAYS),
            poured_by_id=act.actor.id,
        )
    )


def _tell_of_quarantine(act: Act, container: WasteContainer, wrong: rules.WrongPour) -> None:
    """Step: write to everybody who may release it, but for whoever put it there."""
    body = f"{container.label} is in quarantine since {to_local(act.now, zone=zone(act.session)):%-d %b, %H:%M}.\n\n"
    body += f"{wrong.reason}\n\n{wrong.advice}\n\nPour nothing into it. Decide what becomes of it.\n"
    key, page = f"container {container.id} in quarantine {act.now.isoformat()}", f"/waste/containers/{container.id}"
    message = Message(QUARANTINE, key, f"In quarantine: {container.label}", body, page)
    letters = [mail.Letter(message, person) for person in people_who_may(act.session, Permission.RELEASE_WASTE)]
    mail.queue_all(act.session, letters, by=act.by, now=act.now)


def pour_facts(pour: Pour) -> dict[str, object]:
    """What the record keeps of a pour."""
    return {
        "container": pour.container_id,
        "what": pour.what,
        "code": pour.waste_code,
        "volume_ul": pour.volume_ul,
        "silver_mg": [pour.silver_low_mg, pour.silver_high_mg],
        "wrong_because": pour.wrong_because,
    }


@act
def correct_level(act: Act, *, container_id: int, found_ul: int, found_at: datetime) -> WasteContainer:
    """Set a container's level to what was found in it; the difference is put down as unexplained."""
    require(act.actor, Permission.KEEP_WASTE)
    container = queries.container_or_raise(act.session, container_id, lock=True)
    rules.check_not_collected(collected_at=container.collected_at, label=container.label)
    rules.check_found(found_ul=found_ul, capacity_ul=container.vessel.capacity, label=container.label)
    rules.check_in_use(at=found_at, opened_at=container.opened_at, label=container.label, field="found_at")
    difference = found_ul - container.vessel.level
    if not difference:
        raise rules.WasteRefused(f"The book says {show_volume(found_ul)} too. Nothing to correct.", field="found")
    moved_into(
        act,
        container,
        what="level corrected",
        lines=[MovementLine(container.vessel, difference), MovementLine(Account.UNEXPLAINED, -difference)],
        happened_at=found_at,
    )
    if not found_ul:
        container.found_empty_at = act.now
    held = queries.contents(act.session, [container])[container.id]
    if why := held.why_not_known or rules.more_than_stated(
        is_restated=container.restated is not None, difference_ul=difference, trivial_ul=held.trivial_ul
    ):
        hold(act, container, wrong=rules.unknown_found(why), started_at=found_at)
    facts = {"found_ul": found_ul, "difference_ul": difference}
    act.tell("container.level_corrected", about=container, facts=facts)
    return container


@dataclass(frozen=True)
class HandedOver:
    """One container as the carrier took it: volume and net weight as far as the carrier gave them."""

    container_id: int
    carrier_ul: int | None = None
    weight_mg: int | None = None


@act
def collect(
    act: Act, *, handed_over: Sequence[HandedOver], note_code: str, carrier: str, collected_at: datetime
) -> Collection:
    """Hand containers to a carrier under one consignment note code.

    The carrier's reading is recorded as it was read; where it differs from the book, the difference is put down as
    unexplained. Raises NotPermitted, NotFound, WasteRefused or LacksCompetence.
    """
    require(act.actor, Permission.KEEP_WASTE)
    competences.require(act, TO_HAND_OVER, happened_at=collected_at)
    if not handed_over:
        raise rules.WasteRefused("Choose at least one container.", field="containers")
    if queries.collection_by_note(act.session, note_code) is not None:
        raise rules.WasteRefused(f"{note_code} was used for an earlier collection.", field="note_code")
    collection = Collection(
        note_code=note_code,
        carrier=carrier,
        collected_at=collected_at,
        recorded_at=act.now,
        recorded_by_id=act.actor.id,
    )
    act.session.add(collection)
    act.session.flush()
    facts = []
    for handed in sorted(handed_over, key=lambda handed: handed.container_id):
        container = queries.container_or_raise(act.session, handed.container_id, lock=True)
        rules.check_not_collected(collected_at=container.collected_at, label=container.label)
        held = queries.contents(act.session, [container])[container.id]
        if stays := why_it_stays(held):
            raise rules.WasteRefused(stays.refusal, field="containers")
        check_poured_before(held, collected_at=collected_at)
        properties = hazards_in(held, going_in=()).codes
        line = _hand_over(act, collection=collection, container=container, handed=handed, properties=properties)
        facts.append([container.label, line.book_ul, line.carrier_ul, line.weight_mg, properties])
    act.tell(
        "waste.collected", about=collection, facts={"note_code": note_code, "carrier": carrier, "containers": facts}
    )
    return collection


def _hand_over(
    act: Act, *, collection: Collection, container: WasteContainer, handed: HandedOver, properties: str
) -> CollectionLine:
    book = container.vessel.level
    taken = book if handed.carrier_ul is None else handed.carrier_ul
    movement = ledger.move(
        act,
        what="collection",
        lines=[
            MovementLine(container.vessel, -book),
            MovementLine(Account.CARRIER, taken),
            MovementLine(Account.UNEXPLAINED, book - taken),
        ],
        happened_at=collection.collected_at,
    )
    line = CollectionLine(
        collection_id=collection.id,
        container_id=container.id,
        movement_id=movement.id,
        book_ul=book,
        carrier_ul=handed.carrier_ul,
        weight_mg=handed.weight_mg,
        properties=properties,
    )
    act.session.add(line)
    act.session.flush()  # the database lets no container go without the line that says what it left as
    container.collected_at = collection.collected_at
    return line


def moved_into(
    act: Act, container: WasteContainer, *, what: str, lines: Sequence[MovementLine], happened_at: datetime
) -> Movement:
    """Step: move matter into a container; where it is too full, say what to do."""
    try:
        return ledger.move(act, what=what, lines=lines, happened_at=happened_at)
    except LevelRefused as refusal:
        if refusal.vessel_id != container.vessel_id or refusal.change < 0:
            raise
        room = show_volume(refusal.capacity - refusal.level)
        raise rules.WasteRefused(
            f"{container.label} has room for {room} by the book. {_instead(act, container, refusal.change)} "
            "If there is more room in it than that, correct its level first.",
            field="volume",
        ) from refusal


def _instead(act: Act, container: WasteContainer, volume_ul: int) -> str:
    """Where else it may go: into another container of the same contents, a new one, or to whoever opens one."""
    held = queries.contents(act.session, queries.containers_here(act.session))
    holds = {solution.kind for solution in held[container.id].solutions}
    others = [
        f"{contents.container.label} ({contents.container.place or 'place not said'})"
        for contents in held.values()
        if contents.container.stream_id == container.stream_id
        and contents.container.vessel.capacity - contents.container.vessel.level >= volume_ul
        and not (contents.container.quarantine or contents.container.restated or contents.why_not_known)
        and {solution.kind for solution in contents.solutions} <= holds
    ]
    if others:
        return f"Pour it into {' or '.join(others)}: there it fits."
    if may(act.actor, Permission.KEEP_WASTE):
        return f"No other container of {container.stream.name} has room: open a new one."
    keepers = ", ".join(person.name for person in people_who_may(act.session, Permission.KEEP_WASTE))
    none = f"No other container of {container.stream.name} has room."
    return f"{none} Stand it aside, covered, and ask {keepers} to open one."
