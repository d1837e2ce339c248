"""Reads what a session plan is made from, in a fixed number of queries, and has it worked out."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy.orm import joinedload, selectinload

from labsys.baths import queries as baths
from labsys.baths.cards import state_in_words
from labsys.baths.models import Bath
from labsys.baths.rules import life
from labsys.bookings import queries as bookings
from labsys.bookings.models import Booking
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material, check_material
from labsys.competences import gate as competences
from labsys.competences.asked import of_mixing
from labsys.competences.rules import LackedCompetence
from labsys.database import DbSession
from labsys.drawing.pictograms import Pictogram
from labsys.hazards.solution import SolutionHazards
from labsys.inductions import gate
from labsys.inductions.rules import Missing, Subject, joined
from labsys.labware import queries as labware
from labsys.labware.models import OwnedCylinder, WorkingVessel
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.planning.asked import AskedPlan
from labsys.planning.facts import ChosenFilm, Dangers, Developing, ProcessFacts, SharedBath, Solution, Step, TimeRow
from labsys.planning.loads import PlanRefused, planned_load
from labsys.planning.plan import SessionPlan, make_plan
from labsys.processes import film_times
from labsys.processes.models import FilmTime, Process, ProcessStep
from labsys.products import queries as product_queries
from labsys.products.hazards import concentrate_of, hazards_of
from labsys.products.models import HazardChoice, InterimApproval, Product
from labsys.products.rules import dilution_of_milli
from labsys.products.standing import ProductStanding
from labsys.quantities import UL_PER_ML
from labsys.records.queries import get_or_raise
from labsys.risk import queries as risk
from labsys.risk.protection import assessed_process
from labsys.timetable.local_time import to_local

_MILLI = 1_000
_SAYS_NOTHING = "EUH210"  # that an SDS can be had: it hangs in the chemical store


@dataclass(frozen=True)
class NeededInduction:
    """An induction that the work needs; `missing` is None where the person holds it, or nobody is named."""

    induction_id: int
    name: str
    missing: Missing | None


@dataclass(frozen=True)
class Planned:
    """A plan with whom it is for: `person` is None where the name is left open."""

    asked: AskedPlan
    plan: SessionPlan
    person: Person | None
    booking: Booking | None
    needs: tuple[NeededInduction, ...]
    lacked: tuple[LackedCompetence, ...] = ()  # competences that what they mix themselves asks for

    @property
    def missing(self) -> tuple[Missing, ...]:
        """The inductions the person still lacks."""
        return tuple(need.missing for need in self.needs if need.missing is not None)


def booking_for(session: DbSession, *, booking_id: int | None, viewer: Person) -> Booking | None:
    """Read the booking a plan is for. Raises NotFound, or NotPermitted where it is somebody else's."""
    if booking_id is None:
        return None
    booking = bookings.booking_or_raise(session, booking_id)
    if booking.person_id != viewer.id and not may(viewer, Permission.BOOK_FOR_OTHERS):
        raise NotPermitted(Permission.BOOK_FOR_OTHERS)
    return booking


def process_with_products(session: DbSession, process_id: int) -> Process:
    """Read a process with all that its solutions are worked out from. Raises NotFound.

    Joined rather than read one after the other: a product has few of each, and the page asks much else.
    """
    whole = (
        joinedload(Process.steps)
        .joinedload(ProcessStep.product)
        .options(
            selectinload(Product.ingredients),
            joinedload(Product.dilutions),
            joinedload(Product.confirmations),
            joinedload(Product.data_sheets),
            joinedload(Product.hazard_choices).joinedload(HazardChoice.chosen_by).lazyload(Person.role_rows),
            joinedload(Product.interim_approvals).joinedload(InterimApproval.approved_by).lazyload(Person.role_rows),
        )
    )
    return get_or_raise(session, Process, process_id, "process", options=[whole])


def planned(
    session: DbSession,
    *,
    asked: AskedPlan,
    process: Process,
    booking: Booking | None,
    vessels: Sequence[WorkingVessel],
    times: Sequence[FilmTime],
    viewer: Person,
    now: datetime,
    zone: ZoneInfo,
) -> Planned:
    """Work out a plan for a process, a booking, the tanks and trays in use and the developing times, all already read.

    Raises PlanRefused, WrongMaterial or OutOfRange where it cannot be planned so.
    """
    size, material = asked.size, process.material
    check_material(size=size, material=material)
    vessel = next((vessel for vessel in vessels if vessel.id == asked.vessel_id), None)
    if vessel is None and asked.vessel_id is not None:
        raise PlanRefused("That tank or tray is out of use. Choose another.", field="vessel")
    plan = make_plan(
        process=_process_facts(session, process, developer_milli=asked.water_parts_milli, now=now),
        load=planned_load(
            size=size, material=material, count=asked.count, volume_ul=asked.volume_ul, vessel=vessel, offered=vessels
        ),
        baths=[_shared(bath, now=now) for bath in baths.baths_here(session) if bath.is_in_service or bath.is_spare],
        conditions=asked.conditions,
        film=_film(asked, process, times),
    )
    plan = _as_assessed(session, plan, today=to_local(now, zone=zone).date(), zone=zone)
    person = None if asked.is_blank else booking.person if booking else viewer
    needs = _needs(session, process=process, booking=booking, person=person, now=now)
    mixed = {made.step.solution.product_id for made in plan.making_up if made.step.solution}
    handled = [step.product for step in process.steps if step.product is not None and step.product_id in mixed]
    asks = [asks for product in dict.fromkeys(handled) for asks in of_mixing(product)] if person else []
    lacked = competences.lacked_by(session, person=person, asked=asks, now=now) if person else ()
    return Planned(asked, plan, person, booking, needs, lacked)


def _as_assessed(session: DbSession, plan: SessionPlan, *, today: date, zone: ZoneInfo) -> SessionPlan:
    """Put what the assessment of the process asks beside what is worked out: one rule for each part of the body."""
    stands = risk.process_assessed(session, plan.process.process_id, today=today, zone=zone)
    assessed = assessed_process(stands)
    settled = assessed.settled(plan.working.protection)
    of_kind = {each.kind: each for each in settled.protection}
    return replace(
        plan,
        working=replace(plan.working, protection=settled.protection),
        steps=tuple(
            replace(step, protection=tuple(of_kind.get(each.kind, each) for each in step.protection))
            for step in plan.steps
        ),
        assessed=assessed.told,
        assessed_briefly=assessed.briefly(settled),
        is_assessed=assessed.holds,
        questions=settled.questions,
    )


def film_times_of(session: DbSession, process: Process | None) -> list[FilmTime]:
    """The rows of the lab's developing times for the developers of a process for film."""
    if process is None or process.material is not Material.FILM:
        return []
    developers = {step.product_id for step in process.steps if step.product_id and _is_developer(step)}
    return film_times.film_times(session, product_ids=developers)


def _is_developer(step: ProcessStep) -> bool:
    return step.product is not None and step.product.kind is SolutionKind.DEVELOPER


def _film(asked: AskedPlan, process: Process, rows: Sequence[FilmTime]) -> ChosenFilm | None:
    """The film asked about, with the rows for the developer, dilution and format it is planned in."""
    if not asked.film:
        return None
    meant = next((row for row in rows if str(row.id) == asked.film), None)
    if meant is None:
        return ChosenFilm("this film")
    step = next(step for step in process.steps if _is_developer(step))
    usual_milli = step.water_parts_milli or 0
    milli = usual_milli if asked.water_parts_milli is None else asked.water_parts_milli
    here = (step.product_id, milli, asked.size.film_format)
    return ChosenFilm(
        film_times.subject_in_words(meant),
        tuple(
            TimeRow(
                seconds=row.seconds,
                celsius=row.temperature_milli_c / _MILLI,
                source=row.source,
                free_per_litre=row.free_milli / _MILLI,
                longer_share=_share(row.longer_ppm, 1_000_000),
            )
            for row in rows
            if row.subject == meant.subject and (row.product_id, row.water_parts_milli, row.film_format) == here
        ),
    )


def _process_facts(session: DbSession, process: Process, *, developer_milli: int | None, now: datetime) -> ProcessFacts:
    products = [step.product for step in process.steps if step.product is not None]
    standings = product_queries.standings(session, products, now=now)
    owned = labware.cylinder_rows(session)
    steps = tuple(
        _step(step, owned=owned, standings=standings, developer_milli=developer_milli) for step in process.steps
    )
    return ProcessFacts(process.id, process.name, process.material, steps, process.note)


def _step(
    row: ProcessStep,
    *,
    owned: Sequence[OwnedCylinder],
    standings: dict[int, ProductStanding],
    developer_milli: int | None,
) -> Step:
    solution = None
    if row.product is not None:
        product, standing = row.product, standings[row.product.id]
        usual_milli = row.water_parts_milli or 0  # left out in the process, it is used undiluted
        is_developer = product.kind is SolutionKind.DEVELOPER
        milli = developer_milli if is_developer and developer_milli is not None else usual_milli
        solution = Solution(
            product_id=product.id,
            product=product.name,
            kind=product.kind,
            dilution=dilution_of_milli(milli),
            usual_dilution=dilution_of_milli(usual_milli),
            powder_mg_per_l=product.powder_mg_per_l,
            may_mix=standing.may_mix,
            standing=standing.words,
            cylinders=tuple(labware.cylinders_for(owned, product.kind)),
            water_cylinders=tuple(labware.cylinders_for_water(owned, product.kind)),
            developing=_developing(product),
            bottle=_dangers_of_bottle(product),
            working=dangers_of(hazards_of(product, water_parts_milli=milli)),
        )
    return Step(
        name=row.name,
        solution=solution,
        seconds=row.seconds,
        celsius=_share(row.temperature_milli_c, _MILLI),
        celsius_off=_share(row.tolerance_milli_c, _MILLI),
        changes=row.changes,
        any_film=row.any_film,
        in_the_dark=row.in_the_dark,
        air=row.air,
        note=row.note,
    )


def _developing(product: Product) -> Developing:
    return Developing(
        q10=_share(product.q10_milli, _MILLI),
        low_celsius=_share(product.low_milli_c, _MILLI),
        high_celsius=_share(product.high_milli_c, _MILLI),
        least_minutes=_share(product.least_seconds, 60),
        least_concentrate_ml=_share(product.least_concentrate_ul, UL_PER_ML),
        source=product.developing_source,
    )


def _share(amount: int | None, scale: int) -> float | None:
    return None if amount is None else amount / scale


def _dangers_of_bottle(product: Product) -> Dangers:
    bottle = concentrate_of(product)
    return replace(
        dangers_of(hazards_of(product)),
        is_powder=bottle.is_powder,
        burns_through_nitrile=bottle.burns_through_nitrile,
        is_stated=bottle.is_stated,
    )


def dangers_of(hazards: SolutionHazards) -> Dangers:
    return Dangers(
        h_codes=hazards.protective_codes,
        euh_codes=hazards.euh_codes,
        sensitisers=hazards.sensitisers,
        signal_word=hazards.label.signal_word,
        pictograms=tuple(Pictogram(code) for code in hazards.label.pictograms),
        statements=tuple(text for code, text in hazards.statements if code != _SAYS_NOTHING),
        not_known=hazards.declared_unknown,
    )


def _shared(bath: Bath, *, now: datetime) -> SharedBath:
    left = life(bath, now=now)
    return SharedBath(
        bath_id=bath.id,
        code=bath.code,
        name=bath.name,
        line=bath.line.name,
        process_id=bath.line.process_id,
        materials=frozenset(bath.line.work.materials),
        place=bath.place,
        product_id=bath.product_id,
        dilution=dilution_of_milli(bath.water_parts_milli),
        is_in_service=bath.is_in_service,
        life=left,
        state=state_in_words(left),
        level_ul=bath.vessel.level,
        capacity_ul=bath.vessel.capacity,
    )


def _needs(
    session: DbSession, *, process: Process, booking: Booking | None, person: Person | None, now: datetime
) -> tuple[NeededInduction, ...]:
    """Ask the gate what the work needs, and what the person lacks of it when the work begins."""
    subjects = [gate.work_of(process)]
    if booking is not None:
        stations = {booking.station_id, *(hold.unit.station_id for hold in booking.holds)}
        subjects += [Subject(station_id=station_id) for station_id in sorted(stations)]
    requirements = gate.requirements_in_force(session)
    names = {
        requirement.induction_id: requirement.name
        for requirement in requirements
        if any(requirement.applies_to(subject) for subject in subjects)
    }
    if person is None:
        return tuple(NeededInduction(key, name, None) for key, name in names.items())
    at = max(booking.ends_at, now) if booking else now
    answers = gate.clearances(
        session, person_ids=[person.id], subjects=subjects, at=at, now=now, requirements=requirements
    )
    lacking = joined(missing for subject in subjects for missing in answers[person.id, subject].missing)
    missing = {lacked.induction_id: lacked for lacked in lacking}
    return tuple(NeededInduction(key, name, missing.get(key)) for key, name in names.items())
