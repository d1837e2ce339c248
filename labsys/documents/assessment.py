"""The assessment on paper: what is done, what it can do to people, what keeps them safe, and who approved it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from flask import url_for
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Table

from labsys.database import DbSession
from labsys.documents import blocks
from labsys.documents.blocks import ALL, Column, caution, gap, grid, ruled_table, style, words
from labsys.documents.document import Document
from labsys.documents.fonts import BOLD
from labsys.documents.occasion import Occasion
from labsys.documents.page import RULE, Issue, bind, text_width
from labsys.documents.rules import DocumentRefused
from labsys.hazards.protective import DEFERENCE
from labsys.people.permissions import Permission
from labsys.risk import queries
from labsys.risk.banding import SCREEN
from labsys.risk.reading import Reading, SubstanceReading, reading
from labsys.timetable.local_time import to_local

_STRONG = style(BOLD, 9.5)
_NAME = style(BOLD, 11, leading=1.25)
_LABEL = 38 * mm
_ROOM_FOR_A_START = 26 * mm  # below this a section begins on the next page


@dataclass(frozen=True, slots=True)
class AssessmentData:
    """All that the document prints. `reasons` say why it is out of date, where it is."""

    issue: Issue
    reading: Reading
    reasons: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        return f"Assessment: {self.reading.title}"


@dataclass(frozen=True, slots=True)
class OfAssessment:
    """Whose version that holds is on paper."""

    assessment_id: int


def collect(session: DbSession, asked: OfAssessment, occasion: Occasion) -> AssessmentData:
    """Read the version that holds. Raises NotFound, or DocumentRefused where none does."""
    assessment = queries.assessment_or_raise(session, asked.assessment_id)
    approved = assessment.approved
    if assessment.withdrawn_at is not None or approved is None:
        raise DocumentRefused("Only an approved assessment goes on paper: one that does not hold could be followed.")
    today = to_local(occasion.now, zone=occasion.zone).date()
    return AssessmentData(
        issue=occasion.issue_with_code(assessment.code),
        reading=reading(assessment, approved, zone=occasion.zone),
        reasons=queries.assessment_now(session, assessment, today=today, zone=occasion.zone).reasons,
    )


def draw(data: AssessmentData) -> bytes:
    """Return the assessment as a PDF; equal data gives equal bytes."""
    return bind(_story(data), title=data.title, issue=data.issue, closing=DEFERENCE)


def _story(data: AssessmentData) -> Iterator[Flowable]:
    width = text_width(data.issue.paper)
    said = data.reading
    lead = f"{said.kind}. Version {said.number}.\nApproved {said.approved}."
    yield blocks.masthead(title=said.title, lead=lead, issue=data.issue, width=width)
    yield gap(3)
    if data.reasons:
        yield caution(head="Out of date", body="\n".join(map(_sentence, data.reasons)), width=width)
    yield from _section("What is done", [*_lines(said.task), gap(1), _facts(said.exposure, width)])
    if said.existing:
        yield from _section("In place already", _lines(said.existing))
    if said.substances:
        yield from _substances(said.substances, width)
    yield from _controls(said, width)
    for heading, lines in said.emergencies:
        if heading == "First aid":
            body = "\n".join(lines[1:])
            yield from _section(heading, [caution(head=lines[0], body=body, width=width)])
        else:
            yield from _section(heading, _lines(lines))
    outcome = _section("Outcome", [_facts((*said.outcome, *said.history), width), gap(1)])
    yield KeepTogether([*outcome, words(said.basis, blocks.NOTE)])


def _section(heading: str, content: Sequence[Flowable]) -> Iterator[Flowable]:
    yield gap(4)
    yield CondPageBreak(_ROOM_FOR_A_START)
    yield words(heading, blocks.HEADING)
    yield gap(1)
    yield from content


def _substances(substances: Sequence[SubstanceReading], width: float) -> Iterator[Flowable]:
    columns = (
        Column("Substance", 3.4),
        Column("As handled", 2),
        Column("SDS", 2.6),
        Column("Calculated", 1.3, figures=True),
        Column("Holds", 1, figures=True),
    )
    rows = [
        (each.name, f"{each.strength}, {each.amount}", each.sheet, str(each.calculated), str(each.approach))
        for each in substances
    ]
    judged = {number for number, substance in enumerate(substances) if substance.is_judged}
    yield from _section("Substances and control approach", [*ruled_table(columns, rows, width=width, edged=judged)])
    for substance in substances:
        yield KeepTogether([*_substance(substance)])
    yield gap(2)
    yield words(SCREEN, blocks.NOTE)


def _substance(substance: SubstanceReading) -> Iterator[Flowable]:
    yield gap(3)
    yield words(f"{substance.name}, {substance.strength}", _NAME)
    yield words(" ".join(substance.hazards) or "Not classified as hazardous.")
    yield words(substance.verdict, _STRONG)
    for number, line in enumerate(substance.reasoning, 1):
        yield words(f"{number}. {line}", blocks.CELL)


def _controls(said: Reading, width: float) -> Iterator[Flowable]:
    rows = tuple((level, "\n".join(lines)) for level, lines in said.controls)
    yield from _section("What keeps people safe", [_facts((*rows, *said.protection), width)])


def _lines(lines: Sequence[str]) -> list[Flowable]:
    """One line as a sentence, several as a list."""
    return [words(line if len(lines) == 1 else f"–\u00a0{line}") for line in lines]


def _facts(pairs: Sequence[tuple[str, str]], width: float) -> Table:
    """Names and values in two columns with thin rules between."""
    rows = [[words(name, blocks.NOTE), words(value)] for name, value in pairs]
    return grid(
        rows,
        [_LABEL, width - _LABEL],
        ("LINEBELOW", *ALL, 0.4, RULE, 0),
        ("TOPPADDING", *ALL, 0.6 * mm),
        ("BOTTOMPADDING", *ALL, 1.2 * mm),
    )


def _sentence(clause: str) -> str:
    return f"{clause[0].upper()}{clause[1:]}."


ASSESSMENT = Document(
    kind="assessment",
    path="assessment/<int:assessment_id>",
    may_see=Permission.SEE_LAB,
    may_issue=Permission.KEEP_ASSESSMENTS,
    read=lambda form, assessment_id: OfAssessment(assessment_id),
    written=lambda asked, data: {"assessment": asked.assessment_id, "version": data.reading.number},
    collect=collect,
    title=lambda data: data.title,
    draw=draw,
    shows={"screen": SCREEN},
    back=lambda form, asked: url_for("risk.show", assessment_id=asked.assessment_id),
)
