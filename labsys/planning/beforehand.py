"""Before somebody books: whether the baths suffice for what they would bring, by the same plan as their session's."""

from labsys.bookings.models import Booking
from labsys.chemistry.errors import CalculationError
from labsys.chemistry.sizes import size_of
from labsys.labware import queries as labware
from labsys.people.acts import Act
from labsys.planning import queries
from labsys.planning.asked import AskedPlan
from labsys.planning.plan import PlannedStep
from labsys.records import queries as records
from labsys.records.errors import Refused


def baths_suffice(act: Act, booking: Booking) -> tuple[str, str] | None:
    """A line of what a booking would come to; none where it is not said what is brought, and how it is processed."""
    if booking.process_id is None or not booking.planned_size:
        return None
    process = queries.process_with_products(act.session, booking.process_id)
    try:
        planned = queries.planned(
            act.session,
            asked=AskedPlan(process.id, size_of(key=booking.planned_size), booking.planned_count),
            process=process,
            booking=None,
            vessels=labware.working_vessels(act.session, in_use_only=True),
            times=queries.film_times_of(act.session, process),
            viewer=booking.person,
            now=act.now,
            zone=records.zone(act.session),
        )
    except (Refused, CalculationError) as error:
        return "Baths, as they are now", f"Not known: {error}"
    steps = [_of_step(step) for step in planned.plan.steps if step.solution is not None]
    return "Baths, as they are now", " ".join(steps) or "None is needed."


def _of_step(step: PlannedStep) -> str:
    """The bath that takes it, with what it has left after that, and what speaks against others."""
    said = f"{step.step.name}: mixed for it." if step.bath is None else f"{step.step.name}: {step.bath.bath.name}."
    why = [step.bath.for_this] if step.bath else []
    return " ".join([said, *why, *(told for told in step.warnings if "exhausted" in told)])
