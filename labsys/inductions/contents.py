"""What a version of an induction holds, as it is typed: sections, points, pictures, and a short quiz."""

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import groupby

from labsys.inductions.models import Hazard
from labsys.inductions.rules import InductionRefused

LONGEST_VALID_DAYS = 3_650
LONGEST_REFRESHER_DAYS = 730
MOST_QUESTIONS, MOST_ANSWERS = 20, 6

_PICTURE = re.compile(r"\[picture ([0-9]{1,4})\]", re.IGNORECASE)
_BULLETS = "-•*"


@dataclass(frozen=True)
class Further:
    """What a version may hold besides its text: all of it may be left out."""

    covers: frozenset[Hazard] = frozenset()
    practice: str = ""  # what is shown, one item a line
    refresher: str = ""  # the shorter text for who held it before
    refresher_days: int | None = None  # how long after it lapsed the shorter text will do
    quiz: str = ""
    pass_mark: int | None = None  # right answers


NOTHING = Further()


@dataclass(frozen=True)
class Part:
    """Points that follow each other, or one picture by its number."""

    points: tuple[str, ...] = ()
    picture: int | None = None


@dataclass(frozen=True)
class Section:
    """A part of the text under a heading of its own; what stands before the first heading has none."""

    heading: str
    parts: tuple[Part, ...]


@dataclass(frozen=True)
class Question:
    """A question with its answers, of which one is right; answers are counted from 1."""

    asks: str
    answers: tuple[str, ...]
    right: int


def lines_of(text: str) -> list[str]:
    r"""Return a text as it is kept: its headings, pictures and points, a line each.

    >>> lines_of("#Hands\n- Gloves on.\n\n• Tongs in their own tray.\n[Picture 2]")
    ['# Hands', 'Gloves on.', 'Tongs in their own tray.', '[picture 2]']
    """
    kept = []
    for line in text.splitlines():
        if line.lstrip().startswith("#"):
            kept.append(f"# {line.strip().strip('#').strip()}")
        elif placed := _PICTURE.fullmatch(line.strip()):
            kept.append(f"[picture {int(placed[1])}]")
        elif point := line.strip().lstrip(_BULLETS).strip():
            kept.append(point)
    return kept


def points_of(text: str) -> list[str]:
    r"""Return the points of a text alone, without headings and pictures.

    >>> points_of("# Hands\n- Gloves on.\n[picture 1]")
    ['Gloves on.']
    """
    return [line for line in lines_of(text) if not line.startswith("# ") and not _PICTURE.fullmatch(line)]


def pictures_in(text: str) -> set[int]:
    """The numbers of the pictures that a text shows."""
    return {int(placed[1]) for line in lines_of(text) if (placed := _PICTURE.fullmatch(line))}


def sections_of(text: str) -> list[Section]:
    r"""Return a text by its sections, each with its points and pictures in order.

    >>> [(section.heading, section.parts[0].points) for section in sections_of("One.\n# B\nTwo.\nThree.")]
    [('', ('One.',)), ('B', ('Two.', 'Three.'))]
    """
    sections: list[tuple[str, list[str]]] = [("", [])]
    for line in lines_of(text):
        if line.startswith("# "):
            sections.append((line[2:], []))
        else:
            sections[-1][1].append(line)
    return [Section(heading, _parts(lines)) for heading, lines in sections if heading or lines]


def _parts(lines: Sequence[str]) -> tuple[Part, ...]:
    parts: list[Part] = []
    for is_picture, alike in groupby(lines, key=lambda line: bool(_PICTURE.fullmatch(line))):
        if is_picture:
            parts += [Part(picture=int(line[len("[picture ") : -1])) for line in alike]
        else:
            parts.append(Part(points=tuple(alike)))
    return tuple(parts)


def questions_of(quiz: str) -> list[Question]:
    r"""Read a quiz: a question a line, under it its answers, the right one after a plus and the others after a minus.

    Raises InductionRefused, saying which question is not whole.

    >>> questions_of("Splashed in the eye?\n+ Rinse\n- Wait")
    [Question(asks='Splashed in the eye?', answers=('Rinse', 'Wait'), right=1)]
    """
    questions: list[Question] = []
    asks, answers, right = "", list[str](), list[int]()
    for line in [*filter(None, map(str.strip, quiz.splitlines())), ""]:
        if line[:1] in ("+", "-") and line[1:].strip():
            answers.append(line[1:].strip())
            if line[0] == "+":
                right.append(len(answers))
            continue
        if asks or answers:
            _check_question(asks, answers, right)
            questions.append(Question(asks, tuple(answers), right[0]))
        asks, answers, right = line, [], []
    if len(questions) > MOST_QUESTIONS:
        raise InductionRefused(f"Ask at most {MOST_QUESTIONS} questions.", field="quiz")
    return questions


def _check_question(asks: str, answers: Sequence[str], right: Sequence[int]) -> None:
    if not asks:
        raise InductionRefused(f"Write a question before its answer “{answers[0]}”.", field="quiz")
    if not 2 <= len(answers) <= MOST_ANSWERS:
        raise InductionRefused(f"Write 2 to {MOST_ANSWERS} answers, a line each, under “{asks}”.", field="quiz")
    if len(right) != 1:
        raise InductionRefused(f"Begin one answer, the right one, with a plus under “{asks}”.", field="quiz")


def check_text(text: str, *, valid_days: int | None, pictures: Collection[int]) -> None:
    """Raise InductionRefused unless there is something to teach, whole, valid for a sensible time.

    `pictures` are the numbers of those that the induction has.
    """
    if not points_of(text):
        raise InductionRefused("Write what is taught, one point a line.", field="text")
    for section in sections_of(text):
        if not section.heading:
            continue
        if not section.parts:
            raise InductionRefused(f"Write what is taught under “{section.heading}”.", field="text")
    if unknown := pictures_in(text) - set(pictures):
        raise InductionRefused(
            f"There is no picture {min(unknown)} of this induction. Add it on its page of pictures first.", field="text"
        )
    if valid_days is not None and not 1 <= valid_days <= LONGEST_VALID_DAYS:
        raise InductionRefused(
            f"Enter 1 to {LONGEST_VALID_DAYS} days, or leave it empty if it does not lapse.", field="valid_days"
        )


def check_further(further: Further, *, text: str, valid_days: int | None, needed: Collection[Hazard]) -> None:
    """Raise InductionRefused unless what stands besides a text fits it; `needed` are the hazards that ask for it."""
    if uncovered := sorted(set(needed) - further.covers):
        raise InductionRefused(
            f"It is asked of whoever uses chemicals that are {', '.join(uncovered)}: cover that, or take the need away "
            "first.",
            field="covers",
        )
    if further.refresher and not points_of(further.refresher):
        raise InductionRefused("Write the points of the refresher, one a line.", field="refresher")
    if further.refresher and len(further.refresher) >= len(text):
        raise InductionRefused(
            "The refresher is not shorter than the text. Leave out what is remembered.", field="refresher"
        )
    if further.refresher and valid_days is None:
        raise InductionRefused(
            "What does not lapse needs no refresher. Say how long it stays valid.", field="valid_days"
        )
    if bool(further.refresher) != (further.refresher_days is not None):
        raise InductionRefused(
            "Say how long after it lapsed the refresher will do; 0 if only before."
            if further.refresher
            else "Write the refresher, or leave this empty.",
            field="refresher_days" if further.refresher else "refresher",
        )
    questions = questions_of(further.quiz)
    if questions and not 1 <= (further.pass_mark or 0) <= len(questions):
        raise InductionRefused(f"Say how many right answers pass: 1 to {len(questions)}.", field="pass_mark")
    if further.pass_mark is not None and not questions:
        raise InductionRefused("Write the quiz, or leave this empty.", field="quiz")
