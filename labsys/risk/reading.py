"""An assessment in words, in the order it is read: for its page and for its document alike."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.hazards.exposure import minutes_to_clear_air
from labsys.ledger.rules import show
from labsys.products.rules import show_dilution
from labsys.risk import banding, rules
from labsys.risk.models import AssessedSubstance, Assessment, Level, State, SubjectKind, Under18, Version
from labsys.timetable.local_time import day_words, to_local

LEVELS = {
    Level.ELIMINATE: "1. Do without it",
    Level.SUBSTITUTE: "2. Use something milder",
    Level.ENGINEERING: "3. Engineering",
    Level.PRACTICE: "4. Working practice",
    Level.PROTECTION: "5. Protective equipment",
}
KINDS = {
    SubjectKind.PROCESS: "Process",
    SubjectKind.PRODUCTS: "Products as supplied",
    SubjectKind.ROOM_HAZARD: "Hazard of the room",
}


@dataclass(frozen=True)
class SubstanceReading:
    """One substance as assessed: what and how much, what it can do, the calculated approach and the one that holds."""

    product_id: int
    name: str
    strength: str
    amount: str
    sheet: str
    hazards: tuple[str, ...]
    approach: int
    calculated: int
    verdict: str
    reasoning: tuple[str, ...]

    @property
    def is_judged(self) -> bool:
        return self.approach != self.calculated


@dataclass(frozen=True)
class Reading:
    """A version in words."""

    title: str
    code: str
    kind: str
    number: int
    state: State
    basis: str
    task: tuple[str, ...]
    exposure: tuple[tuple[str, str], ...]
    existing: tuple[str, ...]
    substances: tuple[SubstanceReading, ...]
    controls: tuple[tuple[str, tuple[str, ...]], ...]
    protection: tuple[tuple[str, str], ...]
    emergencies: tuple[tuple[str, tuple[str, ...]], ...]
    outcome: tuple[tuple[str, str], ...]
    history: tuple[tuple[str, str], ...]

    @property
    def approved(self) -> str:
        """By whom and when it was approved; empty before."""
        return dict(self.history).get("Approved", "")


def reading(assessment: Assessment, version: Version, *, zone: ZoneInfo) -> Reading:
    """Return a version in words."""
    is_chemical = assessment.kind is not SubjectKind.ROOM_HAZARD
    return Reading(
        title=assessment.title,
        code=assessment.code,
        kind=KINDS[assessment.kind],
        number=version.number,
        state=version.state,
        basis=version.basis,
        task=_lines(version.task),
        exposure=tuple(_exposure(version, is_chemical=is_chemical)),
        existing=_lines(version.existing_controls),
        substances=tuple(_substance(row) for row in version.substances),
        controls=tuple(
            (words, lines)
            for level, words in LEVELS.items()
            if (lines := tuple(control.text for control in version.controls if control.level is level))
        ),
        protection=tuple(_protection(version)) if is_chemical else (),
        emergencies=tuple(
            (heading, lines)
            for heading, text in (
                ("First aid", version.first_aid),
                ("Spill" if is_chemical else "When something happens", version.spill),
                ("Storage", version.storage),
                ("Disposal", version.disposal),
            )
            if (lines := _lines(text))
        ),
        outcome=tuple(_outcome(version)),
        history=tuple(_history(version, zone=zone)),
    )


def approved_by(version: Version) -> str:
    """Who approved it, in words."""
    by = version.approved_by.name if version.approved_by else ""
    if version.outside_approver:
        return f"{version.outside_approver}, {version.outside_organisation} (put down by {by})"
    if version.own_approval_because:
        return f"{by}, who wrote it too. Reason: {version.own_approval_because}"
    return by


def strength(row: AssessedSubstance) -> str:
    """The dilution it was assessed at, in words."""
    return "as supplied" if row.water_parts_milli is None else show_dilution(row.water_parts_milli)


def name_and_strength(row: AssessedSubstance) -> str:
    return f"{row.name}, {strength(row)}"


def _substance(row: AssessedSubstance) -> SubstanceReading:
    sheet = f"SDS of {day_words(row.sds_date)}" if row.sds_date else "SDS without a date"
    return SubstanceReading(
        product_id=row.product_id,
        name=row.name,
        strength=strength(row),
        amount=show(row.amount, row.unit),
        sheet=f"{sheet}, entries of version {row.product_version}",
        hazards=tuple(banding.code_words(code, names=row.sensitisers) for code in row.codes.split()),
        approach=row.chosen_approach or row.approach,
        calculated=row.approach,
        verdict=banding.verdict(row),
        reasoning=banding.reasoning(row),
    )


def _exposure(version: Version, *, is_chemical: bool) -> Iterator[tuple[str, str]]:
    people = _listed(version.who) or "not said yet"
    yield "Who", f"{people}, {version.how_many} at once" if version.who and version.how_many else people
    if is_chemical:
        yield "How it reaches a person", _listed(version.routes) or "not said yet"
    yield "How often", version.frequency or "not said yet"
    yield "How long", version.duration or "not said yet"


def _protection(version: Version) -> Iterator[tuple[str, str]]:
    gloves = version.glove_material or "not said yet"
    if version.glove_minutes is not None:
        gloves += f"; breakthrough {version.glove_minutes} min ({version.glove_source or 'no source yet'})"
    yield "Gloves", gloves
    known = f" Known by: {version.air_changes_source}." if version.air_changes_source else ""
    yield "Air changes of the room", f"{rules.air_in_words(version.air_changes_tenths)}{known}"
    if version.air_changes_tenths:
        yield "Air after a spill", _air_after_a_spill(version.air_changes_tenths / 10)
    yield "Health surveillance", _surveillance(version)


def _air_after_a_spill(changes_per_hour: float) -> str:
    """How long fresh air takes, at best and where it hardly mixes: never a leave to go back in."""
    best, worst = (minutes_to_clear_air(changes_per_hour=changes_per_hour, mixing=mixing) for mixing in (1, 0.1))
    return (
        f"Once nothing more gets into it, 99 % is carried off in {best:.0f} min where the air mixes perfectly, in up "
        f"to {worst:.0f} min where it hardly does (CDC 1994, MMWR 43 RR-13, Table S3-1). An estimate: nobody goes back "
        "in by it, a named competent person releases the room."
    )


def _surveillance(version: Version) -> str:
    """What is decided; findings about people's health are kept apart and never here."""
    reason = version.surveillance_reason
    if version.has_surveillance:
        return f"Yes: a sensitiser is handled. {reason}".strip() if rules.surveillance_is_due(version) else "Yes."
    if rules.surveillance_is_due(version):
        return f"No, although a sensitiser is handled. Reason: {reason or 'not given yet'}"
    return f"Not asked for: no sensitiser is handled. {reason}".strip()


def _outcome(version: Version) -> Iterator[tuple[str, str]]:
    residual = f"{version.residual.capitalize()}. {version.residual_reason}" if version.residual else "Not judged yet."
    yield "Risk that is left", residual.strip()
    match version.under_18:
        case None:
            yield "Under 18", "Not decided yet."
        case Under18.WITH:
            yield "Under 18", f"Only with {version.under_18_with or 'somebody not named yet'}."
        case Under18.YES:
            yield "Under 18", "Yes, open to them."
        case Under18.NO:
            yield "Under 18", "No, not open to them."
    yield "Next review", day_words(version.review_on) if version.review_on else "No day set yet."


def _history(version: Version, *, zone: ZoneInfo) -> Iterator[tuple[str, str]]:
    yield "Assessor", f"{version.assessor.name}, {_day(version.written_at, zone)}"
    if version.approved_at is not None:
        yield "Approved", f"{_day(version.approved_at, zone)} by {approved_by(version)}"
    elif version.state is State.SENT_BACK and version.sent_back_at is not None:
        by = version.sent_back_by.name if version.sent_back_by else ""
        yield "Sent back", f"{_day(version.sent_back_at, zone)} by {by}: {version.sent_back_because}"
    else:
        yield "Approved", "Not yet. It does not hold until it is."


def _day(instant: datetime, zone: ZoneInfo) -> str:
    return day_words(to_local(instant, zone=zone).date())


def _listed(kept: str) -> str:
    return ", ".join(kept.split(";")) if kept else ""


def _lines(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())
