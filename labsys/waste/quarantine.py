"""What people do about quarantine: put a container in it, and release it, which whoever poured does not do."""

from dataclasses import dataclass

from labsys.competences import gate as competences
from labsys.competences.asked import TO_RELEASE
from labsys.database import DbSession
from labsys.hazards.waste_codes import waste_code
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records.queries import nation, the_lab
from labsys.waste import queries, rules
from labsys.waste.contents import hazards_in
from labsys.waste.models import Quarantine, ReleaseKind, WasteContainer
from labsys.waste.service import hold


@dataclass(frozen=True)
class WaysOut:
    """How a container may come out of quarantine now, the lightest way first, and who may not release it."""

    quarantine: Quarantine
    kinds: tuple[ReleaseKind, ...]
    pourer_ids: frozenset[int | None]


def ways_out(session: DbSession, container: WasteContainer) -> WaysOut | None:
    """How a container may be released; None where it is not in quarantine."""
    quarantine = container.quarantine
    if quarantine is None:
        return None
    wrong = queries.wrong_pours(session, quarantine)
    counted = [pour for pour in wrong if pour.counts]
    held = queries.contents(session, [container])[container.id]
    kinds = [ReleaseKind.RESTATED]
    wrong_ul = sum(pour.volume_ul for pour in (*counted, *held.let_pass))
    if rules.is_trivial(
        wrong_ul=wrong_ul and wrong_ul + held.unaccounted_ul,  # what nobody recorded may be more of the same
        level_ul=container.vessel.level,
        carry_over_milli=the_lab(session).carry_over_milli,
        gas=quarantine.gas,
    ):
        kinds.insert(0, ReleaseKind.CARRY_OVER)
    if wrong and not counted and not held.why_not_known:
        kinds.insert(0, ReleaseKind.CORRECTED)
    return WaysOut(quarantine, tuple(kinds), frozenset({quarantine.poured_by_id, *(p.recorded_by_id for p in wrong)}))


@act
def quarantine(act: Act, *, container_id: int, reason: str) -> WasteContainer:
    """Put a container in quarantine, since something is in it that should not be or that nobody knows.

    Raises NotPermitted, NotFound or WasteRefused.
    """
    require(act.actor, Permission.KEEP_WASTE)
    container = queries.container_or_raise(act.session, container_id, lock=True)
    rules.check_not_collected(collected_at=container.collected_at, label=container.label)
    if container.quarantine is not None:
        raise rules.WasteRefused(f"{container.label} is in quarantine already.")
    hold(act, container, wrong=rules.unknown_found(reason), started_at=act.now)
    act.tell("container.quarantined", about=container, facts={"reason": reason})
    return container


@act
def release(
    act: Act, *, container_id: int, kind: ReleaseKind, note: str, restated: rules.Restated | None = None
) -> WasteContainer:
    """End a quarantine, saying how and why; where the contents are classified anew, as what the container leaves.

    Raises NotPermitted, NotFound, WasteRefused or LacksCompetence.
    """
    require(act.actor, Permission.RELEASE_WASTE)
    competences.require(act, TO_RELEASE)
    container = queries.container_or_raise(act.session, container_id, lock=True)
    ways = ways_out(act.session, container)
    if ways is None:
        raise rules.WasteRefused(f"{container.label} is not in quarantine.")
    rules.check_releases(person_id=act.actor.id, pourer_ids=ways.pourer_ids, label=container.label)
    if kind not in ways.kinds:
        raise rules.WasteRefused(f"{container.label} cannot be released as {kind}.", field="kind")
    rules.check_note(note)
    ended = ways.quarantine
    if kind is ReleaseKind.RESTATED:
        stated = rules.stated_in_full(restated)
        ended.release_code = waste_code(stated.code).code
        ended.release_components = stated.components
        ended.release_properties = rules.read_statement(
            stated.properties, entry=waste_code(stated.code), nation=nation(act.session)
        )
        held = queries.contents(act.session, [container])[container.id]
        rules.check_some_stated(ended.release_properties, worked_out=hazards_in(held, going_in=()).worked_out)
        ended.release_acceptance = stated.acceptance
    ended.released_at, ended.released_by_id = act.now, act.actor.id
    ended.release_kind, ended.release_note = kind, note
    facts = {
        "kind": kind,
        "note": note,
        "code": ended.release_code,
        "components": ended.release_components,
        "properties": ended.release_properties,
        "acceptance": ended.release_acceptance,
    }
    act.tell("container.released", about=container, facts=facts)
    return container
