"""What acts and pages read of duty: the lab's choices, who will be there, who is in, open call-ins and alerts."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import cast

from flask import Flask, current_app, has_app_context
from sqlalchemy import and_, or_, select
from sqlalchemy.orm import joinedload, selectinload

from labsys.bookings.models import Booking, Supervision
from labsys.competences import queries as competences
from labsys.competences.models import Competence
from labsys.database import DbSession
from labsys.duty import rules
from labsys.duty.models import Alert, AlertContact, CallIn, DutyRules, Presence, StaffingRule, Telling
from labsys.duty.rota import rota
from labsys.duty.rules import Needed, Settings, There
from labsys.inductions import gate
from labsys.inductions.rules import standings
from labsys.people.models import Person, PersonRole, Role
from labsys.people.permissions import Permission
from labsys.people.row_kinds import Page, RowKind
from labsys.processes.models import Process, ProcessStep
from labsys.products.models import Product
from labsys.records import queries as records
from labsys.records.queries import get_or_raise
from labsys.timetable.local_time import to_local
from labsys.timetable.spans import Span

_ALL_KNOWN = datetime.max.replace(tzinfo=UTC)  # whatever was entered counts, also of a time that is past
_CLASS_HEADS = "labsys-heads-of-classes"
LEAST_OF_A_CLASS = 2  # who teaches it and somebody who is taught

ClassHeads = Callable[[DbSession, Collection[int]], Mapping[int, int]]


@dataclass(frozen=True)
class In:
    """Somebody known to be in the building: by a booking they arrived on, or because they, or staff, said so."""

    person_id: int | None
    heads: int
    since: datetime
    booking: Booking | None = None


def register_class_heads(app: Flask, heads: ClassHeads) -> None:
    """Let the application know who is asked how many people of a class are in: a room below this one."""
    app.extensions[_CLASS_HEADS] = heads


def settings(session: DbSession) -> Settings:
    row = session.get(DutyRules, 1)
    if row is None:
        return Settings()
    return Settings(row.alone, row.ask_every_minutes, row.answer_within_minutes, row.overdue_after_minutes)


def has_chosen(session: DbSession) -> bool:
    """Whether the lab has said what it does about working alone."""
    return session.get(DutyRules, 1) is not None


def there_in(
    session: DbSession, *, span: Span, person_id: int, now: datetime, but_for: int | None = None
) -> list[There]:
    """Who will be in the building in a span besides a person: booked, or on duty by the rota.

    `but_for` is a booking left out: the one that is changed.
    """
    columns = Booking.id, Booking.person_id, Booking.class_name, Booking.units
    query = select(*columns, Booking.starts_at, Booking.ends_at, Booking.left_at).where(
        Booking.starts_at < span.end,
        Booking.ends_at > span.start,
        Booking.cancelled_at.is_(None),
        Booking.missed_at.is_(None),
        or_(Booking.left_at.is_(None), Booking.left_at > span.start),
        or_(Booking.person_id != person_id, Booking.class_name != ""),
    )
    booked = [
        There(
            Span(booking.starts_at, min(booking.ends_at, booking.left_at or booking.ends_at)),
            booking.person_id,
            heads=booking.units + 1 if booking.class_name else 1,
        )
        for booking in session.execute(query)
        if booking.id != but_for and (booking.left_at or booking.ends_at) > booking.starts_at
    ]
    coming = select(Booking.starts_at, Booking.ends_at, Supervision.supervisor_id).join(Supervision.booking)
    coming = coming.where(
        Supervision.comes,
        Supervision.supervisor_id.is_not(None),
        Supervision.supervisor_id != person_id,
        Booking.starts_at < span.end,
        Booking.ends_at > span.start,
        Booking.cancelled_at.is_(None),
        Booking.missed_at.is_(None),
    )
    supervise = [There(Span(start, end), other_id) for start, end, other_id in session.execute(coming)]
    on_duty = [
        There(opening.span, other_id, is_staff=True)
        for opening in rota(session, within=span, zone=records.zone(session))
        for other_id in sorted(opening.in_the_lab - {person_id})
    ]
    return [*booked, *supervise, *on_duty]


def bookings_beside(session: DbSession, span: Span, *, but_for: int, after: datetime) -> list[Booking]:
    """Bookings of others than a person that meet a span and begin later than an instant; classes are never alone."""
    query = select(Booking).where(
        Booking.starts_at < span.end,
        Booking.ends_at > span.start,
        Booking.starts_at > after,
        Booking.person_id != but_for,
        Booking.cancelled_at.is_(None),
        Booking.missed_at.is_(None),
        Booking.class_name == "",
    )
    return list(session.execute(query.options(joinedload(Booking.person)).order_by(Booking.id)).scalars())


def is_anybody_beside(session: DbSession, spans: Sequence[Span], *, after: datetime) -> bool:
    """Whether anybody is booked between the first and the last of these, and begins later than an instant."""
    query = select(Booking.id).where(
        Booking.starts_at < max(span.end for span in spans),
        Booking.ends_at > min(span.start for span in spans),
        Booking.starts_at > after,
        Booking.cancelled_at.is_(None),
        Booking.missed_at.is_(None),
        Booking.class_name == "",
    )
    return session.execute(query.limit(1)).first() is not None


def who_is_in(session: DbSession) -> list[In]:
    """Everybody known to be in the building now, one entry a booking or a presence."""
    here = select(Booking).where(
        Booking.arrived_at.is_not(None), Booking.left_at.is_(None), Booking.cancelled_at.is_(None)
    )
    bookings = session.execute(here.options(joinedload(Booking.process)).order_by(Booking.id)).scalars().all()
    heads = _heads_of_classes(session, [booking.id for booking in bookings if booking.class_name])
    present = session.execute(select(Presence).where(Presence.left_at.is_(None)).order_by(Presence.id)).scalars()
    return [
        *(
            In(booking.person_id, heads.get(booking.id, 1), cast(datetime, booking.arrived_at), booking)
            for booking in bookings
        ),
        *(In(presence.person_id, 1, presence.came_at) for presence in present),
        *(In(row.supervisor_id, 1, row.arrived_at) for row in supervisors_here(session) if row.arrived_at),
    ]


def supervisors_here(session: DbSession) -> list[Supervision]:
    """Supervisors who came for a booking that runs, without a place of their own."""
    here = Supervision.arrived_at.is_not(None), Supervision.left_at.is_(None), Supervision.supervisor_id.is_not(None)
    runs = Booking.left_at.is_(None), Booking.cancelled_at.is_(None)
    query = select(Supervision).join(Supervision.booking).where(*here, *runs)
    whole = joinedload(Supervision.supervisor), joinedload(Supervision.booking)
    return list(session.execute(query.options(*whole).order_by(Supervision.id)).scalars())


def there_now(session: DbSession, *, person_id: int, span: Span) -> list[There]:
    """The same as of now, besides a person: who is known to be in, and for the span asked about stays so."""
    on_duty = _on_duty(session, span)
    return [
        There(span, one.person_id, heads=one.heads, is_staff=one.person_id in on_duty)
        for one in who_is_in(session)
        if one.person_id != person_id or one.heads > 1
    ]


def _on_duty(session: DbSession, span: Span) -> set[int]:
    openings = rota(session, within=span, zone=records.zone(session))
    return set().union(*(opening.in_the_lab for opening in openings)) if openings else set()


def _heads_of_classes(session: DbSession, booking_ids: Sequence[int]) -> Mapping[int, int]:
    known: Mapping[int, int] = {}
    if booking_ids and has_app_context() and _CLASS_HEADS in current_app.extensions:
        known = cast(ClassHeads, current_app.extensions[_CLASS_HEADS])(session, booking_ids)
    return {booking_id: known.get(booking_id, LEAST_OF_A_CLASS) for booking_id in booking_ids}


def the_one_alone(present: Sequence[In]) -> In | None:
    """Who is the only one in the building, where there is one; a guest without an account cannot be asked."""
    someone = next((one for one in present if one.booking is not None), present[0] if present else None)
    if someone is None or someone.person_id is None:
        return None
    is_alone = all(one.person_id == someone.person_id and one.heads == 1 for one in present)
    return someone if is_alone else None


def needed_for(
    session: DbSession, *, station_ids: Collection[int], process_id: int | None, at: datetime
) -> list[Needed]:
    """What places and a process ask for of those present."""
    query = select(StaffingRule).options(
        joinedload(StaffingRule.station), joinedload(StaffingRule.process), joinedload(StaffingRule.induction)
    )
    subject = or_(StaffingRule.station_id.in_(station_ids), StaffingRule.process_id == process_id)
    return [_needed(session, rule, at=at) for rule in session.execute(query.where(subject)).scalars()]


def staffing_rules(session: DbSession) -> list[StaffingRule]:
    query = select(StaffingRule).options(
        joinedload(StaffingRule.station), joinedload(StaffingRule.process), joinedload(StaffingRule.induction)
    )
    return list(session.execute(query.order_by(StaffingRule.id)).scalars())


def _needed(session: DbSession, rule: StaffingRule, *, at: datetime) -> Needed:
    subject = rule.station or rule.process
    ids = frozenset[int]()
    if rule.role is not None:
        ids = _of_role(session, rule.role)
    elif rule.induction is not None:
        ids = _holders(session, rule.induction.id, at=at)
    elif rule.competence is not None:
        ids = _competent(session, rule.competence, at=at)
    return Needed(subject.name if subject else "", rule.least_people, needed_words(rule), ids, rule.staffed_only)


def needed_words(rule: StaffingRule) -> str:
    """Who has to be there, or an empty text where anybody may."""
    if rule.role is not None:
        return rules.role_in_words(rule.role)
    if rule.competence is not None:
        return f"somebody competent for {rule.competence}"
    return f"somebody who holds “{rule.induction.name}”" if rule.induction is not None else ""


def _of_role(session: DbSession, role: Role) -> frozenset[int]:
    query = select(PersonRole.person_id).join(Person).where(PersonRole.role == role, Person.left_at.is_(None))
    return frozenset(session.execute(query).scalars())


def _competent(session: DbSession, competence: Competence, *, at: datetime) -> frozenset[int]:
    """Who holds a competence on the day of an instant, by what is known now."""
    zone = records.zone(session)
    rows = competences.grants(session, competences=[competence], leavers=False)
    held = competences.standings(rows, on=to_local(at, zone=zone).date(), known_at=_ALL_KNOWN, zone=zone)
    return frozenset(person_id for (person_id, _), standing in held.items() if standing.is_current)


def _holders(session: DbSession, induction_id: int, *, at: datetime) -> frozenset[int]:
    people = session.execute(select(Person.id).where(Person.left_at.is_(None))).scalars().all()
    held = standings(
        people,
        induction_ids=[induction_id],
        editions=gate.editions(session, induction_ids=[induction_id]),
        sign_offs=gate.sign_offs(session, person_ids=people, induction_ids=[induction_id]),
        at=at,
    )
    return frozenset(person_id for (person_id, _), standing in held.items() if standing.is_current)


def every_process(session: DbSession) -> list[Process]:
    """Every process with what is entered of its products."""
    product = joinedload(ProcessStep.product)
    whole = selectinload(Process.steps).options(
        product.selectinload(Product.ingredients), product.selectinload(Product.confirmations)
    )
    return list(session.execute(select(Process).options(whole).order_by(Process.name)).scalars())


def open_call_ins(session: DbSession, *, lock: bool = False) -> list[CallIn]:
    query = select(CallIn).where(CallIn.ended_at.is_(None)).options(joinedload(CallIn.person)).order_by(CallIn.id)
    if lock:
        query = query.with_for_update(of=CallIn).execution_options(populate_existing=True)
    return list(session.execute(query).scalars())


def call_in_of(session: DbSession, person_id: int) -> CallIn | None:
    query = select(CallIn).where(CallIn.person_id == person_id, CallIn.ended_at.is_(None))
    return session.execute(query).scalar_one_or_none()


def call_in_or_raise(session: DbSession, call_in_id: int, *, lock: bool = False) -> CallIn:
    return get_or_raise(session, CallIn, call_in_id, "call-in", lock=lock)


def contacts(session: DbSession) -> list[AlertContact]:
    query = select(AlertContact).options(joinedload(AlertContact.person)).order_by(AlertContact.position)
    return list(session.execute(query).scalars())


_WHOLE_ALERT = (selectinload(Alert.tellings).joinedload(Telling.person), joinedload(Alert.answered_by))


def alert_or_raise(session: DbSession, alert_id: int, *, lock: bool = False) -> Alert:
    return get_or_raise(session, Alert, alert_id, "alert", lock=lock, options=_WHOLE_ALERT)


def open_alerts(session: DbSession) -> list[Alert]:
    query = select(Alert).where(Alert.answered_at.is_(None), Alert.ended_at.is_(None)).options(*_WHOLE_ALERT)
    return list(session.execute(query.order_by(Alert.id)).scalars())


def latest_alerts(session: DbSession, *, limit: int) -> list[Alert]:
    query = select(Alert).where(and_(or_(Alert.answered_at.is_not(None), Alert.ended_at.is_not(None))))
    return list(session.execute(query.options(*_WHOLE_ALERT).order_by(Alert.id.desc()).limit(limit)).scalars())


ALERT = RowKind(
    table=Alert, called="alert", many="alerts", pages=(Page("duty.alert", "alert_id", Permission.BOOK_FOR_OTHERS),)
)
