"""The matrix on paper: people against inductions and competences, as of a day, by one of the two questions."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter
from urllib.parse import urlencode

from flask import url_for
from reportlab.platypus import Flowable

from labsys.database import DbSession
from labsys.documents.blocks import HEADING, Column, gap, masthead, notice, ruled_table, words
from labsys.documents.document import Address, Document, form_from
from labsys.documents.occasion import Occasion
from labsys.documents.page import Issue, bind, text_width
from labsys.matrix import queries
from labsys.matrix.forms import MatrixForm
from labsys.matrix.rules import IN_WORDS, SAID, Asked, Look
from labsys.people.permissions import Permission
from labsys.timetable.local_time import day_words

CLOSING = "A day stands for the last day it holds, where no other word does; a blank means never."
ACROSS = 10  # columns beside the names


@dataclass(frozen=True, slots=True)
class Group:
    name: str
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class MatrixData:
    """All that the matrix prints: the heads with how many hold each, and the rows by group."""

    issue: Issue
    day: str
    by: str
    said: str
    heads: tuple[str, ...]
    groups: tuple[Group, ...]


def collect(session: DbSession, asked: Asked, occasion: Occasion) -> MatrixData:
    """Work the matrix out, all of it. Raises NotFound for a course that is none."""
    matrix = queries.matrix(session, asked, now=occasion.now, zone=occasion.zone)
    groups = [
        Group(
            name,
            tuple(
                (
                    f"{row.name}\n{row.remark}".strip(),
                    *("" if cell.look is Look.NEVER else cell.shown(on=asked.day) for cell in row.cells),
                )
                for row in rows
            ),
        )
        for name, rows in groupby(matrix.rows, attrgetter("group"))
    ]
    return MatrixData(
        issue=occasion.issue(f"/inductions/people?{urlencode(asked.written)}", scan_code="the live page"),
        day=day_words(asked.day),
        by=IN_WORDS[asked.by],
        said=SAID[asked.by],
        heads=tuple(f"{column.name}: {column.held_by}" for column in matrix.columns),
        groups=tuple(groups),
    )


def draw(data: MatrixData) -> bytes:
    """Return the matrix as a PDF on its long side; equal data gives equal bytes."""
    width = text_width(data.issue.paper, landscape=True)
    return bind(_story(data, width), title="Who holds what", issue=data.issue, closing=CLOSING, landscape=True)


def _story(data: MatrixData, width: float) -> Iterator[Flowable]:
    yield masthead(title="Who holds what", lead=f"As of {data.day}, by {data.by}.", issue=data.issue, width=width)
    yield gap(3)
    yield notice(data.said, width=width)
    if not data.groups:
        yield gap(3)
        yield words("Nobody was here then.")
    for group in data.groups:
        yield gap(4)
        yield words(group.name, HEADING)
        for begin in range(0, len(data.heads), ACROSS):
            heads = data.heads[begin : begin + ACROSS]
            yield gap(2)
            yield from ruled_table(
                (Column("Person", 2.6), *(Column(head, 1.5) for head in heads)),
                [(row[0], *row[1 + begin : 1 + begin + ACROSS]) for row in group.rows],
                width=width,
            )


def _form(session: DbSession, _: Occasion, address: Address | None) -> MatrixForm:
    form = form_from(MatrixForm, address)
    form.offer(queries.courses(session))
    return form


WHO_HOLDS_WHAT = Document(
    kind="who holds what",
    path="who-holds-what",
    may_see=Permission.SEE_HOLDERS,
    may_issue=Permission.SEE_HOLDERS,
    form=_form,
    read=MatrixForm.asked,
    written=lambda asked, data: asked.written,
    collect=collect,
    title=lambda data: f"Who holds what, {data.day}, by {data.by}",
    draw=draw,
    has_page=False,
    back=lambda form, asked: url_for("matrix.index"),
    incomplete="The list was not issued: choose the day and whom it is about again.",
)
