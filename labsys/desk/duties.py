"""What is due: what it is about, why, and the one act that helps, for those whom it concerns."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

from flask import url_for

from labsys.baths.cards import BathCard
from labsys.baths.models import Bath
from labsys.bookings.rules import EARLIEST_ARRIVAL
from labsys.chemistry.life import State
from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.desk.expected import Expected
from labsys.desk.queries import LabToday
from labsys.desk.safety_duties import of_assessments, of_matter
from labsys.inductions.rules import InductionState, Missing, day_in_words
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.quantities import show_volume
from labsys.timetable.local_time import clock_words, to_local
from labsys.waste.models import WasteContainer

NEARLY_FULL = 0.9

_URGENCY_OF = {State.EXHAUSTED: Urgency.NOW, State.NEAR_ITS_END: Urgency.SOON, State.NOT_KNOWN: Urgency.LATER}


def due(found: LabToday, cards: list[BathCard], *, person: Person, now: datetime, zone: ZoneInfo) -> list[Duty]:
    """Everything that is due and concerns a person, the most urgent first; the act only where they may do it."""
    everything = [
        *_own_inductions(found),
        *_bath_duties(cards),
        *(one for expected in found.expected for one in _about(expected, person=person, now=now, zone=zone)),
        *_container_duties(found.containers),
        *_mail(found),
        *(of_matter(one) for one in found.matters),
        *of_assessments(found.assessments, person=person, today=to_local(now, zone=zone).date()),
    ]
    shown = [
        one if one.needed is None or may(person, one.needed) else replace(one, act=None)
        for one in everything
        if _concerns(one, person)
    ]
    return sorted(shown, key=lambda one: one.urgency)


def is_nearly_full(container: WasteContainer) -> bool:
    return container.vessel.share >= NEARLY_FULL


def needs_somebody(cards: Iterable[BathCard]) -> int:
    """How many baths are used up, near their end, off or waiting to be dumped."""
    return sum(one.urgency < Urgency.LATER for one in _bath_duties(list(cards)))


def _concerns(duty: Duty, person: Person) -> bool:
    """Whoever can do it sees it, and whoever oversees the lab sees all."""
    return (
        duty.needed is None
        or may(person, duty.needed)
        or (duty.also is not None and may(person, duty.also))
        or may(person, Permission.SEE_RECORD)
    )


# People


def _own_inductions(found: LabToday) -> Iterator[Duty]:
    if found.to_confirm:
        href = url_for("inductions.index")
        signed = "1 sign-off counts" if found.to_confirm == 1 else f"{found.to_confirm} sign-offs count"
        yield Duty(
            urgency=Urgency.YOURS,
            what="Your inductions",
            code="",
            href=href,
            why=f"{signed} for you once you confirm",
            act=OfferedAct("Confirm", href, alone="Confirm what you were taught"),
        )


def _about(one: Expected, *, person: Person, now: datetime, zone: ZoneInfo) -> Iterator[Duty]:
    """What somebody who is booked today lacks, and what they are about to lack."""
    missing = [lack for lack in one.missing if not (one.is_viewer and lack.standing is InductionState.WAITING)]
    if missing:
        yield _may_not_start(one, missing, person=person, now=now, zone=zone)
    if one.lapses:
        lapses = "; ".join(
            f"{lapse.name} on {day_in_words(lapse.lapses_at, at=now, zone=zone)}" for lapse in one.lapses
        )
        yield Duty(
            urgency=Urgency.LATER,
            what="Your inductions" if one.is_viewer else one.name,
            code="",
            href=url_for("inductions.person", person_id=one.person_id),
            why=f"Lapses soon: {lapses}",
            act=_way_to_repeat(one, person=person),
        )


def _may_not_start(one: Expected, missing: list[Missing], *, person: Person, now: datetime, zone: ZoneInfo) -> Duty:
    """To the person everything, with how to get it; to others only what is missing."""
    starts = clock_words(one.starts_at, zone=zone)
    href = url_for("bookings.show", booking_id=one.booking_id)
    if one.is_viewer:
        why = " ".join(["You may not start yet.", *(lack.sentence for lack in missing)])
        act = OfferedAct("See how to get it", url_for("inductions.index"), alone="What you still need")
        return Duty(Urgency.YOURS, f"Your booking at {starts}", "", href, why, act)
    return Duty(
        urgency=Urgency.NOW if now >= one.starts_at - EARLIEST_ARRIVAL else Urgency.SOON,
        what=one.name,
        code="",
        href=href,
        why=f"Booked at {starts}, may not start yet. Missing: {', '.join(_neutral(lack) for lack in missing)}",
        act=_way_to_help(one, missing, person=person),
    )


def _neutral(lack: Missing) -> str:
    """What is missing, without why: that is between the person and who taught them."""
    return (
        f"{lack.name}, which waits for their own confirmation" if lack.standing is InductionState.WAITING else lack.name
    )


def _way_to_help(one: Expected, missing: list[Missing], *, person: Person) -> OfferedAct:
    if not may(person, Permission.SIGN_OFF):
        return OfferedAct("See what they hold", url_for("inductions.person", person_id=one.person_id))
    to_teach = [lack.induction_id for lack in missing if lack.standing is not InductionState.WAITING]
    if not to_teach:
        return OfferedAct("Confirm by a signed sheet", url_for("inductions.waiting"))
    return OfferedAct("Sign off", url_for("inductions.sign_off", person=one.person_id, induction=to_teach))


def _way_to_repeat(one: Expected, *, person: Person) -> OfferedAct:
    if one.is_viewer:
        return OfferedAct("See how to repeat it", url_for("inductions.show", induction_id=one.lapses[0].induction_id))
    if may(person, Permission.SIGN_OFF):
        lapsing = [lapse.induction_id for lapse in one.lapses]
        return OfferedAct("Sign off again", url_for("inductions.sign_off", person=one.person_id, induction=lapsing))
    return OfferedAct("See what they hold", url_for("inductions.person", person_id=one.person_id))


# Baths


def _bath_duties(cards: list[BathCard]) -> Iterator[Duty]:
    for one in cards:
        bath, state = one.bath, one.life.state
        if bath.is_in_service and state in _URGENCY_OF:
            yield _bath_duty(one, urgency=_URGENCY_OF[state], why=one.state_words, act=_remedy(one, cards))
        elif bath.is_spare and state is State.EXHAUSTED:
            yield _bath_duty(one, urgency=Urgency.SOON, why="A spare that went off unused", act=_dump(bath))
        elif not bath.is_in_service and not bath.is_spare:
            yield _bath_duty(one, urgency=Urgency.SOON, why="Out of service, waits to be dumped", act=_dump(bath))


def _bath_duty(one: BathCard, *, urgency: Urgency, why: str, act: OfferedAct) -> Duty:
    return Duty(
        urgency=urgency,
        what=one.bath.name,
        code=one.bath.code,
        href=url_for("baths.show", bath_id=one.bath.id),
        why=why,
        act=act,
        needed=Permission.KEEP_BATHS,
    )


def _remedy(one: BathCard, cards: list[BathCard]) -> OfferedAct:
    """What helps a bath that is used up or soon will be: its spare where there is a good one, else a new one."""
    bath = one.bath
    if one.life.state is State.NOT_KNOWN:
        return OfferedAct("See what is missing", url_for("baths.show", bath_id=bath.id))
    spare = next(
        (
            other.bath
            for other in cards
            if other.bath.is_spare
            and other.life.state is not State.EXHAUSTED
            and (other.bath.line_id, other.bath.place) == (bath.line_id, bath.place)
        ),
        None,
    )
    if spare:
        href = url_for("baths.show", bath_id=spare.id)
        return OfferedAct(f"Spare {spare.code}", href, alone=f"{bath.name}: spare {spare.code}")
    href = url_for("baths.mix", product_id=bath.product_id, line_id=bath.line_id)
    return OfferedAct("Mix a new one", href, alone=f"{bath.name}: mix a new one")


def _dump(bath: Bath) -> OfferedAct:
    return OfferedAct("Dump it", url_for("baths.dump", bath_id=bath.id), alone=f"{bath.name}: dump it")


# Waste, mail, the chemical store


def _container_duties(containers: list[WasteContainer]) -> Iterator[Duty]:
    for one in containers:
        href = url_for("waste.container", container_id=one.id)
        if one.quarantine:
            act = OfferedAct("See what to do", href, alone=f"{one.label} is in quarantine")
            yield _container_duty(one, Urgency.NOW, f"In quarantine: {one.quarantine.reason}", act)
        elif is_nearly_full(one):
            held = f"{show_volume(one.vessel.level)} of {show_volume(one.vessel.capacity)}"
            act = OfferedAct("Hand over waste", url_for("waste.collect"))
            yield _container_duty(one, Urgency.SOON, f"Nearly full: {held}", act)


def _container_duty(one: WasteContainer, urgency: Urgency, why: str, act: OfferedAct) -> Duty:
    return Duty(
        urgency=urgency,
        what=one.stream.name,
        code=one.label,
        href=url_for("waste.container", container_id=one.id),
        why=why,
        act=act,
        needed=Permission.KEEP_WASTE,
    )


def _mail(found: LabToday) -> Iterator[Duty]:
    if count := found.mail_needs_somebody:
        href = url_for("mail.index")
        yield Duty(
            urgency=Urgency.SOON,
            what="Mail",
            code="",
            href=href,
            why=f"{count} message{'s' if count > 1 else ''} not sent; somebody has to decide",
            act=OfferedAct("See the outbox", href),
            needed=Permission.SEE_MAIL,
        )
