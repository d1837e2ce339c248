"""Pages about inductions: one's own, what is taught, signing a class off, who holds what."""

from dataclasses import dataclass

from flask import Blueprint, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.database import db
from labsys.forms import LabForm
from labsys.inductions import gate, pages, queries, quizzes, rules, service, signing
from labsys.inductions.forms import (
    REFRESHER,
    WHOLE,
    AppointForm,
    ClassForm,
    InductionForm,
    NamingForm,
    NeedsForm,
    SheetForm,
    VersionForm,
    WithdrawForm,
)
from labsys.inductions.models import Induction
from labsys.people import queries as people_queries
from labsys.people.access import current_person, permits, this_act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, require
from labsys.places import queries as places

bp = Blueprint("inductions", __name__)

PEOPLE_A_PAGE = 40
WAITING_A_PAGE = 60


@bp.get("/inductions")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show one's own inductions: what waits for one's confirmation, what is missing, what is held."""
    person, now = current_person(), clock.now()
    inductions = queries.inductions(db.session)
    teachers = queries.teachers(db.session, induction_ids=[induction.id for induction in inductions], at=now)
    standings = _standings([person.id], inductions)
    waiting = queries.unconfirmed(db.session, now=now, person_id=person.id, limit=WAITING_A_PAGE)
    own = pages.own(inductions, standings, person_id=person.id, teachers=teachers, now=now, zone=g.zone)
    return render_template(
        "inductions/index.html",
        own=own,
        waiting=pages.to_confirm(waiting, inductions, passed=quizzes.passed(db.session, waiting)),
        keys=[LabForm(formdata=None).submission_key.data for _ in waiting],
    )


@bp.post("/inductions/sign-offs/<int:sign_off_id>/confirm")
@permits(Permission.SEE_LAB)
def confirm(sign_off_id: int) -> ResponseReturnValue:
    """Confirm that one was taught."""
    form = LabForm()
    if not form.validate_on_submit():
        return redirect(url_for(".index"), 303)
    with refusals_at(".index"):
        signed = signing.confirm(this_act(form), sign_off_id=sign_off_id)
    name = queries.induction_or_raise(db.session, signed.version.induction_id).name
    return saved(f"Confirmed. {name} counts for you from now on.", ".index")


@bp.get("/inductions/<int:induction_id>")
@permits(Permission.SEE_LAB)
def show(induction_id: int) -> ResponseReturnValue:
    """Show an induction: what is taught, what needs it, who teaches it, its versions."""
    induction = queries.induction_or_raise(db.session, induction_id)
    person, now = current_person(), clock.now()
    teachers = queries.teachers(db.session, induction_ids=[induction.id], at=now)
    (own,) = pages.own(
        [induction], _standings([person.id], [induction]), person_id=person.id, teachers=teachers, now=now, zone=g.zone
    )
    return render_template(
        "inductions/show.html",
        induction=induction,
        newest=induction.versions[-1],
        shown=pages.text_of(induction.versions[-1], queries.pictures(db.session, induction_id=induction.id)),
        attempts=quizzes.attempts(db.session, person_id=person.id, induction_id=induction.id),
        wrongly_answered=quizzes.wrongly_answered,
        own=own,
        teachers=teachers[induction.id],
    )


@bp.route("/inductions/add", methods=["GET", "POST"])
@permits(Permission.KEEP_INDUCTIONS)
def add() -> ResponseReturnValue:
    """Show the form of a new induction, or add it."""
    form = InductionForm()
    form.offer(places.stations(db.session))
    if form.validate_on_submit():
        with refusals(form):
            values = form.values_of("name", "how_to_get", "text", "valid_days")
            added = service.add_induction(this_act(form), needed_for=form.needed_for, further=form.further, **values)
            return saved(f"{added.name} is added. Now appoint who teaches it.", ".show", induction_id=added.id)
    return form_page("inductions/add.html", form)


@bp.route("/inductions/<int:induction_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_INDUCTIONS)
def change(induction_id: int) -> ResponseReturnValue:
    """Show the form for an induction's name and the way to get it, or change them."""
    induction = queries.induction_or_raise(db.session, induction_id)
    form = NamingForm(obj=induction)
    if form.validate_on_submit():
        with refusals(form):
            values = form.values_of("name", "how_to_get")
            service.change_induction(this_act(form), induction_id=induction_id, **values)
            return saved("Saved.", ".show", induction_id=induction_id)
    return form_page("inductions/change.html", form, induction=induction)


@bp.route("/inductions/<int:induction_id>/requirements", methods=["GET", "POST"])
@permits(Permission.KEEP_INDUCTIONS)
def requirements(induction_id: int) -> ResponseReturnValue:
    """Show what needs an induction as ticks, or set it anew."""
    induction = queries.induction_or_raise(db.session, induction_id)
    needs = service.needs_of(induction)
    form = NeedsForm(stations=list(needs.station_ids), materials=list(needs.materials), hazards=list(needs.hazards))
    form.offer(places.stations(db.session))
    if form.validate_on_submit():
        with refusals(form):
            service.set_requirements(this_act(form), induction_id=induction_id, needed_for=form.needed_for)
            message = "Saved. It holds from now on, for bookings made before too."
            return saved(message, ".show", induction_id=induction_id)
    return form_page("inductions/requirements.html", form, induction=induction)


@bp.route("/inductions/<int:induction_id>/versions/add", methods=["GET", "POST"])
@permits(Permission.KEEP_INDUCTIONS)
def add_version(induction_id: int) -> ResponseReturnValue:
    """Show the text as it stands to be changed, or issue the new version."""
    induction = queries.induction_or_raise(db.session, induction_id)
    newest = induction.versions[-1]
    form = VersionForm.of(newest)
    if form.validate_on_submit():
        with refusals(form):
            version = service.issue_version(
                this_act(form),
                induction_id=induction_id,
                must_repeat=form.must_repeat,
                further=form.further,
                **form.values_of("text", "valid_days"),
            )
            return saved(f"Version {version.number} is issued.", ".show", induction_id=induction_id)
    return form_page("inductions/add_version.html", form, induction=induction, newest=newest)


@bp.route("/inductions/<int:induction_id>/appoint", methods=["GET", "POST"])
@permits(Permission.KEEP_INDUCTIONS)
def appoint(induction_id: int) -> ResponseReturnValue:
    """Show the form to name a first holder, or name them."""
    induction = queries.induction_or_raise(db.session, induction_id)
    form = AppointForm()
    may_teach = people_queries.people_who_may(db.session, Permission.SIGN_OFF)
    form.person.choices = [(person.id, person.name) for person in may_teach]
    if form.validate_on_submit():
        with refusals(form):
            signed = signing.appoint_holder(
                this_act(form),
                induction_id=induction_id,
                person_id=form.person.data,
                taught_at=form.taught_at.instant or clock.now(),
            )
            message = f"{signed.person.name} is appointed, and can teach it once they confirm it on their own account."
            return saved(message, ".show", induction_id=induction_id)
    return form_page("inductions/appoint.html", form, induction=induction)


@bp.route("/inductions/sign-off", methods=["GET", "POST"])
@permits(Permission.SIGN_OFF)
def sign_off() -> ResponseReturnValue:
    """Show the class to tick, find somebody in it, or sign it off."""
    signer, now = current_person(), clock.now()
    inductions = queries.inductions(db.session)
    form = ClassForm(
        people=request.args.getlist("person", type=row_key),
        inductions=request.args.getlist("induction", type=row_key),
        how=WHOLE,
    )
    ticked = queries.ticked(db.session, form.people.data or [])
    page = _people_page()
    people = ticked + [person for person in page.people if person not in ticked and person.id != signer.id]
    standings = _standings([person.id for person in (*people, signer)], inductions)
    mine = [induction for induction in inductions if standings[signer.id, induction.id].is_current]
    form.inductions.choices = [(induction.id, induction.name) for induction in mine]
    form.people.choices = [(person.id, person.name) for person in people]
    if "find_them" not in request.form and "more" not in request.form and form.validate_on_submit():
        with refusals(form):
            signing.sign_off_many(
                this_act(form),
                person_ids=form.people.data or [],
                induction_ids=form.inductions.data or [],
                taught_at=form.taught_at.instant or now,
                saw_practice=form.saw_practice.data,
                is_refresher=form.how.data == REFRESHER,
            )
            return saved("Signed off. It counts for each person once they confirm it.", ".waiting", by="me")
    return form_page(
        "inductions/sign_off.html",
        form,
        practice=pages.practice_of(mine),
        has_refresher=any(induction.versions[-1].refresher for induction in mine),
        details={str(person.id): pages.details(person, mine, standings, now=now, zone=g.zone) for person in people},
        not_mine=[
            (induction, rules.state_in_words(standings[signer.id, induction.id], at=now, zone=g.zone))
            for induction in inductions
            if induction not in mine
        ],
        more=page.after,
    )


@bp.route("/inductions/waiting", methods=["GET", "POST"])
@permits(Permission.SIGN_OFF)
def waiting() -> ResponseReturnValue:
    """List sign-offs that wait, confirm those whose people signed a sheet, or say whose practice one saw."""
    by_me = request.args.get("by") == "me"
    read = queries.unconfirmed(
        db.session,
        now=clock.now(),
        signed_by_id=current_person().id if by_me else None,
        before_id=request.args.get("before", type=row_key),
        limit=WAITING_A_PAGE + 1,
    )
    sign_offs, older = cut_page(read, limit=WAITING_A_PAGE)
    inductions = queries.inductions(db.session)
    names = {induction.id: induction.name for induction in inductions}
    form = SheetForm()
    form.sign_offs.choices = [
        (signed.id, f"{signed.person.name}: {names[signed.version.induction_id]}") for signed in sign_offs
    ]
    if "practice" in request.form and form.is_submitted():
        with refusals(form):
            signing.see_practice(this_act(form), sign_off_ids=form.sign_offs.data or [])
            return saved("Noted: you saw them do it.", ".waiting", by="me" if by_me else None)
    elif form.validate_on_submit():
        with refusals(form):
            signing.confirm_by_sheet(this_act(form), sign_off_ids=form.sign_offs.data or [], **form.values_of("sheet"))
            message = "Confirmed by the signed sheet. It counts from now on."
            return saved(message, ".waiting", by="me" if by_me else None)
    due = pages.still_due(sign_offs, inductions, passed=quizzes.passed(db.session, sign_offs))
    return form_page("inductions/waiting.html", form, sign_offs=sign_offs, due=due, by_me=by_me, older=older)


@bp.get("/inductions/sheet")
@permits(Permission.SIGN_OFF)
def sheet() -> ResponseReturnValue:
    """Show the signature sheet of what one signed off and nobody has confirmed yet, to print."""
    signer = current_person()
    waiting = queries.unconfirmed(db.session, now=clock.now(), signed_by_id=signer.id, limit=WAITING_A_PAGE)
    return render_template(
        "inductions/sheet.html", sheets=pages.sheets(waiting, queries.inductions(db.session)), signer=signer
    )


@bp.get("/inductions/people/<int:person_id>")
@permits(Permission.SEE_LAB)
def person(person_id: int) -> ResponseReturnValue:
    """Show everything one person was signed off for: one's own, or anybody's for those who sign off."""
    if person_id != current_person().id:
        require(current_person(), Permission.SEE_HOLDERS)
    (person,) = queries.people_by_id(db.session, [person_id])
    history = queries.history(db.session, person_id=person_id)
    return render_template(
        "inductions/person.html",
        person=person,
        past=pages.past(history, queries.inductions(db.session), now=clock.now(), zone=g.zone),
        attempts=quizzes.attempts(db.session, person_id=person_id),
        names={induction.id: induction.name for induction in queries.inductions(db.session)},
        given=quizzes.given,
        may_withdraw=lambda signed: signing.may_withdraw(current_person(), signed),
    )


@bp.route("/inductions/sign-offs/<int:sign_off_id>/withdraw", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def withdraw(sign_off_id: int) -> ResponseReturnValue:
    """Show the form to withdraw a sign-off, or withdraw it."""
    signed = queries.sign_off_or_raise(db.session, sign_off_id)
    if not signing.may_withdraw(current_person(), signed):
        raise NotPermitted(Permission.KEEP_INDUCTIONS)
    form = WithdrawForm()
    if form.validate_on_submit():
        with refusals(form):
            signing.withdraw(this_act(form), sign_off_id=sign_off_id, **form.values_of("reason"))
            return saved("Withdrawn. It stays to be seen, and counts no more.", ".person", person_id=signed.person_id)
    induction = queries.induction_or_raise(db.session, signed.version.induction_id)
    return form_page("inductions/withdraw.html", form, signed=signed, induction=induction)


@dataclass(frozen=True)
class _People:
    """One page of people by name, what was looked for, and the key after which the next page begins."""

    people: list[Person]
    find: str
    after: str | None
    is_first: bool


def _people_page() -> _People:
    find = request.values.get("find", "").strip()[: Person.NAME_LENGTH]
    key = request.values.get("more", "") if "find_them" not in request.values else ""
    last_id, _, last_name = key.partition(" ")
    after = (last_name, int(last_id)) if last_id.isascii() and last_id.isdigit() else None
    read = queries.people_here(db.session, name_contains=find, after=after, limit=PEOPLE_A_PAGE + 1)
    people, last_id_here = cut_page(read, limit=PEOPLE_A_PAGE)
    return _People(people, find, f"{last_id_here} {people[-1].name}" if last_id_here else None, after is None)


def _standings(person_ids: list[int], inductions: list[Induction]) -> pages.Standings:
    ids = [induction.id for induction in inductions]
    return rules.standings(
        person_ids,
        induction_ids=ids,
        editions=rules.editions_of(*inductions),
        sign_offs=gate.sign_offs(db.session, person_ids=person_ids, induction_ids=ids),
        at=clock.now(),
    )
