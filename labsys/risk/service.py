"""What those who keep the assessments do: begin one, change it, begin the next version. Approval has its own file."""

from collections.abc import Collection, Sequence
from datetime import datetime

from labsys.database import DbSession
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.processes.models import Process
from labsys.products.models import Product
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
from labsys.risk.review import StepFact, fingerprint
from labsys.risk.room_hazards import RoomHazard, room_hazard
from labsys.risk.rules import AssessmentRefused, Choice, Content
from labsys.timetable.local_time import to_local


@act
def assess_process(act: Act, *, process_id: int) -> Assessment:
    """Begin the assessment of a process, filled in from its steps.

    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    process = queries.process_with_products(act.session, process_id, lock=True)
    if (found := queries.live_of_process(act.session, process_id)) is not None:
        raise AssessmentRefused(
            f"{process.name} has an assessment already, {found.code}. Begin its next version there.", field="process"
        )
    assessment = _added(kind=SubjectKind.PROCESS, title=process.name, actor=act.actor, now=act.now)
    assessment.process_id = process.id
    version = _begin(assessment, number=1, basis=_basis_of_process(process), actor=act.actor, now=act.now)
    _fill_from_process(version, process)
    return _recorded(act, assessment)


@act
def assess_products(act: Act, *, product_ids: Collection[int], title: str) -> Assessment:
    """Begin the assessment of products handled as supplied. Raises NotPermitted, NotFound or AssessmentRefused."""
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    if not product_ids:
        raise AssessmentRefused("Tick at least one product.", field="products")
    products = queries.whole_products(act.session, product_ids)
    title = title or f"Making up from {products[0].name}"
    assessment = _added(kind=SubjectKind.PRODUCTS, title=title, actor=act.actor, now=act.now)
    assessment.products = [SubjectProduct(product_id=one.id) for one in products]
    version = _begin(assessment, number=1, basis=_BASIS_OF_PRODUCTS, actor=act.actor, now=act.now)
    _fill_from_products(version, products)
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
    assessment = _added(kind=SubjectKind.ROOM_HAZARD, title=title, actor=act.actor, now=act.now)
    version = _begin(assessment, number=1, basis=_basis_of_hazard(template), actor=act.actor, now=act.now)
    _put(version, prefill.of_room_hazard(template) if template else Content())
    return _recorded(act, assessment)


@act
def change_version(act: Act, *, assessment_id: int, content: Content, edition: int | None = None) -> Version:
    """Write the version in hand, and band its substances anew. Whoever writes it is its assessor.

    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    version = _in_hand(act.session, assessment_id)
    rules.check_open(version, edition=edition)
    _put(version, content)
    for choice in content.choices:
        _choose(version, choice, actor=act.actor)
    version.state = State.DRAFT
    version.edition += 1
    version.assessor_id, version.written_at = act.actor.id, act.now
    facts = {"version": version.number, "edition": version.edition, **facts_of(version)}
    act.tell("assessment.changed", about=version, facts=facts)
    return version


@act
def begin_next_version(act: Act, *, assessment_id: int) -> Version:
    """Begin the next version: the words of the last one, the substances as they stand now, banded anew.

    What an assessor chose for a substance is kept where the calculation still gives what it gave.
    Raises NotPermitted, NotFound or AssessmentRefused.
    """
    require(act.actor, Permission.KEEP_ASSESSMENTS)
    assessment = queries.assessment_or_raise(act.session, assessment_id, lock=True)
    last = assessment.newest
    check_live(assessment)
    if last.state is not State.APPROVED:
        raise AssessmentRefused(f"Version {last.number} is {last.state}. Finish it before the next one.")
    version = _begin(assessment, number=last.number + 1, basis=last.basis, actor=act.actor, now=act.now)
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
    version = _in_hand(act.session, assessment_id)
    rules.check_open(version)
    rows = _substances_now(act.session, version.assessment, version, last=version)
    version.substances = []
    act.session.flush()  # the old rows leave their positions first
    version.substances = rows
    version.edition += 1
    version.assessor_id, version.written_at = act.actor.id, act.now
    facts = {"version": version.number, "edition": version.edition, **facts_of(version)}
    act.tell("assessment.substances_renewed", about=version, facts=facts)
    return version


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
        "controls": [[one.level, one.text] for one in version.controls],
        "substances": [
            {
                "product": one.product_id,
                "product_version": one.product_version,
                "sds": _plain(one.sds_date),
                "dilution": one.water_parts_milli,
                "amount": [one.amount, one.unit],
                "codes": one.codes,
                "spread": one.spread,
                "group": one.hazard_group,
                "approach": one.approach,
                "chosen": [one.chosen_approach, one.chosen_because],
            }
            for one in version.substances
        ],
    }


_BASIS_OF_PRODUCTS = "Begun from the entries of the products and the codes of their SDS."


def _basis_of_process(process: Process) -> str:
    return f"Begun from the steps of the process {process.name}."


def _basis_of_hazard(template: RoomHazard | None) -> str:
    if template is None:
        return "Written without a template."
    return f"Begun from the template “{template.title}”. Source: {template.source}."


def _added(*, kind: SubjectKind, title: str, actor: Person, now: datetime) -> Assessment:
    return Assessment(code="", kind=kind, title=title, added_at=now, added_by_id=actor.id)


def _recorded(act: Act, assessment: Assessment) -> Assessment:
    assessment.code = f"new {act.now.timestamp()}"[:20]
    act.session.add(assessment)
    act.session.flush()
    assessment.code = records.give_code(act.session, kind=CodeKind.ASSESSMENT, row_id=assessment.id)
    facts = {
        "code": assessment.code,
        "kind": assessment.kind,
        "title": assessment.title,
        "process": assessment.process_id,
        "products": [one.product_id for one in assessment.products],
        **facts_of(assessment.newest),
    }
    act.tell("assessment.begun", about=assessment, facts=facts)
    return assessment


def _begin(assessment: Assessment, *, number: int, basis: str, actor: Person, now: datetime) -> Version:
    version = Version(
        number=number, basis=basis[: Version.BASIS_LENGTH], state=State.DRAFT, assessor_id=actor.id, written_at=now
    )
    assessment.versions.append(version)
    return version


def _fill_from_process(version: Version, process: Process) -> None:
    parts = prefill.parts_of_process(process)
    version.substances = [prefill.assessed(part, position=number) for number, part in enumerate(parts, 1)]
    version.fingerprint = _fingerprint(process)
    products = {part.product.id: part.product for part in parts}
    _put(version, prefill.of_process(process, version.substances, list(products.values())))


def _fill_from_products(version: Version, products: Sequence[Product]) -> None:
    version.substances = [
        prefill.assessed(prefill.Part(one, None), position=number) for number, one in enumerate(products, 1)
    ]
    _put(version, prefill.of_products(products, version.substances))


def _fingerprint(process: Process) -> str:
    return fingerprint(
        StepFact(one.product_id, one.water_parts_milli, one.seconds, one.temperature_milli_c)
        for one in process.steps
        if one.product_id is not None
    )


def _put(version: Version, content: Content) -> None:
    for name in Content.PLAIN:
        setattr(version, name, getattr(content, name))
    version.who = rules.in_order(Who, content.who)
    version.routes = rules.in_order(Route, content.routes)
    wanted = [(number, level, text) for number, (level, text) in enumerate(content.controls, 1)]
    kept = {one.position: one for one in version.controls}
    for number, level, text in wanted:
        if number in kept:
            kept[number].level, kept[number].text = level, text
        else:
            version.controls.append(Control(position=number, level=level, text=text))
    version.controls = [one for one in version.controls if one.position <= len(wanted)]


def _choose(version: Version, choice: Choice, *, actor: Person) -> None:
    """Put what the assessor says of one substance; a choice that is the calculated one is no choice."""
    row = next((one for one in version.substances if one.id == choice.substance_id), None)
    if row is None:
        raise AssessmentRefused("One of the substances is not in this version any more. Read it as it is now.")
    spread_from = row.spread_from
    if choice.spread is not row.spread:
        spread_from = f"Judged by {actor.name}."
    prefill.set_band(row, amount=choice.amount, spread=choice.spread, spread_from=spread_from)
    rules.check_choice(choice, name=row.name, calculated=row.approach)
    if choice.approach in (None, row.approach):
        row.chosen_approach, row.chosen_because, row.chosen_by_id = None, "", None
    elif (row.chosen_approach, row.chosen_because) != (choice.approach, choice.because):
        row.chosen_approach, row.chosen_because, row.chosen_by_id = choice.approach, choice.because, actor.id


def _substances_now(
    session: DbSession, assessment: Assessment, version: Version, *, last: Version
) -> list[AssessedSubstance]:
    """The substances of a version as they stand now, each as near to `last` as that allows; marks the steps read."""
    if assessment.process_id is not None:
        process = queries.process_with_products(session, assessment.process_id)
        version.basis, version.fingerprint = _basis_of_process(process)[: Version.BASIS_LENGTH], _fingerprint(process)
        parts = prefill.parts_of_process(process)
    else:
        products = queries.whole_products(session, [one.product_id for one in assessment.products])
        parts = tuple(prefill.Part(one, None) for one in products)
    return [_as_before(part, position, last) for position, part in enumerate(parts, 1)]


def _as_before(part: prefill.Part, position: int, last: Version) -> AssessedSubstance:
    """A substance as it stands now, with the amount and, while the calculation agrees, the choice of last time."""
    key = (part.product.id, part.water_parts_milli)
    before = next((one for one in last.substances if (one.product_id, one.water_parts_milli) == key), None)
    if before is None:
        return prefill.assessed(part, position=position)
    row = prefill.assessed(part, position=position, amount=before.amount)
    if before.spread_from.startswith("Judged by") and before.unit is row.unit:
        prefill.set_band(row, amount=before.amount, spread=before.spread, spread_from=before.spread_from)
    if before.chosen_approach is not None and (before.approach, before.hazard_group) == (
        row.approach,
        row.hazard_group,
    ):
        row.chosen_approach, row.chosen_because = before.chosen_approach, before.chosen_because
        row.chosen_by_id = before.chosen_by_id
    return row


def _copy_words(last: Version, version: Version) -> None:
    for name in (*Content.PLAIN, "who", "routes"):
        setattr(version, name, getattr(last, name))
    version.controls = [Control(position=one.position, level=one.level, text=one.text) for one in last.controls]


def _in_hand(session: DbSession, assessment_id: int) -> Version:
    assessment = queries.assessment_or_raise(session, assessment_id, lock=True)
    check_live(assessment)
    return assessment.newest


def _plain(value: object) -> object:
    return value.isoformat() if hasattr(value, "isoformat") else value
