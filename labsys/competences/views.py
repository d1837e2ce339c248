"""Pages about competences: one's own and who holds what, one person's, granting, witnessing, revoking."""

from collections.abc import Sequence

from flask import Blueprint, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, saved
from labsys.competences import gate, pages, queries, rules, service
from labsys.competences.forms import GrantForm, RevokeForm
from labsys.competences.models import Competence
from labsys.competences.rules import Asked
from labsys.database import db
from labsys.forms import LabForm, given, new_key
from labsys.inductions import queries as inductions
from labsys.inductions.rules import Missing
from labsys.people import queries as people
from labsys.people.access import current_person, permits, this_act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.timetable.local_time import day_words, to_local

bp = Blueprint("competences", __name__)

MOST_FOUND = 20


@bp.get("/competences")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show one's own competences, who holds which and can grant it, and what waits for one as a witness."""
    person, now = current_person(), clock.now()
    rows = queries.grants(db.session, leavers=False)
    names = {grant.person_id: grant.person.name for grant in rows}
    standings = queries.standings(rows, on=to_local(now, zone=g.zone).date(), known_at=now, zone=g.zone)
    find = request.args.get("find", "").strip()[: Person.NAME_LENGTH]
    found = inductions.people_here(db.session, name_contains=find, limit=MOST_FOUND + 1) if find else []
    waiting = queries.to_witness(db.session, person_id=person.id, today=to_local(now, zone=g.zone).date())
    return render_template(
        "competences/index.html",
        lines=pages.lines(standings, names, person_id=person.id, zone=g.zone),
        waiting=waiting,
        keys=[new_key() for _ in waiting],
        may_grant=bool(_grantable(standings)),
        find=find,
        found=found[:MOST_FOUND],
        more=len(found) > MOST_FOUND,
        sees_others=_sees_others(standings),
        day_words=day_words,
    )


@bp.get("/competences/people/<int:person_id>")
@permits(Permission.SEE_LAB)
def person(person_id: int) -> ResponseReturnValue:
    """Show every competence granted to one person: one's own, or anybody's for those whom it concerns."""
    standings = queries.held_today(db.session, now=clock.now())
    if person_id != current_person().id and not _sees_others(standings):
        raise NotPermitted(Permission.SIGN_OFF)
    return render_template(
        "competences/person.html",
        person=people.person_or_raise(db.session, person_id),
        past=competences_of(person_id),
        may_grant=bool(_grantable(standings)),
        may_revoke=lambda granted: service.may_revoke(current_person(), granted),
    )


@bp.route("/competences/people/<int:person_id>/grant", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def grant(person_id: int) -> ResponseReturnValue:
    """Show the form that grants a competence, or who can grant which; or grant it."""
    now = clock.now()
    today = to_local(now, zone=g.zone).date()
    rows = queries.grants(db.session, leavers=False)
    standings = queries.standings(rows, on=today, known_at=now, zone=g.zone)
    offered = _grantable(standings)
    form = GrantForm(happened_on=today, until=today + rules.USUAL)
    form.offer(offered)
    if offered and form.validate_on_submit():
        with refusals(form):
            made = service.grant(
                this_act(form),
                person_id=person_id,
                competence=Competence(form.competence.data),
                may_grant=bool(form.may_grant.data),
                happened_on=given(form.happened_on.data),
                until=given(form.until.data),
                witness_id=_witness_id(form.witness.data or ""),
                because=form.because.data or "",
            )
            named = made.witness
            message = f"It counts once {named.name} says that they saw it." if named else "It counts from now on."
            return saved(f"Granted. {message}", ".person", person_id=person_id)
    return form_page(
        "competences/grant.html",
        form,
        person=people.person_or_raise(db.session, person_id),
        offered=offered,
        is_self=person_id == current_person().id,
        lines=pages.lines(
            standings, {row.person_id: row.person.name for row in rows}, person_id=person_id, zone=g.zone
        ),
        details={each.value: rules.WHAT_FOR[each] for each in Competence},
    )


@bp.post("/competences/grants/<int:grant_id>/witness")
@permits(Permission.SEE_LAB)
def witness(grant_id: int) -> ResponseReturnValue:
    """Say that one saw what a grant says."""
    form = LabForm()
    if not form.validate_on_submit():
        return redirect(url_for(".index"), 303)
    with refusals_at(".index"):
        granted = service.witness(this_act(form), grant_id=grant_id)
    return saved(f"Noted. It counts for {granted.person.name} from now on.", ".index")


@bp.route("/competences/grants/<int:grant_id>/revoke", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def revoke(grant_id: int) -> ResponseReturnValue:
    """Show the form that revokes a grant, or revoke it."""
    granted = queries.grant_or_raise(db.session, grant_id)
    if not service.may_revoke(current_person(), granted):
        raise NotPermitted(Permission.REVOKE_COMPETENCE)
    form = RevokeForm()
    if form.validate_on_submit():
        with refusals(form):
            service.revoke(this_act(form), grant_id=grant_id, **form.values_of("because"))
            message = "Revoked. It stays to be seen, and counts no more."
            return saved(message, ".index" if not _sees_others() else ".person", **_of(granted.person_id))
    return form_page("competences/revoke.html", form, granted=granted, how=rules.how_granted(granted))


@bp.app_template_global()
def competences_of(person_id: int) -> list[pages.PastGrant]:
    """The competences of a person, for their page and one's own account, which stand in a room above this one."""
    now = clock.now()
    rows = queries.grants(db.session, person_ids=[person_id])
    return pages.past(rows, today=to_local(now, zone=g.zone).date(), now=now, zone=g.zone)


def refused_page(
    asked: Sequence[Asked], *, heading: str, back: str, missing: Sequence[Missing] = ()
) -> ResponseReturnValue | None:
    """The page that stands in place of a form whose act asks for what whoever is signed in lacks.

    That is a competence, or an induction that is `missing`.
    """
    lacked = gate.lacked_by(db.session, person=current_person(), asked=asked, now=clock.now())
    if not (lacked or missing) or request.method != "GET":
        return None
    return render_template("competences/refused.html", lacked=lacked, missing=missing, heading=heading, back=back)


def _grantable(standings: queries.Standings) -> list[Competence]:
    person = current_person()
    first = may(person, Permission.NAME_FIRST_COMPETENT)
    return pages.grantable(standings, person_id=person.id, may_name_first=first)


def _sees_others(standings: queries.Standings | None = None) -> bool:
    """Whether somebody signs off, keeps inductions, revokes, or can grant a competence."""
    wanted = (Permission.SIGN_OFF, Permission.KEEP_INDUCTIONS, Permission.REVOKE_COMPETENCE)
    if any(may(current_person(), permission) for permission in wanted):
        return True
    return bool(_grantable(standings if standings is not None else queries.held_today(db.session, now=clock.now())))


def _of(person_id: int) -> dict[str, int]:
    return {"person_id": person_id} if _sees_others() else {}


def _witness_id(typed: str) -> int | None:
    """The one person here of a name or an e-mail address; raises CompetenceRefused where it is none, or several."""
    if not typed:
        return None
    by_email = people.person_by_email(db.session, typed.lower())
    if by_email is not None:
        return by_email.id
    named = inductions.people_here(db.session, name_contains=typed, limit=MOST_FOUND)
    exact = [each for each in named if each.name.casefold() == typed.casefold()] or named
    if len(exact) == 1:
        return exact[0].id
    if not exact:
        raise rules.CompetenceRefused(
            "Nobody here is called that. Write their name or e-mail address.", field="witness"
        )
    names = ", ".join(f"{each.name} ({each.email})" for each in exact[:3])
    raise rules.CompetenceRefused(f"Several are called that: {names}. Write the e-mail address.", field="witness")
