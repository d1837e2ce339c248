"""Pages of what a version of an induction holds besides its text: its pictures, and its quiz."""

import hashlib
import logging

from flask import Blueprint, Response, abort
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, saved
from labsys.database import db
from labsys.inductions import picturing, queries, quizzes
from labsys.inductions.contents import questions_of
from labsys.inductions.forms import PictureForm, quiz_form
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission

bp = Blueprint("induction_contents", __name__)

PICTURE_POLICY = "sandbox; default-src 'none'"


@bp.route("/inductions/<int:induction_id>/pictures", methods=["GET", "POST"])
@permits(Permission.KEEP_INDUCTIONS)
def pictures(induction_id: int) -> ResponseReturnValue:
    """Show the pictures of an induction with a form for one more, or add it."""
    induction = queries.induction_or_raise(db.session, induction_id)
    form = PictureForm()
    if form.validate_on_submit():
        with refusals(form):
            sent = form.file.data.read() if getattr(form.file.data, "filename", "") else b""
            picture = picturing.add_picture(
                this_act(form), induction_id=induction_id, sent=sent, **form.values_of("shows")
            )
            message = (
                f"It is picture {picture.number}. Write [picture {picture.number}] where a new version shall show it."
            )
            return saved(message, ".pictures", induction_id=induction_id)
    kept = queries.pictures(db.session, induction_id=induction_id)
    return form_page("inductions/pictures.html", form, induction=induction, pictures=kept)


@bp.get("/inductions/<int:induction_id>/pictures/<int:number>")
@permits(Permission.SEE_LAB)
def picture(induction_id: int, number: int) -> ResponseReturnValue:
    """Answer with a picture, unless its bytes are no longer those that were added."""
    kept = queries.picture_or_raise(db.session, induction_id=induction_id, number=number)
    if hashlib.sha256(kept.content).hexdigest() != kept.digest:
        logging.getLogger("labsys.inductions").error("picture %s of induction %s was altered", number, induction_id)
        abort(404)
    answer = Response(kept.content, mimetype=kept.media_type)
    answer.headers["Content-Security-Policy"] = PICTURE_POLICY
    answer.headers["Cache-Control"] = "private, max-age=86400, immutable"
    return answer


@bp.route("/inductions/<int:induction_id>/quiz", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def quiz(induction_id: int) -> ResponseReturnValue:
    """Show the quiz of an induction, or keep one's answers and say how they went."""
    induction = queries.induction_or_raise(db.session, induction_id)
    newest = induction.versions[-1]
    questions = questions_of(newest.quiz)
    if not questions:
        return saved(f"{induction.name} has no quiz.", "inductions.show", induction_id=induction_id)
    form = quiz_form(questions)(version=newest.number)
    if form.validate_on_submit():
        with refusals(form):
            attempt = quizzes.take_quiz(
                this_act(form), induction_id=induction_id, version=form.version.number, answers=form.answers
            )
            how = f"{attempt.right_answers} of {attempt.questions} right"
            if attempt.is_passed:
                return saved(f"Passed: {how}. It signs nobody off: who teaches it does.", "inductions.index")
            message = f"Not passed: {how}; {attempt.pass_mark} are needed. Read the text again, then try once more."
            return saved(message, "inductions.show", induction_id=induction_id)
    return form_page("inductions/quiz.html", form, induction=induction, newest=newest)
