"""Pictures of an induction: sent by who keeps it, kept as they were written anew, shown by their number."""

import hashlib

from labsys.inductions import queries
from labsys.inductions.models import InductionPicture
from labsys.inductions.rules import InductionRefused
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.pictures import written_anew

MOST_PICTURES = 40


@act
def add_picture(act: Act, *, induction_id: int, sent: bytes, shows: str) -> InductionPicture:
    """Keep a picture for the texts of an induction.

    Raises NotPermitted, NotFound, InductionRefused or PictureRefused.
    """
    require(act.actor, Permission.KEEP_INDUCTIONS)
    induction = queries.induction_or_raise(act.session, induction_id, lock=True)
    number = len(queries.pictures(act.session, induction_id=induction.id)) + 1
    if number > MOST_PICTURES:
        raise InductionRefused(f"An induction has at most {MOST_PICTURES} pictures.", field="file")
    if not shows.strip():
        raise InductionRefused("Say what it shows, for who cannot see it.", field="shows")
    kept = written_anew(sent)
    picture = InductionPicture(
        induction_id=induction.id,
        number=number,
        shows=shows.strip(),
        media_type=kept.media_type,
        width=kept.width,
        height=kept.height,
        digest=hashlib.sha256(kept.content).hexdigest(),
        content=kept.content,
        added_at=act.now,
    )
    act.session.add(picture)
    facts = {"number": number, "shows": picture.shows, "digest": picture.digest}
    act.tell("induction.picture_added", about=induction, facts=facts)
    return picture
