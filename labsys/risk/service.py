"""What those who keep the assessments do: begin one, change it, begin the next version. Approval has its own file."""

from collections.abc import Collection

from labsys.database import DbSession
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.processes.models import Process
from labsys.records import queries as record
from labsys.records import service as records
from labsys.records.models import CodeKind
from labsys.risk import prefill, queries, rules
from labsys.risk.models import (
    AssessedSubstance,
    Assessment,
    Control,
    Route,
    State,
    SubjectKind,
    SubjectProduct,
    Version,
    Who,
)
from labsys.risk.review import fingerprint
from labsys.risk.room_hazards import RoomHazard, room_hazard
from labsys.risk.rules import AssessmentRefused, Content, Judgement
from labsys.timetable.local_time import to_local


@act
def assess_process(act: Act, *, process_id: int) -> Assessment:
    """Begin the assessment of a process, filled in from its steps.

    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    process = queries.process_with_products(act.session, process_id, lock=True)
    if (live := queries.live_of_process(act.session, process_id)) is not None:
        raise AssessmentRefused(
            f"{process.name} has an assessment already, {live.code}. Begin its next version there.", field="process"
        )
    assessment = Assessment(kind=SubjectKind.PROCESS, title=process.name, process_id=process.id)
    version = _begin(act, assessment, basis=_basis_of_process(process))
    parts = prefill.parts_of_process(process)
    version.fingerprint = fingerprint(process.steps)
    version.substances = [prefill.assessed(part, position=position) for position, part in enumerate(parts, 1)]
    products = {part.product.id: part.product for part in parts}
    _put(version, prefill.of_process(process, version.substances, list(products.values())))
    return _recorded(act, assessment)


@act
def assess_products(act: Act, *, product_ids: Collection[int], title: str) -> Assessment:
    """Begin the assessment of products handled as supplied. Raises NotPermitted, NotFound or AssessmentRefused."""
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    if not product_ids:
        raise AssessmentRefused("Tick at least one product.", field="products")
    products = queries.whole_products(act.session, product_ids)
    assessment = Assessment(
        kind=SubjectKind.PRODUCTS,
        title=title or f"Making up from {products[0].name}",
        products=[SubjectProduct(product_id=product.id) for product in products],
    )
    version = _begin(act, assessment, basis=_BASIS_OF_PRODUCTS)
    parts = [prefill.Part(product, None) for product in products]
    version.substances = [prefill.assessed(part, position=position) for position, part in enumerate(parts, 1)]
    _put(version, prefill.of_products(products, version.substances))
    return _recorded(act, assessment)


@act
def assess_room_hazard(act: Act, *, key: str, title: str) -> Assessment:
    """Begin the assessment of a hazard of the room, from a template or, without one, from nothing.

    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    template = room_hazard(key) if key else None
    title = title or (template.title if template else "")
    if not title:
        raise AssessmentRefused("Give it a title, such as: Hot water from the boiler.", field="title")
    if title in queries.live_of_room(act.session):
        raise AssessmentRefused(f"{title} has an assessment already. Begin its next version there.", field="title")
    assessment = Assessment(kind=SubjectKind.ROOM_HAZARD, title=title)
    version = _begin(act, assessment, basis=_basis_of_hazard(template))
    _put(version, prefill.of_room_hazard(template) if template else Content())
    return _recorded(act, assessment)


@act
def change_version(act: Act, *, assessment_id: int, content: Content, edition: int | None = None) -> Version:
    """Write the version in hand, and band its substances anew. Whoever writes it is its assessor.

    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    version = live_or_raise(act.session, assessment_id).newest
    rules.check_open(version, edition=edition)
    _put(version, content)
    for judgement in content.judgements:
        _judge(act, version, judgement)
    version.state = State.DRAFT
    act.tell("assessment.changed", about=version, facts=_written(act, version))
    return version


@act
def begin_next_version(act: Act, *, assessment_id: int) -> Version:
    """Begin the next version: the words of the last one, the substances as they stand now, banded anew.

    What an assessor chose for a substance is kept where the calculation still gives what it gave.
    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    assessment = live_or_raise(act.session, assessment_id)
    last = assessment.newest
    if last.state is not State.APPROVED:
        raise AssessmentRefused(f"Version {last.number} is {last.state}. Finish it before the next one.")
    version = _begin(act, assessment, basis=last.basis)
    version.substances = _substances_now(act.session, assessment, version, last=last)
    _copy_words(last, version)
    day = to_local(act.now, zone=record.zone(act.session)).date()
    if version.review_on is not None and version.review_on <= day:
        version.review_on = None
    act.session.flush()
    facts = {"version": version.number, **facts_of(version)}
    act.tell("assessment.version_begun", about=version, facts=facts)
    return version


@act
def renew_substances(act: Act, *, assessment_id: int) -> Version:
    """Fill the substances of the version in hand in anew, as products and process stand now; the words stay.

    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    assessment = live_or_raise(act.session, assessment_id)
    version = assessment.newest
    rules.check_open(version)
    rows = _substances_now(act.session, assessment, version, last=version)
    version.substances = []
    act.session.flush()  # the old rows leave their positions first
    version.substances = rows
    act.tell("assessment.substances_renewed", about=version, facts=_written(act, version))
    return version


def live_or_raise(session: DbSession, assessment_id: int) -> Assessment:
    """An assessment to write on, locked. Raises NotFound, or AssessmentRefused when it was withdrawn."""
    assessment = queries.assessment_or_raise(session, assessment_id, lock=True)
    check_live(assessment)
    return assessment


def check_live(assessment: Assessment) -> None:
    """Raise AssessmentRefused when the assessment was withdrawn."""
    if assessment.withdrawn_at is not None:
        raise AssessmentRefused(f"{assessment.title} was withdrawn: {assessment.withdrawn_because}")


def facts_of(version: Version) -> dict[str, object]:
    """What the record keeps of a version's content."""
    return {
        **{name: _plain(getattr(version, name)) for name in Content.PLAIN},
        "who": version.who,
        "routes": version.routes,
        "controls": [[control.level, control.text] for control in version.controls],
        "substances": [
            {
                "product": row.product_id,
                "product_version": row.product_version,
                "sds": _plain(row.sds_date),
                "dilution": row.water_parts_milli,
                "amount": [row.amount, row.unit],
                "codes": row.codes,
                "spread": row.spread,
                "group": row.hazard_group,
                "approach": row.approach,
                "chosen": [row.chosen_approach, row.chosen_because],
            }
            for row in version.substances
        ],
    }


_BASIS_OF_PRODUCTS = "Begun from the entries of the products and the codes of their SDS."


def _basis_of_process(process: Process) -> str:
    return f"Begun from the steps of the process {process.name}."


def _basis_of_hazard(template: RoomHazard | None) -> str:
    if template is None:
        return "Written without a template."
    return f"Begun from the template “{template.title}”. Source: {template.source}."


def _recorded(act: Act, assessment: Assessment) -> Assessment:
    assessment.code = f"new {act.now.timestamp()}"[:20]
    assessment.added_at, assessment.added_by_id = act.now, act.actor.id
    act.session.add(assessment)
    act.session.flush()
    assessment.code = records.give_code(act.session, kind=CodeKind.ASSESSMENT, row_id=assessment.id)
    facts = {
        "code": assessment.code,
        "kind": assessment.kind,
        "title": assessment.title,
        "process": assessment.process_id,
        "products": [subject.product_id for subject in assessment.products],
        **facts_of(assessment.newest),
    }
    act.tell("assessment.begun", about=assessment, facts=facts)
    return assessment


def _begin(act: Act, assessment: Assessment, *, basis: str) -> Version:
    version = Version(
        number=len(assessment.versions) + 1,
        basis=basis[: Version.BASIS_LENGTH],
        state=State.DRAFT,
        assessor_id=act.actor.id,
        written_at=act.now,
    )
    assessment.versions.append(version)
    return version


def _written(act: Act, version: Version) -> dict[str, object]:
    """Mark a version as written by whoever acts; what the record keeps of it."""
    version.edition += 1
    version.assessor_id, version.written_at = act.actor.id, act.now
    return {"version": version.number, "edition": version.edition, **facts_of(version)}


def _put(version: Version, content: Content) -> None:
    for name in Content.PLAIN:
        setattr(version, name, getattr(content, name))
    version.who = rules.in_order(Who, content.who)
    version.routes = rules.in_order(Route, content.routes)
    kept = {control.position: control for control in version.controls}
    for position, (level, text) in enumerate(content.controls, 1):
        if position in kept:
            kept[position].level, kept[position].text = level, text
        else:
            version.controls.append(Control(position=position, level=level, text=text))
    version.controls = [control for control in version.controls if control.position <= len(content.controls)]


def _judge(act: Act, version: Version, judgement: Judgement) -> None:
    """Put what the assessor says of one substance; a choice that is the calculated one is no choice."""
    row = next((row for row in version.substances if row.id == judgement.substance_id), None)
    if row is None:
        raise AssessmentRefused("One of the substances is not in this version any more. Read it as it is now.")
    spread_from = row.spread_from if judgement.spread is row.spread else f"Judged by {act.actor.name}."
    prefill.set_band(row, amount=judgement.amount, spread=judgement.spread, spread_from=spread_from)
    rules.check_judgement(judgement, name=row.name, calculated=row.approach)
    if judgement.approach in (None, row.approach):
        row.chosen_approach, row.chosen_because, row.chosen_by_id = None, "", None
    elif (row.chosen_approach, row.chosen_because) != (judgement.approach, judgement.because):
        row.chosen_approach, row.chosen_because = judgement.approach, judgement.because
        row.chosen_by_id = act.actor.id


def _substances_now(
    session: DbSession, assessment: Assessment, version: Version, *, last: Version
) -> list[AssessedSubstance]:
    """The substances of a version as they stand now, each as near to `last` as that allows; marks the steps read."""
    if assessment.process_id is not None:
        process = queries.process_with_products(session, assessment.process_id)
        version.basis = _basis_of_process(process)[: Version.BASIS_LENGTH]
        version.fingerprint = fingerprint(process.steps)
        parts = prefill.parts_of_process(process)
    else:
        products = queries.whole_products(session, [subject.product_id for subject in assessment.products])
        parts = tuple(prefill.Part(product, None) for product in products)
    return [_as_before(part, position, last) for position, part in enumerate(parts, 1)]


def _as_before(part: prefill.Part, position: int, last: Version) -> AssessedSubstance:
    """A substance as it stands now, with the amount and, while the calculation agrees, the choice of last time."""
    key = (part.product.id, part.water_parts_milli)
    before = next((row for row in last.substances if (row.product_id, row.water_parts_milli) == key), None)
    if before is None:
        return prefill.assessed(part, position=position)
    row = prefill.assessed(part, position=position, amount=before.amount)
    if before.spread_from.startswith("Judged by") and before.unit is row.unit:
        prefill.set_band(row, amount=before.amount, spread=before.spread, spread_from=before.spread_from)
    is_as_calculated = (before.approach, before.hazard_group) == (row.approach, row.hazard_group)
    if before.chosen_approach is not None and is_as_calculated:
        row.chosen_approach, row.chosen_because = before.chosen_approach, before.chosen_because
        row.chosen_by_id = before.chosen_by_id
    return row


def _copy_words(last: Version, version: Version) -> None:
    for name in (*Content.PLAIN, "who", "routes"):
        setattr(version, name, getattr(last, name))
    version.controls = [
        Control(position=control.position, level=control.level, text=control.text) for control in last.controls
    ]


def _plain(value: object) -> object:
    return value.isoformat() if hasattr(value, "isoformat") else value
