"""Who put what through the baths in a period, as a document: everybody's for staff, one's own for each."""

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from flask import url_for
from reportlab.platypus import Flowable

from labsys.baths import queries as baths
from labsys.baths.by_person import (
    HEADS,
    NAMES,
    UsesAsked,
    check_may_see,
    classes,
    named_person,
    uses_by_person,
    uses_together,
)
from labsys.baths.forms import UsesForm
from labsys.database import DbSession
from labsys.documents.blocks import Column, gap, masthead, ruled_table, words
from labsys.documents.document import Address, Document, form_from
from labsys.documents.occasion import Occasion
from labsys.documents.page import Issue, bind, text_width
from labsys.people.access import current_person
from labsys.people.permissions import Permission, may
from labsys.processes import queries as processes

CLOSING = "One entry counts once, however many baths it went through; a corrected one as it now stands."
_SHARES = (4, 2.6, 3, 1.7, 1.2, 1.2, 1.5, 1.6, 2.2, 1.5, 1.7)


@dataclass(frozen=True, slots=True)
class UsesData:
    """All that the document prints: rows under `HEADS` by person, then those of all together."""

    issue: Issue
    whose: str
    period: str
    rows: tuple[tuple[str, ...], ...] = ()
    together: tuple[tuple[str, ...], ...] = ()


def collect(session: DbSession, asked: UsesAsked, occasion: Occasion) -> UsesData:
    """Add up what was asked for, all of it. Raises NotPermitted or NotFound."""
    check_may_see(occasion.person, asked.person_id)
    named = named_person(session, asked.person_id) if asked.person_id else ""
    live = {name: told for name, told in asked.written.items() if name != "person"}
    path = f"/uses/people/{asked.person_id}" if asked.person_id else "/uses/people"
    return UsesData(
        issue=occasion.issue(f"{path}?{urlencode(live)}", scan_code="the live page"),
        whose=named or "by person",
        period=str(asked.period),
        rows=tuple(row.cells for row in uses_by_person(session, asked, zone=occasion.zone)),
        together=tuple(row.cells for row in uses_together(session, asked, zone=occasion.zone)),
    )


def draw(data: UsesData) -> bytes:
    """Return the document as a PDF; equal data gives equal bytes."""
    width = text_width(data.issue.paper)
    return bind(_story(data, width), title="Uses of the baths", issue=data.issue, closing=CLOSING)


def _story(data: UsesData, width: float) -> Iterator[Flowable]:
    yield masthead(title=f"Uses: {data.whose}", lead=data.period, issue=data.issue, width=width)
    yield gap(3)
    if not data.rows:
        yield words("Nothing was put through in these days.")
        return
    columns = [
        Column(head, share, figures=number >= len(NAMES))
        for number, (head, share) in enumerate(zip(HEADS, _SHARES, strict=True))
    ]
    totals = range(len(data.rows), len(data.rows) + len(data.together))
    yield from ruled_table(columns, (*data.rows, *data.together), width=width, strong=totals)


def _form(session: DbSession, _: Occasion, address: Address | None) -> UsesForm:
    form = form_from(UsesForm, address)
    form.offer(baths.lines(session), processes.processes(session), classes(session))
    return form


def _back(form: UsesForm, asked: UsesAsked | None) -> str:
    person = current_person()
    if may(person, Permission.SEE_USES):
        return url_for("baths.uses_of_people")
    return url_for("baths.uses_of_person", person_id=person.id)


USES = Document(
    kind="uses of the baths",
    path="uses",
    may_see=Permission.SEE_USES,
    may_issue=Permission.SEE_LAB,  # of one's own; of others it asks for more
    own_may_be_seen=True,
    form=_form,
    read=UsesForm.asked,
    written=lambda asked, data: asked.written,
    collect=collect,
    title=lambda data: f"Uses: {data.whose}, {data.period}"[:200],
    draw=draw,
    has_page=False,
    back=_back,
    incomplete="The list was not issued: choose the days, the line, the process and the material again.",
)
