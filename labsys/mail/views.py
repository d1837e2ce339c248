"""The outbox as its manager sees it, and where a person's mail goes."""

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.config import this_config
from labsys.database import db
from labsys.mail import addresses, pages, queries, service
from labsys.mail.forms import CHOSEN, WantedMailForm
from labsys.mail.kinds import ALL
from labsys.people import queries as people
from labsys.people.access import SIGNED_IN, client_address, current_person, permits, this_act
from labsys.people.forms import AddressForm, OwnAddressForm
from labsys.people.permissions import Permission

STUCK_SHOWN = 50
MESSAGES_A_PAGE = 25
bp = Blueprint("mail", __name__)


@bp.get("/mail")
@permits(Permission.SEE_MAIL)
def index() -> ResponseReturnValue:
    """Show what needs somebody, and all messages, newest first."""
    now, before_id = clock.now(), request.args.get("before", type=row_key)
    stuck = queries.needing_somebody(db.session, now=now, limit=STUCK_SHOWN)
    read = queries.newest(db.session, before_id=before_id, limit=MESSAGES_A_PAGE + 1)
    messages, older = cut_page(read, limit=MESSAGES_A_PAGE)
    return render_template(
        "mail/index.html",
        has_server=bool(this_config().mail_server),
        counts=queries.counts(db.session, now=now),
        stuck=[pages.line_of(mail, now=now) for mail in stuck],
        messages=[pages.line_of(mail, now=now) for mail in messages],
        before_id=before_id,
        older=older,
    )


@bp.post("/mail/<int:mail_id>/send-again")
@permits(Permission.SEE_MAIL)
def send_again(mail_id: int) -> ResponseReturnValue:
    """Put a message back among those that wait."""
    with refusals_at(".index"):
        mail = service.send_again(this_act(), mail_id=mail_id)
    return saved(f"The message to {mail.person.name} waits to be sent again.", ".index")


@bp.post("/mail/<int:mail_id>/put-aside")
@permits(Permission.SEE_MAIL)
def put_aside(mail_id: int) -> ResponseReturnValue:
    """Leave a message unsent."""
    with refusals_at(".index"):
        mail = service.put_aside(this_act(), mail_id=mail_id)
    return saved(f"The message to {mail.person.name} is left unsent.", ".index")


@bp.post("/mail/put-aside")
@permits(Permission.SEE_MAIL)
def put_all_aside() -> ResponseReturnValue:
    """Leave whatever needs somebody unsent."""
    count = service.put_all_aside(this_act())
    return saved(f"{count} left unsent.", ".index")


@bp.route("/account/mail", methods=["GET", "POST"])
@permits(SIGNED_IN)
def choose() -> ResponseReturnValue:
    """Show every kind of mail with who gets it and why, or say which of them one wants."""
    unwanted = queries.unwanted_by(db.session, person_ids=[current_person().id])[current_person().id]
    form = WantedMailForm(wanted=[kind.name for kind in CHOSEN if kind.name not in unwanted])
    if form.validate_on_submit():
        service.choose(this_act(form), wanted=form.wanted.data or ())
        return saved("That is set. It holds for mail from now on.", ".choose")
    details = {kind.name: f"To: {kind.who} {kind.why}" for kind in CHOSEN}
    always = [kind for kind in ALL if kind.is_always_written]
    return form_page("mail/choose.html", form, details=details, always=always)


@bp.route("/people/<int:person_id>/address", methods=["GET", "POST"])
@permits(Permission.KEEP_PEOPLE)
def change_address(person_id: int) -> ResponseReturnValue:
    """Show somebody's address to be put right, or put it right."""
    person = people.person_or_raise(db.session, person_id)
    form = AddressForm(data={"email": person.email} if request.method == "GET" else None)
    if form.validate_on_submit():
        with refusals(form):
            addresses.change_address(this_act(form), person_id=person_id, **form.values_of("email"))
            return saved("The address is changed.", "people.show", person_id=person_id)
    return form_page("mail/change_address.html", form, person=person)


@bp.route("/account/address", methods=["GET", "POST"])
@permits(SIGNED_IN)
def change_own_address() -> ResponseReturnValue:
    """Show one's own address to be put right, or put it right with the current password."""
    form = OwnAddressForm(data={"email": current_person().email} if request.method == "GET" else None)
    if form.validate_on_submit():
        with refusals(form):
            addresses.change_own_address(
                this_act(form),
                **form.values_of("email", "current"),
                address=client_address(),
                cost=this_config().password_cost,
            )
            return saved("Your address is changed. Sign in with it from now on.", "people.account")
    return form_page("mail/change_address.html", form, person=current_person())
