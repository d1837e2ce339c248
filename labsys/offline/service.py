"""What is done with entries made without a network that wait for somebody: keep one, say whose it is, settle it."""

from labsys.database import flush_or_refuse
from labsys.incidents.queries import people_to_tell
from labsys.mail import service as mail
from labsys.mail.kinds import INCIDENT, Message
from labsys.offline import queries
from labsys.offline.entries import Entry, NotTaken, in_words, is_incident
from labsys.offline.models import KeptEntry, State
from labsys.people.acts import Act, act
from labsys.people.permissions import NotPermitted, Permission, require
from labsys.people.queries import person_or_raise


class KeptAlready(Exception):
    """An entry with this key was kept before."""


@act
def keep(
    act: Act,
    *,
    entry: Entry,
    state: State,
    why: str = "",
    device_id: int | None = None,
    person_id: int | None = None,
    claimed: str = "",
) -> KeptEntry:
    """Keep an entry that waits for somebody. Of an incident those who see to incidents are told at once.

    Raises KeptAlready or NotTaken.
    """
    kept = KeptEntry(
        key=entry.key,
        device_id=device_id,
        person_id=person_id,
        claimed=claimed[: KeptEntry.TEXT_LENGTH],
        path=entry.path,
        typed=entry.as_json,
        said=in_words(act.session, entry),
        happened_at=entry.happened_at,
        received_at=act.now,
        state=state,
        why=why,
    )
    act.session.add(kept)
    flush_or_refuse(act.session, KeptAlready(entry.key), constraint="uq_kept_entries_key", columns="kept_entries.key")
    facts = {"path": entry.path, "state": str(state), "happened_at": entry.happened_at.isoformat()}
    act.tell("kept.waits", about=kept, facts=facts)
    if is_incident(entry):
        _tell(act, kept)
    return kept


@act
def disown(act: Act, *, entry_id: int) -> KeptEntry:
    """Say that an entry made at a tablet in one's name was not one's own. Raises NotPermitted or NotTaken."""
    kept = _open(act, entry_id)
    if kept.person_id != act.actor.id or kept.state is not State.NOT_CONFIRMED:
        raise NotPermitted(Permission.SEE_USES)
    kept.state, kept.why = State.NOBODYS, f"{act.actor.name} says that it was not theirs."
    kept.person_id = None
    act.tell("kept.disowned", about=kept)
    return kept


@act
def name_whose(act: Act, *, entry_id: int, person_id: int) -> KeptEntry:
    """Say whose an entry made at a tablet is: it then waits for them to confirm it. Raises NotPermitted or NotTaken."""
    require(act.actor, Permission.SEE_USES)
    kept = _open(act, entry_id)
    if kept.device_id is None:
        raise NotTaken("It came from somebody's own phone: it is theirs.")
    kept.person_id = person_or_raise(act.session, person_id).id
    kept.state = State.NOT_CONFIRMED
    act.tell("kept.named", about=kept, facts={"person": person_id})
    return kept


@act
def settle(act: Act, *, entry_id: int, came_to: str) -> KeptEntry:
    """Say what became of an entry. Raises NotPermitted or NotTaken."""
    kept = _open(act, entry_id)
    if kept.person_id != act.actor.id:
        require(act.actor, Permission.SEE_USES)
    if not came_to:
        raise NotTaken("Write what became of it.", field="came_to")
    kept.state, kept.came_to, kept.typed = State.SETTLED, came_to, ""
    kept.settled_at, kept.settled_by_id = act.now, act.actor.id
    act.tell("kept.settled", about=kept, facts={"came_to": came_to})
    return kept


@act
def refuse(act: Act, *, entry_id: int, why: str) -> KeptEntry:
    """Note why one's own entry, now confirmed, could not be taken over: it waits for staff.

    Raises NotPermitted or NotTaken.
    """
    kept = _open(act, entry_id)
    if kept.person_id != act.actor.id:
        raise NotPermitted(Permission.SEE_USES)
    kept.state, kept.why = State.REFUSED, why
    act.tell("kept.refused", about=kept, facts={"why": why})
    return kept


def _open(act: Act, entry_id: int) -> KeptEntry:
    kept = queries.entry_or_raise(act.session, entry_id, lock=True)
    if kept.state is State.SETTLED:
        raise NotTaken("It is settled already.")
    return kept


def _tell(act: Act, kept: KeptEntry) -> None:
    """Step: write to those who see to incidents that one waits, without who was hurt."""
    body = (
        f"{kept.said}\n\nIt was entered without a network, and waits: {kept.state}. "
        "See to it; it is no report until somebody confirms it or enters it.\n"
    )
    message = Message(INCIDENT, f"kept entry {kept.id}", "Incident told without a network", body, "/kept/all")
    told = people_to_tell(act.session, but=act.by)
    mail.queue_all(act.session, [mail.Letter(message, person) for person in told], by=act.by, now=act.now)
