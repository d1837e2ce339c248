"""What pages about assessments show, worked out from rows: the list with its filters, one assessment, its actions."""

from collections.abc import Iterator
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
from labsys.risk.queries import AssessmentNow, Overview
from labsys.risk.reading import KINDS, Reading, SubstanceReading, reading
from labsys.timetable.local_time import day_words

_TAGS = {
    State.DRAFT: "dashed",
    State.WAITING: "dashed",
    State.SENT_BACK: "heavy",
    State.APPROVED: None,
    State.SUPERSEDED: None,
}


Tags = tuple[tuple[str, str | None], ...]  # words, and the kind of tag


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
class ListedAssessment:
    """One assessment in the list."""

    assessment: Assessment
    kind: str
    tags: Tags
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
    tags: Tags
    reasons: tuple[str, ...]
    moved: tuple[str, ...]
    in_hand: Version | None
    products: tuple[SubstanceReading, ...]
    versions: tuple[Version, ...]
    actions: tuple[ActionView, ...]


def listed(overview: Overview, *, shown: Filter, writes: bool) -> list[ListedAssessment]:
    """The live assessments under a filter; drafts are for those who write them."""
    seen = (now for now in overview.assessments if writes or now.approved is not None)
    return [_listed(now, writes=writes) for now in seen if _is_shown(now, shown)]


def _open_to(person: Person) -> ColumnElement[bool]:
    """Which of them a person may read, inside a query; those withdrawn are among them for who writes."""
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


def _is_shown(now: AssessmentNow, shown: Filter) -> bool:
    match shown:
        case Filter.DRAFT:
            return now.is_draft
        case Filter.WAITING:
            return now.is_waiting
        case Filter.APPROVED:
            return now.approved is not None and not now.is_out_of_date
        case Filter.OUT_OF_DATE:
            return now.is_out_of_date
        case _:
            return shown is Filter.ALL


def _listed(now: AssessmentNow, *, writes: bool) -> ListedAssessment:
    holding, in_hand = now.approved, now.in_hand
    remark = ""
    if now.reasons:
        first = f"{now.reasons[0][0].upper()}{now.reasons[0][1:]}."
        remark = first if len(now.reasons) == 1 else f"{first} And {len(now.reasons) - 1} more."
    elif holding is None and in_hand is not None and in_hand.state is State.SENT_BACK:
        remark = in_hand.sent_back_because
    return ListedAssessment(
        assessment=now.assessment,
        kind=KINDS[now.assessment.kind],
        tags=tuple(_tags(now, writes=writes)),
        remark=remark,
        review=day_words(holding.review_on) if holding and holding.review_on else "",
    )


def _tags(now: AssessmentNow, *, writes: bool) -> Iterator[tuple[str, str | None]]:
    if now.is_out_of_date:
        yield "out of date", "heavy"
    elif now.approved is not None:
        yield str(State.APPROVED), None
    if now.in_hand is not None and writes:
        state = now.in_hand.state
        yield f"version {now.in_hand.number}: {state}" if now.approved else str(state), _TAGS[state]


def show_page(now: AssessmentNow, version: Version, *, person: Person, today: date, zone: ZoneInfo) -> ShowPage:
    """One version as a person may read it."""
    assessment = now.assessment
    writes = may(person, Permission.KEEP_ASSESSMENTS)
    holds = version is now.approved and assessment.withdrawn_at is None
    tag: tuple[str, str | None] = (str(version.state), _TAGS[version.state])
    if assessment.withdrawn_at is not None:
        tag = ("withdrawn", "heavy")
    elif holds and now.is_out_of_date:
        tag = ("out of date", "heavy")
    said = reading(assessment, version, zone=zone)
    return ShowPage(
        assessment=assessment,
        version=version,
        reading=said,
        tags=(tag,),
        reasons=now.reasons if holds else (),
        moved=now.moved if version is now.in_hand else (),
        in_hand=now.in_hand if writes else None,
        products=tuple({substance.product_id: substance for substance in said.substances}.values()),
        versions=tuple(each for each in reversed(assessment.versions) if writes or each.approved_at is not None),
        actions=tuple(
            ActionView(
                action=action,
                state=state_of(action, today=today),
                due=day_words(action.due_on),
                may_finish=action.done_at is None and may_finish(person, action),
            )
            for action in assessment.actions
        ),
    )
