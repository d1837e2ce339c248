"""Stating the hazardous properties of what is in a container, where they cannot be worked out."""

from labsys.hazards.waste_codes import waste_code
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records.queries import nation
from labsys.waste import queries, rules
from labsys.waste.leaving import why_it_stays
from labsys.waste.models import StatedProperties


@act
def state_properties(act: Act, *, container_id: int, properties: str, reason: str) -> StatedProperties:
    """State the hazardous properties of what is in a container now, or that it has none, and why.

    Raises NotPermitted, NotFound or WasteRefused: what is not known or in quarantine is classified there.
    """
    require(act.actor, Permission.RELEASE_WASTE)
    container = queries.container_or_raise(act.session, container_id, lock=True)
    rules.check_not_collected(collected_at=container.collected_at, label=container.label)
    held = queries.contents(act.session, [container])[container_id]
    stays = why_it_stays(held)
    if stays and not stays.is_to_be_stated:
        raise rules.WasteRefused(stays.refusal)
    if not reason.strip():
        raise rules.WasteRefused("Write how you know.", field="reason")
    made = StatedProperties(
        container_id=container_id,
        properties=rules.read_statement(properties, entry=waste_code(container.code), nation=nation(act.session)),
        reason=reason,
        pour_id=held.newest_pour_id,
        poured_ul=held.poured_ul,
        stated_at=act.now,
        stated_by_id=act.actor.id,
    )
    act.session.add(made)
    facts = {"properties": made.properties, "reason": reason, "poured_ul": made.poured_ul}
    act.tell("container.properties_stated", about=container, facts=facts)
    return made
