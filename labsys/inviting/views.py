"""Pages of inviting: one, many from a list, a new link, and cards to print where no mail leaves the lab."""

from flask import Blueprint, Response, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.config import this_config
from labsys.database import db
from labsys.documents.occasion import occasion_of
from labsys.drawing.qr import qr_code
from labsys.inviting import cards, letters, queries, rules, service
from labsys.inviting.forms import CARDS_AT_ONCE, CardsForm, InviteForm, InviteManyForm
from labsys.mail.rules import why_mail_waits
from labsys.people import pages
from labsys.people import service as people
from labsys.people.access import current_person, permits, this_act
from labsys.people.models import Role
from labsys.people.permissions import Permission
from labsys.timetable.local_time import to_local

PROBLEMS_SHOWN = 100
bp = Blueprint("inviting", __name__)


@bp.route("/people/invite", methods=["GET", "POST"])
@permits(Permission.KEEP_PEOPLE)
def invite() -> ResponseReturnValue:
    """Show the form to invite somebody, or invite them: by mail, or with their link shown this once."""
    form, why = InviteForm(), _why_no_mail()
    if form.validate_on_submit():
        with refusals(form):
            entered = form.values_of("name", "email", "roles")
            return _hand_over(people.invite_person(this_act(), **entered, then=None if why else letters.write_link))
    return form_page("inviting/invite.html", form, details=pages.ROLE_DETAILS, why=why)


@bp.post("/people/<int:person_id>/link")
@permits(Permission.KEEP_PEOPLE)
def send_link(person_id: int) -> ResponseReturnValue:
    """Make a new link for somebody who cannot get in, and mail it, or show it this once."""
    then = None if _why_no_mail() else letters.write_link
    with refusals_at("people.show", person_id=person_id):
        return _hand_over(people.send_reset(this_act(), person_id=person_id, then=then))


@bp.route("/people/invite-many", methods=["GET", "POST"])
@permits(Permission.KEEP_PEOPLE)
def invite_many() -> ResponseReturnValue:
    """Show the form of a list; show what is wrong row by row; invite those with whom nothing is wrong."""
    form, why = InviteManyForm(), _why_no_mail()
    if request.method == "GET":
        form.roles.data = [Role.MEMBER]
    if form.validate_on_submit() and form.read_rows():
        here = queries.accounts(db.session, emails=[row.email for row in form.usable])
        form.rows = rules.with_accounts(form.rows, here=here)
        if "save" in request.form:
            with refusals(form):
                if len(form.usable) > service.PART:
                    job_id = service.ask_to_invite(this_act(form), rows=form.usable, **form.values_of("roles"))
                    return redirect(url_for("jobs.show", job_id=job_id), 303)
                new = service.invite_many(this_act(form), rows=form.usable, **form.values_of("roles"), by_mail=not why)
                if why:
                    return saved(f"{len(new)} invited. Print their cards.", ".invitation_cards")
                return saved(f"{len(new)} invited. Each gets a link by mail.", "people.index")
    problems = form.problems[:PROBLEMS_SHOWN]
    return form_page("inviting/many.html", form, problems=problems, details=pages.ROLE_DETAILS, why=why)


@bp.route("/people/invitation-cards", methods=["GET", "POST"])
@permits(Permission.KEEP_PEOPLE)
def invitation_cards() -> ResponseReturnValue:
    """Show who has not come yet, or answer with their cards: each link is in this answer and nowhere else."""
    form, why = CardsForm(), _why_no_mail()
    if why and form.validate_on_submit():
        with refusals(form):
            return _printed(service.make_card_links(this_act(), person_ids=form.person_ids))
    after_id, everybody = request.args.get("after", 0, type=row_key), "everybody" in request.args
    read = queries.waiting(
        db.session, also_with_link=everybody, after_id=after_id, limit=CARDS_AT_ONCE + 1, now=clock.now()
    )
    waiting, later = cut_page(read, limit=CARDS_AT_ONCE)
    form.offer(waiting)
    details = {str(person.id): _standing(person) for person in waiting}
    paged = {"after_id": after_id, "later": later, "everybody": everybody}
    return form_page("inviting/cards.html", form, waiting=waiting, details=details, why=why, **paged)


def _standing(person: queries.Waiting) -> str:
    """Where somebody's link goes and, where they have one that works, until when it does."""
    if person.until is None:
        return person.email
    return f"{person.email}. Has a link until {to_local(person.until, zone=g.zone):%-d %b %Y, %H:%M}"


def _why_no_mail() -> str:
    """Why no mail leaves this lab; only then is a link shown or printed."""
    return why_mail_waits(mail_server=this_config().mail_server, is_demo=g.lab.is_demo)


def _hand_over(invitation: people.Invitation) -> ResponseReturnValue:
    """Answer the POST with the link itself: a redirect would lose it, or keep it in a session or an address.

    Where it goes by mail nobody sees it here, and the one that was made now is replaced by that in the mail.
    """
    person, why = invitation.person, _why_no_mail()
    if not why:
        return saved(f"A link goes to {person.email} by mail.", "people.show", person_id=person.id)
    address = _address(invitation)
    code = qr_code(address, title="The link as a code to scan")
    return render_template("inviting/link.html", invitation=invitation, address=address, code=code, why=why)


def _printed(invitations: list[people.Invitation]) -> Response:
    occasion = occasion_of(db.session, person=current_person(), now=clock.now(), public_url=this_config().public_url)
    told = [cards.Card(made.person.name, _address(made), occasion.moment(made.expires_at)) for made in invitations]
    answer = Response(cards.draw(told, issue=occasion.issue("/people/invitation-cards", scan_code="")))
    answer.mimetype = "application/pdf"
    answer.headers["Content-Disposition"] = 'attachment; filename="invitation-cards.pdf"'
    return answer


def _address(invitation: people.Invitation) -> str:
    """The link in full, as the lab is known outside: it outlives host names."""
    return this_config().public_url + url_for("people.welcome", token=invitation.token)
