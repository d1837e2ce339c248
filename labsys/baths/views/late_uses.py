"""Late uses: told of after a bath was dumped; whoever keeps the baths accepts each or refuses it."""

from flask import render_template
from flask.typing import ResponseReturnValue

from labsys.answers import refusals_at, saved
from labsys.baths import late_uses as acts
from labsys.baths import use_pages
from labsys.baths.blueprint import bp
from labsys.baths.use_forms import RefusalForm
from labsys.database import db
from labsys.forms import LabForm, new_key
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission


@bp.get("/baths/late")
@permits(Permission.SEE_LAB)
def late_uses() -> ResponseReturnValue:
    """List late uses, those that wait first: everybody's for who may see the uses, else one's own."""
    rows = acts.seen_by(db.session, current_person())
    counts_in = {late.id: acts.counts_in(db.session, late) for late in rows if late.settled_at is None}
    return render_template(
        "baths/late_uses.html",
        waiting=[late for late in rows if late.settled_at is None],
        settled=[late for late in rows if late.settled_at is not None],
        counts_in=counts_in,
        in_words=lambda late: use_pages.pieces_in_words(acts.pieces_of(late)),
        new_key=new_key,
    )


@bp.post("/baths/late/<int:late_use_id>/accept")
@permits(Permission.KEEP_BATHS)
def accept_late_use(late_use_id: int) -> ResponseReturnValue:
    """Count a late use in the baths it went through."""
    with refusals_at(".late_uses"):
        use = acts.accept(this_act(LabForm()), late_use_id=late_use_id)
    return saved(f"Accepted: {use_pages.use_in_words(use)}.", ".late_uses")


@bp.post("/baths/late/<int:late_use_id>/refuse")
@permits(Permission.KEEP_BATHS)
def refuse_late_use(late_use_id: int) -> ResponseReturnValue:
    """Refuse a late use, with why."""
    form = RefusalForm()
    form.validate()
    with refusals_at(".late_uses"):
        acts.refuse(this_act(form), late_use_id=late_use_id, reason=(form.reason.data or "")[: form.LONGEST])
    return saved("Refused: it counts nowhere.", ".late_uses")
