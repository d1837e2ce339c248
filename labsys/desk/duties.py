"""What is due: what it is about, why, and the one act that helps, for those whom it concerns."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from flask import url_for

from labsys.baths.cards import BathCard
from labsys.baths.models import Bath
from labsys.baths.queries import BATH
from labsys.bookings.rules import EARLIEST_ARRIVAL
from labsys.chemistry.life import State
from labsys.desk.competences import of_competences
from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.desk.equipment_duties import of_equipment
from labsys.desk.expected import Expected
from labsys.desk.handover_duties import of_handover
from labsys.desk.member_duties import of_memberships, of_suspended
from labsys.desk.people_duties import OF_PEOPLE, of_people
from labsys.desk.queries import LabToday
from labsys.desk.safety_duties import asks_less, of_assessments, of_matter
from labsys.inductions.rules import InductionState, Missing, day_in_words, not_decided
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.quantities import counted, show_volume
from labsys.timetable.local_time import clock_words, day_words, to_local
from labsys.waste.contents import Contents
from labsys.waste.leaving import Stays, why_it_stays
from labsys.waste.models import Quarantine, WasteContainer
from labsys.waste.queries import CONTAINER
from labsys.waste.rules import Fullness, fullness

_URGENCY_OF = {State.EXHAUSTED: Urgency.NOW, State.NEAR_ITS_END: Urgency.SOON, State.NOT_KNOWN: Urgency.LATER}


def due(lab: LabToday, cards: list[BathCard], *, person: Person, now: datetime, zone: ZoneInfo) -> list[Duty]:
    """Everything that is due and concerns a person, the most urgent first; the act only where they may do it."""
    everything = [
        *of_people(lab, person=person, now=now),
        *_own_inductions(lab),
        *of_competences(lab.competences, person=person),
        *bath_duties(cards),
        *(_changes_over(cards) if lab.competences.may_change_over and not may(person, Permission.KEEP_BATHS) else ()),
        *_tests_due(cards),
        *(duty for expected in lab.expected for duty in _about(expected, person=person, now=now, zone=zone)),
        *container_duties(lab.containers, today=to_local(now, zone=zone).date()),
        *of_equipment(lab, person=person, now=now),
        *of_handover(lab, person=person),
        *_mail(lab),
        *of_memberships(lab.admits),
        *of_suspended(lab.board.bookings),
        *(of_matter(matter) for matter in lab.matters if matter.topic not in OF_PEOPLE),
        *(asks_less(less) for less in lab.asks_less),
        *of_assessments(lab.assessments, person=person, today=to_local(now, zone=zone).date()),
    ]
    shown = [
        duty if duty.needed is None or may(person, duty.needed) else replace(duty, act=None)
        for duty in everything
        if _concerns(duty, person)
    ]
    return sorted(shown, key=lambda duty: duty.urgency)


def is_nearly_full(container: WasteContainer) -> bool:
    vessel = container.vessel
    return fullness(level_ul=vessel.level, capacity_ul=vessel.capacity) in (Fullness.NEARLY_FULL, Fullness.FULL)


def needs_somebody(cards: Iterable[BathCard]) -> int:
    """How many baths are used up, near their end, off or waiting to be dumped."""
    return sum(duty.urgency < Urgency.LATER for duty in bath_duties(list(cards)))


def _concerns(duty: Duty, person: Person) -> bool:
    """Whoever can do it sees it, and whoever oversees the lab sees all."""
    concerned = (duty.needed, duty.also, Permission.SEE_RECORD)
    return duty.needed is None or any(may(person, permission) for permission in concerned if permission)


# People


def _own_inductions(lab: LabToday) -> Iterator[Duty]:
    if count := lab.to_confirm:
        why = f"{count} sign-offs count for you once you confirm"
        if count == 1:
            why = "1 sign-off counts for you once you confirm"
        href = url_for("inductions.index")
        act = OfferedAct("Confirm", href, alone="Confirm what you were taught")
        yield Duty(Urgency.YOURS, "Your inductions", href, why, act)


def _about(expected: Expected, *, person: Person, now: datetime, zone: ZoneInfo) -> Iterator[Duty]:
    """What somebody who is booked today lacks, and what they are about to lack."""
    is_own = expected.is_viewer
    missing = [lack for lack in expected.missing if not (is_own and lack.standing is InductionState.WAITING)]
    if missing:
        yield _may_not_start(expected, missing, person=person, now=now, zone=zone)
    if expected.lapses:
        lapses = "; ".join(
            f"{lapse.name} on {day_in_words(lapse.lapses_at, at=now, zone=zone)}" for lapse in expected.lapses
        )
        yield Duty(
            urgency=Urgency.LATER,
            what="Your inductions" if is_own else expected.name,
            href=url_for("inductions.person", person_id=expected.person_id),
            why=f"Lapses soon: {lapses}",
            act=_way_to_repeat(expected, person=person),
        )


def _may_not_start(
    expected: Expected, missing: list[Missing], *, person: Person, now: datetime, zone: ZoneInfo
) -> Duty:
    """To the person everything, with how to get it; to others only what is missing."""
    starts = clock_words(expected.starts_at, zone=zone)
    href = url_for("bookings.show", booking_id=expected.booking_id)
    if expected.is_viewer:
        stopped = "You are at work and may not go on." if expected.is_here else "You may not start yet."
        why = " ".join([stopped, *(lack.sentence for lack in missing), *not_decided(missing)])
        act = OfferedAct("See how to get it", url_for("inductions.index"), alone="What you still need")
        return Duty(Urgency.YOURS, f"Your booking at {starts}", href, why, act)
    stopped = "may not go on" if expected.is_here else "may not start yet"
    begun = f"At work, booked at {starts}" if expected.is_here else f"Booked at {starts}"
    return Duty(
        urgency=Urgency.NOW if now >= expected.starts_at - EARLIEST_ARRIVAL else Urgency.SOON,
        what=expected.name,
        href=href,
        why=f"{begun}, {stopped}. Missing: {', '.join(_neutral(lack) for lack in missing)}",
        act=_way_to_help(expected, missing, person=person),
    )


def _neutral(lack: Missing) -> str:
    """What is missing, without why: that is between the person and who taught them."""
    confirm = ", which waits for their own confirmation" if lack.standing is InductionState.WAITING else ""
    return f"{lack.name}{confirm}{'' if lack.is_decided else ' (what they will do is not decided yet)'}"


def _way_to_help(expected: Expected, missing: list[Missing], *, person: Person) -> OfferedAct:
    if not may(person, Permission.SIGN_OFF):
        return OfferedAct("See what they hold", url_for("inductions.person", person_id=expected.person_id))
    to_teach = [lack.induction_id for lack in missing if lack.standing is not InductionState.WAITING]
    if not to_teach:
        return OfferedAct("Confirm by a signed sheet", url_for("inductions.waiting"))
    return OfferedAct("Sign off", url_for("inductions.sign_off", person=expected.person_id, induction=to_teach))


def _way_to_repeat(expected: Expected, *, person: Person) -> OfferedAct:
    lapsing, person_id = [lapse.induction_id for lapse in expected.lapses], expected.person_id
    if expected.is_viewer:
        return OfferedAct("See how to repeat it", url_for("inductions.show", induction_id=lapsing[0]))
    if may(person, Permission.SIGN_OFF):
        return OfferedAct("Sign off again", url_for("inductions.sign_off", person=person_id, induction=lapsing))
    return OfferedAct("See what they hold", url_for("inductions.person", person_id=person_id))


# Baths


def bath_duties(cards: list[BathCard]) -> Iterator[Duty]:
    for card in cards:
        bath, state = card.bath, card.life.state
        if bath.is_in_service and state in _URGENCY_OF:
            urgency = Urgency.SOON if card.life.facts.lacks_second_bath else _URGENCY_OF[state]
            why, act = card.state_words, _remedy(card, cards)
        elif bath.is_spare and state is State.EXHAUSTED:
            urgency, why, act = Urgency.SOON, "A spare that went off unused", _dump(bath)
        elif bath.is_stock and state is State.EXHAUSTED:
            urgency, why, act = Urgency.SOON, "A stock solution that stood too long", _dump(bath)
        elif bath.is_waiting:
            urgency, why, act = Urgency.SOON, "Out of service, waits to be dumped", _dump(bath)
        else:
            continue
        yield Duty(urgency, bath.name, BATH.address(bath.id), why, act, bath.code, needed=Permission.KEEP_BATHS)


def _changes_over(cards: list[BathCard]) -> Iterator[Duty]:
    """Exhausted baths, for whoever does not keep them and has shown that they can change one over."""
    for card in cards:
        bath = card.bath
        if bath.is_in_service and card.life.state is State.EXHAUSTED:
            href = url_for("baths.change_bath_over", bath_id=bath.id)
            act = OfferedAct("Change it over", href, alone=f"{bath.name}: change it over")
            yield Duty(Urgency.NOW, bath.name, BATH.address(bath.id), card.state_words, act, bath.code)


def _tests_due(cards: list[BathCard]) -> Iterator[Duty]:
    for card in cards:
        if card.due and card.life.state is not State.EXHAUSTED:  # that one is to go, whatever a test would say
            bath, kind = card.bath, card.due[0].kind
            href = url_for("baths.check", bath_id=bath.id, kind=kind)
            act = OfferedAct("Test it", href, alone=f"{bath.name}: test it")
            why = f"Test due: {'; '.join(test.words for test in card.due)}"
            page = BATH.address(bath.id)
            yield Duty(Urgency.SOON, bath.name, page, why, act, bath.code, needed=Permission.TEST_BATH)


def _remedy(card: BathCard, cards: list[BathCard]) -> OfferedAct:
    """What helps a bath that is used up or soon will be: its spare where there is a good one, else a new one."""
    bath = card.bath
    if card.life.facts.lacks_second_bath:
        href = url_for("baths.mix", product_id=bath.product_id, line_id=bath.line_id)
        return OfferedAct("Mix a second fixer", href, alone=f"{bath.name}: mix a second fixer")
    if card.life.state is State.NOT_KNOWN:
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


def container_duties(containers: Iterable[Contents], *, today: date) -> Iterator[Duty]:
    for contents in containers:
        container = contents.container
        if container.quarantine:
            yield _in_quarantine(container, container.quarantine, today=today)
        elif why := _to_leave(container):
            yield _leaving(container, why, why_it_stays(contents))
        elif contents.why_not_known:
            yield _leaving(container, "Nothing goes in", why_it_stays(contents))


def _to_leave(container: WasteContainer) -> str:
    """Why a container is to leave; empty where it may stand."""
    if container.restated:
        return f"Classified anew as {container.code}, waits to leave"
    if is_nearly_full(container):
        vessel = container.vessel
        return f"Nearly full: {show_volume(vessel.level)} of {show_volume(vessel.capacity)}"
    return ""


def _in_quarantine(container: WasteContainer, quarantine: Quarantine, *, today: date) -> Duty:
    href = CONTAINER.address(container.id)
    is_due = quarantine.due_on <= today
    when = "a decision was due on" if is_due else "decide by"
    urgency = Urgency.NOW if is_due or quarantine.gas else Urgency.SOON
    why = f"In quarantine, {when} {day_words(quarantine.due_on)}: {quarantine.reason}"
    act = OfferedAct("See what to do", href, alone=f"{container.label} is in quarantine")
    also = Permission.RELEASE_WASTE
    return Duty(urgency, container.stream.name, href, why, act, container.label, Permission.KEEP_WASTE, also)


def _leaving(container: WasteContainer, why: str, stays: Stays | None) -> Duty:
    """Hand it over; where it may not leave, what has to be done first."""
    href, needed = CONTAINER.address(container.id), Permission.KEEP_WASTE
    if stays is None:
        act = OfferedAct("Hand over waste", url_for("waste.collect", container=container.id))
    elif stays.is_to_be_stated:
        act = OfferedAct("State its hazardous properties", url_for("waste.state", container_id=container.id))
        needed = Permission.RELEASE_WASTE
    else:
        act = OfferedAct("See what to do", href, alone=f"{container.label} cannot leave")
    if stays:
        why = f"{why}. {stays.why}"
    return Duty(Urgency.SOON, container.stream.name, href, why, act, container.label, needed)


def _mail(lab: LabToday) -> Iterator[Duty]:
    if count := lab.mail_needs_somebody:
        why = f"{counted(count, 'message')} not sent; somebody has to decide"
        act = OfferedAct("See the outbox", url_for("mail.index"))
        yield Duty(Urgency.SOON, "Mail", act.href, why, act, needed=Permission.SEE_MAIL)
