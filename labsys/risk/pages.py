"""What pages about assessments show, worked out from rows: the list with its filters, one assessment, its actions."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from zoneinfo import ZoneInfo

from sqlalchemy import ColumnElement, and_, select, true

from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.people.row_kinds import NOTHING, Page, RowKind, Search
from labsys.records.models import CodeKind
from labsys.risk.actions import ActionState, may_finish, state_of
from labsys.risk.models import Action, Assessment, State, Version
from labsys.risk.queries import Overview, Standing
from labsys.risk.reading import KINDS, Reading, SubstanceReading, reading
from labsys.timetable.local_time import day_words

_TAGS = {
    State.DRAFT: "dashed",
    State.WAITING: "dashed",
    State.SENT_BACK: "heavy",
    State.APPROVED: None,
    State.SUPERSEDED: None,
}


class Filter(StrEnum):
    """What of the list is shown; the value stands in the address."""

    ALL = "all"
    DRAFT = "draft"
    WAITING = "waiting"
    APPROVED = "approved"
    OUT_OF_DATE = "out-of-date"
    UNASSESSED = "unassessed"
    WITHDRAWN = "withdrawn"


FILTER_NAMES = {
    Filter.ALL: "All",
    Filter.OUT_OF_DATE: "Out of date",
    Filter.WAITING: "Waiting",
    Filter.DRAFT: "Drafts",
    Filter.APPROVED: "Approved",
    Filter.UNASSESSED: "Not assessed",
    Filter.WITHDRAWN: "Withdrawn",
}
OPEN_TO_READERS = (Filter.ALL, Filter.OUT_OF_DATE)


@dataclass(frozen=True)
class Row:
    """One assessment in the list."""

    assessment: Assessment
    kind: str
    tags: tuple[tuple[str, str | None], ...]
    remark: str
    review: str


@dataclass(frozen=True)
class ActionView:
    action: Action
    state: ActionState
    due: str
    may_finish: bool


@dataclass(frozen=True)
class ShowPage:
    """One version of an assessment, what can be done with it, and what belongs to it."""

    assessment: Assessment
    version: Version
    reading: Reading
    tags: tuple[tuple[str, str | None], ...]
    reasons: tuple[str, ...]
    moved: tuple[str, ...]
    in_hand: Version | None
    products: tuple[SubstanceReading, ...]
    versions: tuple[Version, ...]
    actions: tuple[ActionView, ...]


def seen_by(found: Overview, person: Person) -> list[Standing]:
    """Those of the live assessments that a person may read: drafts are for those who write them."""
    writes = may(person, Permission.KEEP_ASSESSMENTS)
    return [one for one in found.standings if writes or one.approved is not None]


def _open_to(person: Person) -> ColumnElement[bool]:
    """The same inside a query, where those withdrawn are among them for who writes."""
    holds = Assessment.versions.any(Version.state == State.APPROVED)
    return true() if may(person, Permission.KEEP_ASSESSMENTS) else and_(Assessment.withdrawn_at.is_(None), holds)


ASSESSMENT = RowKind(
    table=Assessment,
    called="assessment",
    many="assessments",
    pages=(Page("risk.show", "assessment_id"),),
    coded=CodeKind.ASSESSMENT,
    search=Search(
        select(Assessment.id, Assessment.title, Assessment.code, NOTHING, Assessment.withdrawn_at.is_not(None)),
        by=(Assessment.title,),
        gone="withdrawn",
        open_to=_open_to,
    ),
)


def rows(standings: Sequence[Standing], *, shown: Filter, writes: bool) -> list[Row]:
    """The rows of the list under a filter."""
    return [_row(one, writes=writes) for one in standings if _is_shown(one, shown)]


def _is_shown(one: Standing, shown: Filter) -> bool:
    match shown:
        case Filter.DRAFT:
            return one.is_draft
        case Filter.WAITING:
            return one.is_waiting
        case Filter.APPROVED:
            return one.approved is not None and not one.is_out_of_date
        case Filter.OUT_OF_DATE:
            return one.is_out_of_date
        case _:
            return shown is Filter.ALL


def _row(one: Standing, *, writes: bool) -> Row:
    holding = one.approved
    remark = ""
    if one.reasons:
        remark = f"{one.reasons[0][0].upper()}{one.reasons[0][1:]}."
        if len(one.reasons) > 1:
            remark += f" And {len(one.reasons) - 1} more."
    elif holding is None and one.in_hand is not None and one.in_hand.state is State.SENT_BACK:
        remark = one.in_hand.sent_back_because
    return Row(
        assessment=one.assessment,
        kind=KINDS[one.assessment.kind],
        tags=tuple(_tags(one, writes=writes)),
        remark=remark,
        review=day_words(holding.review_on) if holding and holding.review_on else "",
    )


def _tags(one: Standing, *, writes: bool) -> list[tuple[str, str | None]]:
    found: list[tuple[str, str | None]] = []
    if one.is_out_of_date:
        found.append(("out of date", "heavy"))
    elif one.approved is not None:
        found.append((str(State.APPROVED), None))
    if one.in_hand is not None and writes:
        words = f"version {one.in_hand.number}: {one.in_hand.state}" if one.approved else str(one.in_hand.state)
        found.append((words, _TAGS[one.in_hand.state]))
    return found


def show_page(standing: Standing, version: Version, *, person: Person, today: date, zone: ZoneInfo) -> ShowPage:
    """One version as a person may read it."""
    assessment = standing.assessment
    writes = may(person, Permission.KEEP_ASSESSMENTS)
    holds = version is standing.approved and assessment.withdrawn_at is None
    tags: tuple[tuple[str, str | None], ...] = ((str(version.state), _TAGS[version.state]),)
    if assessment.withdrawn_at is not None:
        tags = (("withdrawn", "heavy"),)
    elif holds and standing.is_out_of_date:
        tags = (("out of date", "heavy"),)
    said = reading(assessment, version, zone=zone)
    return ShowPage(
        assessment=assessment,
        version=version,
        reading=said,
        tags=tags,
        reasons=standing.reasons if holds else (),
        moved=standing.moved if version is standing.in_hand else (),
        in_hand=standing.in_hand if writes else None,
        products=tuple({one.product_id: one for one in said.substances}.values()),
        versions=tuple(one for one in reversed(assessment.versions) if writes or one.approved_at is not None),
        actions=tuple(
            ActionView(
                action=one,
                state=state_of(due_on=one.due_on, is_done=one.done_at is not None, today=today),
                due=day_words(one.due_on),
                may_finish=one.done_at is None and may_finish(person, one),
            )
            for one in assessment.actions
        ),
    )
