"""What happens on the day of the small lab: its hours, a class, somebody who comes."""

from datetime import UTC, datetime, timedelta

from sqlalchemy import select

from labsys.bookings import service as bookings
from labsys.bookings.models import Booking
from labsys.bookings.rules import Plan
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.people.acts import Act
from labsys.processes import service as processes
from labsys.processes.models import Process
from labsys.products.models import Product
from labsys.risk import service as assessments
from labsys.timetable.spans import Span
from tests.support.lab import SmallLab

MIDNIGHT = datetime(2026, 3, 2, tzinfo=UTC)  # a Monday; London keeps UTC then


def at(start: float, end: float) -> Span:
    """From one hour of the day to another."""
    return Span(MIDNIGHT + timedelta(hours=start), MIDNIGHT + timedelta(hours=end))


def until(lab: SmallLab, hour: float) -> None:
    """Let time pass to an hour of the day."""
    lab.now = MIDNIGHT + timedelta(hours=hour)


def assess_products(lab: SmallLab) -> None:
    """Begin an assessment of every product there is, as supplied."""
    assessments.assess_products(
        lab.act("technician"), product_ids=list(lab.session.execute(select(Product.id)).scalars()), title="Making up"
    )


def teach_process(lab: SmallLab, kind: SolutionKind) -> Process:
    process = processes.add_process(
        lab.act("technician"),
        name=f"Film in {kind}",
        material=Material.FILM,
        note="",
        steps=[processes.StepEntry(name="Step", product_id=lab.ids[f"product {kind}"], water_parts_milli=4_000)],
    )
    assessments.assess_process(lab.act("technician"), process_id=process.id)
    return process


def book_class(lab: SmallLab, span: Span, *, name: str = "Beginners") -> Booking:
    return bookings.book_class(
        lab.act("instructor"),
        person_id=lab.ids["instructor"],
        station_id=lab.ids["Enlarger"],
        span=span,
        units=3,
        class_name=name,
        plan=Plan(),
    )


def arrive(lab: SmallLab, booking: Booking) -> None:
    bookings.arrive(Act(lab.session, by=lab.person("instructor"), now=lab.now), booking_id=booking.id)
