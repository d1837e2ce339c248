"""Decisions about assessments: what one must say before it is approved, and who may approve it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from labsys.hazards.banding import Spread
from labsys.records.errors import Refused
from labsys.risk.models import Level, Residual, Route, State, SubjectKind, Under18, Version, Who

AIR_GUIDANCE = (  # air changes per hour, highest first, with where that is said
    (
        120,
        "12 or more an hour",
        "Wisconsin Administrative Code IHLR 32.27(9), in force 1991 to 1998, read in a page on darkroom ventilation",
    ),
    (100, "10 an hour", "art-safety handbooks, from memory, no single source"),
)


class AssessmentRefused(Refused):
    """The assessment cannot be written, approved or withdrawn so; the message says why and what to do."""


@dataclass(frozen=True)
class Judgement:
    """What the assessor says of one substance: how much, how it spreads, and another approach with its reason."""

    substance_id: int
    amount: int
    spread: Spread
    approach: int | None = None
    because: str = ""


@dataclass(frozen=True)
class Content:
    """All that a person writes in a version. The names are those of the table's columns."""

    task: str = ""
    who: frozenset[Who] = frozenset()
    how_many: int | None = None
    routes: frozenset[Route] = frozenset()
    frequency: str = ""
    duration: str = ""
    existing_controls: str = ""
    air_changes_tenths: int | None = None
    air_changes_source: str = ""
    glove_material: str = ""
    glove_minutes: int | None = None
    glove_source: str = ""
    has_surveillance: bool = False
    surveillance_reason: str = ""
    first_aid: str = ""
    spill: str = ""
    storage: str = ""
    disposal: str = ""
    residual: Residual | None = None
    residual_reason: str = ""
    under_18: Under18 | None = None
    under_18_with: str = ""
    review_on: date | None = None
    controls: tuple[tuple[Level, str], ...] = ()
    judgements: tuple[Judgement, ...] = ()

    TEXTS = (
        *("task", "frequency", "duration", "existing_controls", "air_changes_source", "glove_material"),
        *("glove_source", "surveillance_reason", "first_aid", "spill", "storage", "disposal"),
        *("residual_reason", "under_18_with"),
    )
    PLAIN = (
        *TEXTS,
        *("how_many", "air_changes_tenths", "glove_minutes", "has_surveillance", "residual", "under_18", "review_on"),
    )


def in_order(kind: type[Who] | type[Route], ticked: frozenset[Who] | frozenset[Route]) -> str:
    """Join what was ticked in the order of its list, as it is kept."""
    return ";".join(word for word in kind if word in ticked)


def check_judgement(judgement: Judgement, *, name: str, calculated: int) -> None:
    """Raise AssessmentRefused for another approach than the calculated one without a reason."""
    if judgement.approach not in (None, calculated) and not judgement.because:
        raise AssessmentRefused(
            f"Say why approach {judgement.approach} is right for {name}, where {calculated} was calculated.",
            field=f"because_{judgement.substance_id}",
        )


def check_open(version: Version, *, edition: int | None = None) -> None:
    """Raise AssessmentRefused unless the version may be changed, and is still the one that was read."""
    if not version.is_open:
        raise AssessmentRefused(f"Version {version.number} is {version.state}: it is not changed any more.")
    check_edition(version, edition=edition)


def check_edition(version: Version, *, edition: int | None) -> None:
    """Raise AssessmentRefused when somebody changed the version after it was read."""
    if edition is not None and edition != version.edition:
        raise AssessmentRefused("Somebody changed it after you opened the page. Read it as it is now, and go on there.")


def check_complete(version: Version, *, kind: SubjectKind, today: date) -> None:
    """Raise AssessmentRefused naming all that is missing before it can be approved."""
    if missing := [*_missing(version, kind, today)]:
        raise AssessmentRefused(f"Not ready for approval. Missing: {'; '.join(missing)}.")


def surveillance_is_due(version: Version) -> bool:
    """Whether a sensitiser is handled, at whatever strength."""
    return any(row.sensitisers for row in version.substances)


def _missing(version: Version, kind: SubjectKind, today: date) -> Iterator[str]:
    for words, value in (
        ("what is done", version.task),
        ("who may be harmed", version.who),
        ("how many people", version.how_many),
        ("how often", version.frequency),
        ("how long", version.duration),
        ("what is in place already", version.existing_controls),
        ("controls", version.controls),
        ("what to do first when something happens", version.first_aid),
        ("the risk that is left", version.residual),
        ("why the risk is judged so", version.residual_reason),
        ("whether it is open to under-18s", version.under_18),
    ):
        if not value:
            yield words
    if version.under_18 is Under18.WITH and not version.under_18_with:
        yield "with whom under-18s may do it"
    if version.review_on is None or version.review_on <= today:
        yield "a day in the future for the next review"
    if version.air_changes_tenths is not None and not version.air_changes_source:
        yield "how the air changes of the room are known"
    if version.glove_minutes is not None and not version.glove_source:
        yield "where the breakthrough time of the gloves is said"
    if kind is not SubjectKind.ROOM_HAZARD:
        yield from _missing_of_substances(version)


def _missing_of_substances(version: Version) -> Iterator[str]:
    if not version.substances:
        yield "the substances: the process has no step with a product"
    if not version.routes:
        yield "how it reaches a person"
    if any(row.skin_and_eyes for row in version.substances) and not version.glove_material:
        yield "which gloves, or why none"
    if surveillance_is_due(version) and not version.has_surveillance and not version.surveillance_reason:
        yield "a reason for no health surveillance, since a sensitiser is handled"


def check_approval(
    *, assessor_id: int, actor_id: int, outside_name: str, outside_organisation: str, because: str
) -> None:
    """Raise AssessmentRefused unless another person approves, or the assessor says why nobody else can."""
    if bool(outside_name) != bool(outside_organisation):
        raise AssessmentRefused(
            "Give both the name and the organisation of whoever approved it from outside.",
            field="outside_organisation" if outside_name else "outside_name",
        )
    if actor_id == assessor_id and not outside_name and not because:
        raise AssessmentRefused(
            "You wrote this yourself. Have somebody else approve it, or write why nobody else can, such as: a "
            "one-person lab.",
            field="because",
        )


def check_waiting(version: Version) -> None:
    if version.state is not State.WAITING:
        raise AssessmentRefused(f"Version {version.number} is {version.state}: it does not wait for approval.")


def air_in_words(tenths: int | None) -> str:
    """Say how the room's air changes stand against guidance, with the guidance's source.

    >>> air_in_words(60)[:62]
    '6 an hour: less than 10 an hour (art-safety handbooks, from me'
    """
    if tenths is None:
        low = "; ".join(f"{words} ({source})" for _, words, source in AIR_GUIDANCE)
        return f"Not known. Guidance for darkrooms: {low}."
    figure = f"{tenths / 10:g} an hour"
    for least, words, source in AIR_GUIDANCE:
        if tenths >= least:
            return f"{figure}: as much as guidance asks, {words} ({source})."
    _, words, source = AIR_GUIDANCE[-1]
    return f"{figure}: less than {words} ({source})."
