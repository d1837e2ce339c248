"""What one technician leaves to the next: a note, read by somebody else; film found, and how it left."""

from labsys.handover import queries
from labsys.handover.models import HandoverNote, LeftFilm
from labsys.handover.rules import HandoverRefused
from labsys.people import queries as people
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records import queries as lab
from labsys.timetable.local_time import to_local


@act
def write(act: Act, *, text: str) -> HandoverNote:
    """Write a note to whoever comes next. Raises NotPermitted or HandoverRefused."""
    require(act.actor, Permission.KEEP_STOCK)
    if not text:
        raise HandoverRefused("Write what the next one has to know.", field="text")
    note = HandoverNote(text=text, written_at=act.now, written_by_id=act.actor.id)
    act.session.add(note)
    act.session.flush()
    act.tell("handover.written", about=note, facts={"text": text})
    return note


@act
def read(act: Act, *, note_id: int) -> HandoverNote:
    """Say that a note of somebody else was read. Raises NotPermitted, NotFound or HandoverRefused."""
    require(act.actor, Permission.KEEP_STOCK)
    note = queries.note_or_raise(act.session, note_id, lock=True)
    if note.written_by_id == act.actor.id:
        raise HandoverRefused("You wrote it: it waits for somebody else to read it.")
    if note.read_at is not None:
        raise HandoverRefused("Somebody has read it already.")
    note.read_at, note.read_by_id = act.now, act.actor.id
    act.tell("handover.read", about=note)
    return note


@act
def find_film(act: Act, *, what: str, whereabouts: str, owner_id: int | None, owner_words: str) -> LeftFilm:
    """Note film or prints that nobody has come for; their owner sees it on Today. Raises NotPermitted, NotFound or
    HandoverRefused."""
    require(act.actor, Permission.KEEP_STOCK)
    if not what:
        raise HandoverRefused("Say what it is, such as a roll of 120 in a sleeve.", field="what")
    if owner_id is not None:
        people.person_or_raise(act.session, owner_id)
    film = LeftFilm(
        what=what,
        whereabouts=whereabouts,
        owner_id=owner_id,
        owner_words="" if owner_id is not None else owner_words,
        found_on=to_local(act.now, zone=lab.zone(act.session)).date(),
        found_by_id=act.actor.id,
    )
    act.session.add(film)
    act.session.flush()
    act.tell("film.found", about=film, facts={"what": what, "whereabouts": whereabouts, "owner": owner_id})
    return film


@act
def film_gone(act: Act, *, film_id: int, how: str) -> LeftFilm:
    """Say how film left: collected, sent, or thrown away. Raises NotPermitted, NotFound or HandoverRefused."""
    require(act.actor, Permission.KEEP_STOCK)
    film = queries.film_or_raise(act.session, film_id, lock=True)
    if film.gone_at is not None:
        raise HandoverRefused("It has left already.")
    if not how:
        raise HandoverRefused("Say how it left: collected, sent, or thrown away after how long.", field="how")
    film.gone_at, film.gone_by_id, film.gone_how = act.now, act.actor.id, how
    act.tell("film.gone", about=film, facts={"how": how})
    return film
