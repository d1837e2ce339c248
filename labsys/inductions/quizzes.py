"""What stands between a sign-off and its confirmation: the quiz, whose answers are kept, and practice before a witness.

Passing the quiz signs nobody off. The first holders have nobody who could see their practice; a refresher asks neither.
"""

from collections.abc import Collection, Iterable, Sequence

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.database import DbSession
from labsys.inductions import queries, rules
from labsys.inductions.contents import Question, questions_of
from labsys.inductions.models import Induction, InductionVersion, QuizAttempt, SignOff
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require


@act
def take_quiz(act: Act, *, induction_id: int, version: int, answers: Sequence[int]) -> QuizAttempt:
    """Answer the quiz of the newest version, as often as one likes; each attempt is kept with its answers.

    `version` is the one whose questions were shown. Raises NotPermitted, NotFound or InductionRefused.
    """
    require(act.actor, Permission.SEE_LAB)
    induction = queries.induction_or_raise(act.session, induction_id)
    newest = induction.versions[-1]
    questions = questions_of(newest.quiz)
    if not questions or newest.pass_mark is None:
        raise rules.InductionRefused(f"{induction.name} has no quiz any more. Nothing is left to answer.")
    if version != newest.number:
        raise rules.InductionRefused("A new version was issued meanwhile. Open the quiz again and answer that.")
    if len(answers) != len(questions) or not all(
        1 <= answer <= len(question.answers) for answer, question in zip(answers, questions, strict=False)
    ):
        raise rules.InductionRefused("Answer every question with one of its answers.")
    attempt = QuizAttempt(
        version_id=newest.id,
        person_id=act.actor.id,
        answers=" ".join(map(str, answers)),
        right_answers=sum(answer == question.right for answer, question in zip(answers, questions, strict=True)),
        questions=len(questions),
        pass_mark=newest.pass_mark,
        made_at=act.now,
    )
    act.session.add(attempt)
    facts = {"right": attempt.right_answers, "of": attempt.questions, "needed": attempt.pass_mark}
    act.tell("quiz.answered", about=attempt, facts=facts)
    return attempt


def wrongly_answered(attempt: QuizAttempt) -> list[str]:
    """The questions that somebody answered wrongly; the right answers are in the text, not here."""
    given = map(int, attempt.answers.split())
    return [
        question.asks
        for question, answer in zip(questions_of(attempt.version.quiz), given, strict=True)
        if answer != question.right
    ]


def given(attempt: QuizAttempt) -> list[tuple[Question, str]]:
    """Each question of an attempt with the answer that was given."""
    return [
        (question, question.answers[int(answer) - 1])
        for question, answer in zip(questions_of(attempt.version.quiz), attempt.answers.split(), strict=True)
    ]


def attempts(session: DbSession, *, person_id: int, induction_id: int | None = None) -> list[QuizAttempt]:
    """The attempts of one person, the newest first: at one quiz, or at all."""
    query = (
        select(QuizAttempt)
        .join(QuizAttempt.version)
        .where(QuizAttempt.person_id == person_id)
        .options(joinedload(QuizAttempt.version))
        .order_by(QuizAttempt.id.desc())
    )
    if induction_id is not None:
        query = query.where(InductionVersion.induction_id == induction_id)
    return list(session.execute(query).scalars())


def passed(session: DbSession, sign_offs: Iterable[SignOff]) -> set[int]:
    """Those of these sign-offs whose person passed the quiz of that version, or of a later one."""
    sign_offs = list(sign_offs)
    query = (
        select(QuizAttempt.person_id, InductionVersion.induction_id, InductionVersion.number)
        .join(QuizAttempt.version)
        .where(
            QuizAttempt.person_id.in_({signed.person_id for signed in sign_offs}),
            QuizAttempt.right_answers >= QuizAttempt.pass_mark,
        )
    )
    rows = session.execute(query).all()
    return {
        signed.id
        for signed in sign_offs
        if any(
            person_id == signed.person_id
            and induction_id == signed.version.induction_id
            and number >= signed.version.number
            for person_id, induction_id, number in rows
        )
    }


def quiz_is_due(signed: SignOff, *, newest: InductionVersion, passed_by: Collection[int]) -> bool:
    """Whether the quiz is still to be passed; one that the newest version does without is not asked for."""
    return bool(signed.version.quiz and newest.quiz) and not signed.is_refresher and signed.id not in passed_by


def practice_is_due(signed: SignOff) -> bool:
    """Whether somebody who holds the induction has still to see what is to be shown."""
    is_asked = bool(signed.version.practice) and not (signed.is_refresher or signed.is_appointment)
    return is_asked and signed.practice_seen_at is None


def check_complete(session: DbSession, signed: SignOff, *, induction: Induction) -> None:
    """Raise InductionRefused while the quiz is not passed, or nobody saw what is to be shown."""
    if practice_is_due(signed):
        raise rules.InductionRefused(
            f"{induction.name} of {signed.person.name}: somebody who holds it has to see the practice first."
            " They say so under Not confirmed yet.",
            field="sign_offs",
        )
    if quiz_is_due(signed, newest=induction.versions[-1], passed_by=passed(session, [signed])):
        raise rules.InductionRefused(
            f"{induction.name} of {signed.person.name}: the quiz has to be passed first.", field="sign_offs"
        )
