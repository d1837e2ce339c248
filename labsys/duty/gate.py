"""The one answer about being alone: asked before a booking, at its beginning, and by acts at the baths."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from labsys.bookings import supervision
from labsys.bookings.conditions import Asked, Occasion
from labsys.bookings.models import Booking
from labsys.database import DbSession
from labsys.duty import dangers, queries, rules
from labsys.duty.models import AloneRule
from labsys.duty.queries import In
from labsys.duty.rules import CompanyRefused, Needed, There, Work
from labsys.membership.ages import is_under_18
from labsys.people.acts import Act
from labsys.places import queries as places
from labsys.places.models import RoomKind, Station
from labsys.processes import queries as processes
from labsys.processes.models import Process
from labsys.products.models import Product
from labsys.records import queries as records
from labsys.restrictions.rules import NOT_ON_A_SHARED_SCREEN
from labsys.timetable.local_time import to_local
from labsys.timetable.spans import Span


@dataclass(frozen=True)
class Company:
    """How a stretch of somebody's time stands: when they would be alone, why that is refused, or on what condition."""

    alone: tuple[Span, ...] = ()
    hours: str = ""
    refused: str = ""
    condition: str = ""


def require_company(act: Act, asked: Asked) -> None:
    """A condition of bookings: raise CompanyRefused where those needed would not be there, or somebody may not be
    alone. Planned, who is booked or on duty counts; at the beginning, who is known to be in the building.
    """
    if asked.occasion is Occasion.WAIT:
        return  # who else will be there is not known yet: asked when a place is offered
    station_ids = [station.id for station in asked.stations]
    process_id = asked.process.id if asked.process else None
    needed = queries.needed_for(act.session, station_ids=station_ids, process_id=process_id, at=asked.start)
    if asked.class_name and not needed:
        return  # a class is company to itself
    for span in asked.spans:
        coming = _supervisor_who_comes(act, asked, span)
        company = _company(act.session, asked, needed, span=span, now=act.now, coming=coming)
        if company.refused:
            day = to_local(span.start, zone=records.zone(act.session)).date()
            tells_of_age = act.visit is not None and is_under_18(act.session, asked.person.id, on=day)
            raise CompanyRefused(NOT_ON_A_SHARED_SCREEN if tells_of_age else company.refused, field="starts")


def company_of(session: DbSession, booking: Booking, *, now: datetime) -> Company:
    """How a booking stands that is still to come or runs: for its page. Of several processes what stops one counts."""
    station = places.station_or_raise(session, booking.station_id)
    stations = [station, *(row.brings for row in station.brings)]
    process = processes.process_or_raise(session, booking.process_id) if booking.process_id else None
    span = Span(booking.starts_at, booking.ends_at)
    row = booking.supervision
    coming = row.supervisor_id if row is not None and row.comes else None
    station_ids = [each.id for each in stations]
    stand = []
    for each in (process, *booking.also):
        asked = Asked(
            Occasion.CHANGE, booking.person, stations, each, [span], booking.units, booking.class_name, booking
        )
        process_id = each.id if each else None
        needed = queries.needed_for(session, station_ids=station_ids, process_id=process_id, at=span.start)
        stand.append(_company(session, asked, needed, span=span, now=now, coming=coming))
    return next((company for company in stand if company.refused), stand[0])


def who_else(act: Act, booking: Booking) -> tuple[str, str]:
    """How many others would be in the building meanwhile: a line of what a booking would come to."""
    span = Span(booking.starts_at, booking.ends_at)
    there = queries.there_in(act.session, span=span, person_id=booking.person_id, now=act.now, but_for=booking.id)
    company = company_of(act.session, booking, now=act.now)
    numbers = [rules.count(present, own_heads=0) for _, present in rules.at_once(span, there)]
    return "Who else is in", " ".join(filter(None, [rules.others_in_words(numbers), company.condition]))


def why_stopped(session: DbSession, alone: In, *, now: datetime) -> str:
    """Why the work of whoever is alone in the building stops; an empty text where it may go on."""
    if alone.person_id is None:
        return ""
    booking = alone.booking
    if booking is None:
        return _why_not_alone(session, alone.person_id, Work(), now=now)
    process = processes.process_or_raise(session, booking.process_id) if booking.process_id else None
    stations = [places.station_or_raise(session, booking.station_id)]
    return _why_not_alone(session, alone.person_id, _work(session, process, stations), now=now)


def require_not_stopped(act: Act, *, handled: Iterable[tuple[Product, int | None]]) -> None:
    """Step: raise CompanyRefused where whoever acts is known to be alone in the building, and may not do this alone.

    `handled` are products with the dilution they are handled in, None for the product as supplied.
    """
    alone = queries.the_one_alone(queries.who_is_in(act.session))
    if alone is None or alone.person_id != act.actor.id:
        return
    found = tuple(reason for product, milli in handled for reason in dangers.of_product(product, dilutions=[milli]))
    if why := _why_not_alone(act.session, act.actor.id, Work(found), now=act.now):
        raise CompanyRefused(
            f"Stop: you are alone in the building. {why} Go on once somebody else is here and signed in."
        )


def _company(
    session: DbSession, asked: Asked, needed: Sequence[Needed], *, span: Span, now: datetime, coming: int | None
) -> Company:
    """`coming` is who answers for somebody under 18 there, and needs no place of their own."""
    zone, person = records.zone(session), asked.person
    begins = asked.occasion is Occasion.BEGIN
    booking_id = asked.booking.id if asked.booking is not None else None
    there: Sequence[There] = (
        queries.there_now(session, person_id=person.id, span=span)
        if begins
        else queries.there_in(session, span=span, person_id=person.id, now=now, but_for=booking_id)
    )
    if coming is not None and not begins:
        there = [*there, There(span, coming)]
    own_heads = asked.units + 1 if asked.class_name else 1
    for each in needed:
        why = rules.why_understaffed(each, span=span, there=there, person_id=person.id, own_heads=own_heads, zone=zone)
        if why:
            return Company(refused=f"{why} {_who_is_missed(begins)}")
    parts = [] if asked.class_name else rules.uncovered(span, [one.span for one in there])
    if not parts:
        return Company()
    hours = "now" if begins else rules.hours_alone(parts, zone=zone)
    why = _why_not_alone(session, person.id, _work(session, asked.process, asked.stations), now=span.start)
    nobody = "Nobody else is known to be in the building." if begins else f"Nobody else is booked or on duty {hours}."
    if why:
        return Company(tuple(parts), hours, refused=f"{nobody} {why} {_who_is_missed(begins)}")
    return Company(tuple(parts), hours, condition=_condition(session, nobody))


def _supervisor_who_comes(act: Act, asked: Asked, span: Span) -> int | None:
    """Who answers for somebody under 18 and says that they come, or did so for this very time."""
    booking = asked.booking
    if asked.plan is None:
        row = booking.supervision if booking is not None else None
        return row.supervisor_id if row is not None and row.comes else None
    is_moved = booking is None or span != Span(booking.starts_at, booking.ends_at)
    return asked.plan.supervisor_id if supervision.comes(act, asked.plan, booking, is_moved=is_moved) else None


def _who_is_missed(begins: bool) -> str:
    return "Begin once they are here and signed in." if begins else "Choose a time when they are there."


def _condition(session: DbSession, nobody: str) -> str:
    settings = queries.settings(session)
    if settings.alone is AloneRule.ADULTS:
        return f"{nobody} That is allowed here, as nothing dangerous is done."
    return (
        f"{nobody} That is allowed with a call-in: you are asked every {settings.ask_every_minutes} minutes whether "
        "you are all right."
    )


def _why_not_alone(session: DbSession, person_id: int, work: Work, *, now: datetime) -> str:
    day = to_local(now, zone=records.zone(session)).date()
    why = rules.why_never_alone(work, is_young=is_under_18(session, person_id, on=day))
    if why:
        return why
    return "Nobody works alone in this lab." if queries.settings(session).alone is AloneRule.NEVER else ""


def _work(session: DbSession, process: Process | None, stations: Sequence[Station]) -> Work:
    """What of this work nobody does alone; of work not decided yet, what any could come to, unless on the dry side."""
    served = dangers.products_served(session)
    if process is not None:
        return Work(dangers.of_process(process, served=served))
    if {station.room.kind for station in stations} == {RoomKind.DRY_SIDE}:
        return Work()
    found = [reason for each in queries.every_process(session) for reason in dangers.of_process(each, served=served)]
    return Work(tuple(dict.fromkeys(found)), is_decided=False)
