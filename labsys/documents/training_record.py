"""What one person was taught, signed off for and granted, and how it stands: their record as a document."""

from collections.abc import Iterator
from dataclasses import dataclass

from flask import url_for
from reportlab.platypus import Flowable

from labsys.competences import pages as granted
from labsys.competences import queries as competences
from labsys.database import DbSession
from labsys.documents.blocks import HEADING, Column, gap, masthead, ruled_table, words
from labsys.documents.document import Document
from labsys.documents.occasion import Occasion
from labsys.documents.page import Issue, bind, text_width
from labsys.inductions import pages, queries
from labsys.people import queries as people
from labsys.people.permissions import Permission, require
from labsys.timetable.local_time import to_local

CLOSING = "How each stands is said as of the day of issue; what was withdrawn or revoked stays to be seen."
_INDUCTIONS = (("Induction", 3), ("Taught", 2.2), ("Entered", 2.2), ("By", 2.8), ("Confirmed", 3), ("Stands", 3))
_COMPETENCES = (("Competence", 3), ("Shown", 2.2), ("Entered", 2.2), ("How", 5.8), ("Stands", 3))


@dataclass(frozen=True, slots=True)
class OfPerson:
    person_id: int


@dataclass(frozen=True, slots=True)
class TrainingRecord:
    """All that the record prints, the newest first."""

    issue: Issue
    name: str
    lead: str
    sign_offs: tuple[tuple[str, ...], ...]
    grants: tuple[tuple[str, ...], ...]


def collect(session: DbSession, asked: OfPerson, occasion: Occasion) -> TrainingRecord:
    """Read everything one person was signed off for and granted. Raises NotPermitted or NotFound."""
    person, zone, now = people.person_or_raise(session, asked.person_id), occasion.zone, occasion.now
    if person.id != occasion.person.id:
        require(occasion.person, Permission.SEE_HOLDERS)
    history = pages.past(queries.history(session, person_id=person.id), queries.inductions(session), now=now, zone=zone)
    rows = competences.grants(session, person_ids=[person.id])
    grants = granted.past(rows, today=to_local(now, zone=zone).date(), now=now, zone=zone)
    left = f"; left on {occasion.day(person.left_at)}" if person.left_at else ""
    return TrainingRecord(
        issue=occasion.issue(f"/inductions/people/{person.id}", scan_code="the live page"),
        name=person.name,
        lead=f"Here since {occasion.day(person.created_at)}{left}.",
        sign_offs=tuple(_sign_off(line, occasion) for line in history),
        grants=tuple(
            (
                str(line.grant.competence).capitalize(),
                line.shown,
                line.entered or "the same day",
                line.how,
                f"{line.state}. {line.grant.revoked_because}" if line.grant.revoked_because else line.state,
            )
            for line in grants
        ),
    )


def _sign_off(line: pages.PastSignOff, occasion: Occasion) -> tuple[str, ...]:
    signed = line.signed
    if signed.confirmed_at is None:
        confirmed = "not confirmed"
    else:
        sheet = f", signed sheet: {signed.sheet}" if signed.sheet else ", on their own account"
        confirmed = f"{occasion.day(signed.confirmed_at)}{sheet}"
    return (
        f"{line.name}, version {signed.version.number}",
        occasion.moment_in_row(signed.taught_at),
        occasion.moment_in_row(signed.recorded_at),
        f"{signed.signed_by.name}{', as an appointment' if signed.is_appointment else ''}",
        confirmed,
        f"{line.state}. {signed.withdrawal.reason}" if signed.withdrawal else line.state,
    )


def draw(data: TrainingRecord) -> bytes:
    """Return the record as a PDF; equal data gives equal bytes."""
    return bind(_story(data, text_width(data.issue.paper)), title="Training record", issue=data.issue, closing=CLOSING)


def _story(data: TrainingRecord, width: float) -> Iterator[Flowable]:
    yield masthead(title=f"Training record: {data.name}", lead=data.lead, issue=data.issue, width=width)
    for heading, columns, rows, nothing in (
        ("Inductions", _INDUCTIONS, data.sign_offs, "Nothing was signed off."),
        ("Competences", _COMPETENCES, data.grants, "None was granted."),
    ):
        yield gap(5)
        yield words(heading, HEADING)
        yield gap(2)
        if rows:
            yield from ruled_table([Column(*column) for column in columns], rows, width=width)
        else:
            yield words(nothing)


TRAINING_RECORD = Document(
    kind="training record",
    path="training-record/<int:person_id>",
    may_see=Permission.SEE_HOLDERS,
    may_issue=Permission.SEE_LAB,  # of one's own; of others it asks for more
    own_may_be_seen=True,
    read=lambda form, person_id: OfPerson(person_id),
    written=lambda asked, data: {"person": asked.person_id},
    collect=collect,
    title=lambda data: f"Training record of {data.name}"[:200],
    draw=draw,
    has_page=False,
    back=lambda form, asked: url_for("inductions.person", person_id=asked.person_id),
)
