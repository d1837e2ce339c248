"""One of everything in the small lab, for walks over all pages."""

from collections.abc import Callable
from datetime import datetime, timedelta

from sqlalchemy import select

from labsys.baths.models import Bath, LateUse, Place
from labsys.baths.recall import service as recalls
from labsys.baths.recall.models import Fault
from labsys.bookings import waiting
from labsys.bookings.models import Wait
from labsys.bookings.rules import Plan
from labsys.calendars import service as calendars
from labsys.calendars.rules import Calendar
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.closing import rules as closing_rules
from labsys.closing import service as closing
from labsys.competences import service as competences
from labsys.competences.models import Competence
from labsys.courses import service as courses
from labsys.courses.dates import Decided
from labsys.courses.models import Student
from labsys.courses.rules import Term
from labsys.database import DbSession
from labsys.desk.verifying import VERIFY
from labsys.devices import service as devices
from labsys.documents.bath_label import BATH_LABEL, OfBath
from labsys.documents.service import issue_document
from labsys.duty import service as duty
from labsys.duty.models import Alert, CallIn
from labsys.equipment import service as equipment
from labsys.equipment.models import CheckKind, EquipmentKind, FaultKind
from labsys.equipment.service import EquipmentFacts, Found
from labsys.handover import service as handover
from labsys.incidents import service as incidents
from labsys.incidents.models import IncidentKind
from labsys.inductions.picturing import add_picture
from labsys.jobs import service as jobs
from labsys.jobs.kinds import File, Made
from labsys.mail import service as mail
from labsys.mail.kinds import BOOKING, Message
from labsys.mail.models import OutgoingMail
from labsys.membership import agreements
from labsys.offline.models import KeptEntry, State
from labsys.people.acts import Act
from labsys.people.roster import Row
from labsys.presence import service as presence
from labsys.records.transactions import transaction
from labsys.risk import actions as assessing
from labsys.risk.models import Action, Assessment
from labsys.store import counting
from labsys.store.quarantine import report_unlabelled
from labsys.store.rules import Counted
from labsys.timetable.spans import Span
from labsys.waste import service as waste
from labsys.waste import sewer
from labsys.waste.models import WasteKind
from labsys.waste.rules import Poured
from tests.support import guests
from tests.support.assessing import approved
from tests.support.film_times import add_film_time
from tests.support.lab import SmallLab
from tests.support.pictures import png
from tests.support.safety import add_sheet, put_on_shelf

Arguments = dict[str, object]
ROLES_WITH_OWN = ("member", "instructor", "technician")


def furnish(lab: SmallLab) -> Callable[[str, str], Arguments]:
    """Put one of everything into the lab. The answer tells the arguments of pages: one's own row, or another's."""
    common, owned = lab.begin(_furnish)

    def arguments(whose: str, role: str) -> Arguments:
        mine = role if role in ROLES_WITH_OWN else "member"
        owner = mine if whose == "own" else next(other for other in ROLES_WITH_OWN if other != mine)
        return {**common, **{name: keys[owner] for name, keys in owned.items()}}

    return arguments


def _equipment(lab: SmallLab, room_id: int) -> Arguments:
    """An eyewash that was run, with a fault that stands."""
    eyewash = equipment.add(
        lab.act("technician"),
        kind=EquipmentKind.EYEWASH,
        facts=EquipmentFacts(name="Eyewash at the door", room_id=room_id),
    )
    for kind in (CheckKind.RUN, CheckKind.INSPECTION):
        equipment.check(
            lab.act("technician"),
            equipment_id=eyewash.id,
            kind=kind,
            happened_on=lab.now.date(),
            found=Found(has_passed=True),
        )
    fault = equipment.report_fault(
        lab.act("member"), kind=FaultKind.OTHER, words="A slow drip", equipment_id=eyewash.id
    )
    note = handover.write(lab.act("technician"), text="The hot tap drips.")
    film = handover.find_film(
        lab.act("technician"), what="One 120", whereabouts="drying cupboard", owner_id=lab.ids["member"], owner_words=""
    )
    return {"equipment_id": eyewash.id, "fault_id": fault.id, "check": "run", "note_id": note.id, "film_id": film.id}


def _furnish(lab: SmallLab) -> tuple[Arguments, dict[str, dict[str, int]]]:
    """One of everything: the arguments of pages that are the same for all, and those by whose row it is."""
    line = lab.mix_film_line()
    container = lab.open_container()
    uses = {role: lab.log(1, role=role).id for role in ROLES_WITH_OWN}
    stations = lab.add_places()
    morning = lab.now.replace(hour=12, minute=0, second=0, microsecond=0) + timedelta(days=1)
    bookings = {
        role: lab.book("Enlarger", Span(morning, morning + timedelta(hours=1)), role=role).id for role in ROLES_WITH_OWN
    }
    waits = {role: _wait(lab, morning, role) for role in ROLES_WITH_OWN}
    induction = lab.add_induction("Skin care")
    agreements.issue(lab.act("manager"), text="Clean down after work.", sign_again=True)
    add_picture(lab.act("manager"), induction_id=induction.id, sent=png(), shows="Three trays")
    sign_offs = {"instructor": lab.appoint(induction).id}
    for role in ("member", "technician"):
        sign_offs[role] = lab.sign_off(induction, role, confirmed=False).id
    manager = lab.person("manager")
    closure = closing.close(
        Act(lab.session, by=manager, now=lab.tick()),
        span=Span(morning + timedelta(days=9), morning + timedelta(days=10)),
        reason="Painting",
    )
    device = devices.enrol_device(lab.act("manager"), name="Dry side").device
    card = devices.issue_card(lab.act("manager"), person_id=lab.ids["member"])
    process = lab.add_process()
    assessment = approved(lab, process)
    actions = {role: _add_action(lab, assessment, role).id for role in ROLES_WITH_OWN}
    fixer = lab.add_bottle(SolutionKind.FIXER)
    put_on_shelf(lab, fixer, lab.add_bottle(SolutionKind.STOP))
    happened = {
        role: incidents.report(
            Act(lab.session, by=lab.person(role), now=lab.now),
            told=incidents.IncidentReport(
                kind=IncidentKind.SPILL,
                what="Fixer on the floor",
                hurt="somebody",
                station_id=stations["Enlarger"].id,
                product_ids=[lab.ids["product fixer"]],
            ),
            happened_at=lab.tick(),
        ).id
        for role in ROLES_WITH_OWN
    }
    call_ins = {role: _call_in(lab, role) for role in ROLES_WITH_OWN}
    waiting = _without_network(lab.session, lab=lab)
    declarations = {role: _declare(lab, role) for role in ROLES_WITH_OWN}
    common: Arguments = {
        "assessment_id": assessment.id,
        "bath_id": line[Place.FIXER].id,
        "bottle_id": fixer.id,
        "card_id": card.id,
        "cas": "123-31-9",
        "closure_id": closure.id,
        "code": line[Place.FIXER].code,
        "collection_id": _collect(lab),
        "container_id": container.id,
        **_store(lab),
        **_course(lab),
        "consent_id": lab.add_consent("09 01 99").id,
        "device_id": device.id,
        **waiting,
        "discharge_id": _drained(lab),
        **_equipment(lab, stations["Enlarger"].room_id),
        "document_id": _issue(lab, bath_id=line[Place.FIXER].id),
        "filename": "tokens.css",
        "grant_id": _granted(lab),
        "induction_id": induction.id,
        "job_id": _verified(lab),
        "line_id": lab.film_line_id,
        "number": 1,
        "mail_id": _queue(lab.session, lab=lab),
        "process_id": process.id,
        "said": "come",
        "product_id": lab.ids["product fixer"],
        "sheet_id": add_sheet(lab, lab.ids["product fixer"]).id,
        "station_id": stations["Enlarger"].id,
        "recall_id": _recalled(lab, line[Place.FIXER].id),
        "room_id": stations["Enlarger"].room_id,
        "time_id": add_film_time(lab).id,
        "token": "not-a-token",
        "vessel_id": lab.add_vessel().id,
        "water_parts_milli": 4_000,
        **_duty(lab),
    }

    return common, {
        "action_id": actions,
        "address_id": {
            role: calendars.make_address(lab.act(role), calendar=Calendar()).address.id for role in ROLES_WITH_OWN
        },
        "booking_id": bookings,
        "declaration_id": declarations,
        "incident_id": happened,
        "person_id": lab.ids,
        "pour_id": {role: _pour(lab, container.id, role) for role in ROLES_WITH_OWN},
        "sign_off_id": sign_offs,
        "call_in_id": call_ins,
        "use_id": uses,
        "wait_id": waits,
    }


def recall(lab: SmallLab, bath_id: int) -> int:
    """A recall that names everybody's work and is open."""
    bath = lab.session.get_one(Bath, bath_id)
    opened = recalls.open_recall(
        lab.act("technician"), bath_id=bath_id, fault=Fault.WEAK, why="Mixed 1+9 by mistake", since=bath.mixed_at
    )
    return opened.id


def _recalled(lab: SmallLab, bath_id: int) -> int:
    """One that is closed again, since an open one stops what comes after."""
    closing = "All has been fixed again"
    return recalls.close_recall(lab.act("technician"), recall_id=recall(lab, bath_id), closing=closing).id


def _store(lab: SmallLab) -> Arguments:
    """A count of what stands on no shelf, and a bottle found without a label."""
    stop = lab.add_bottle(SolutionKind.STOP)
    counted = [Counted(stop.id, book=stop.vessel.level)]
    count = counting.count_shelf(lab.act("technician"), shelf_id=None, counted=counted, counted_at=lab.now)
    found = report_unlabelled(
        lab.act("member"), looks="Brown glass, half full", place="Under the sink", stands="In a tray", found_at=lab.now
    )
    return {"count_id": count.id, "unlabelled_id": found.id}


def _duty(lab: SmallLab) -> Arguments:
    """A rule about who has to be there, somebody in the building, and an alert about them."""
    rule = duty.set_staffing(
        lab.act("technician"),
        station_id=lab.ids["Film sink"],
        process_id=None,
        least_people=2,
        role=None,
        induction_id=None,
        staffed_only=False,
    )
    presence.add_guest(lab.act("instructor"), name="A guest", at=lab.now)
    alert = Alert(cause="overdue person-1 2026", who="A guest", said="Overdue to leave.", raised_at=lab.now)
    lab.session.add(alert)
    lab.session.commit()
    return {"rule_id": rule.id, "alert_id": alert.id, "key": "guest-1"}


def _call_in(lab: SmallLab, role: str) -> int:
    call_in = CallIn(person_id=lab.ids[role], began_at=lab.now, due_at=lab.now + timedelta(minutes=30))
    lab.session.add(call_in)
    lab.session.commit()
    return call_in.id


def _wait(lab: SmallLab, morning: datetime, role: str) -> int:
    """Somebody waits for the film sink, which is out of order then."""
    day = morning + timedelta(days=9)
    if not lab.count(Wait):
        closing.close(
            lab.act("manager"),
            scope=closing_rules.Scope(station_id=lab.ids["Film sink"]),
            span=Span(day, day + timedelta(hours=4)),
            reason="No water",
        )
    window = Span(day, day + timedelta(hours=4))
    plan = Plan()
    return waiting.wait(lab.act(role), station_id=lab.ids["Film sink"], window=window, minutes=120, plan=plan).id


def _course(lab: SmallLab) -> Arguments:
    """A course of two meetings, one of them left out, with somebody on its roster."""
    day = lab.now.date() + timedelta(days=12)
    evening = lab.now.replace(hour=19, minute=0, second=0, microsecond=0) + timedelta(days=12)
    course = courses.set_up(
        lab.act("instructor"),
        entry=courses.CourseEntry(
            name="First prints",
            term_name="spring",
            term=Term(day, 1140, 1260, "FREQ=WEEKLY;COUNT=2"),
            station_id=lab.ids["Enlarger"],
            units=2,
            instructor_ids=(lab.ids["instructor"],),
        ),
        dates=[
            Decided(day, Span(evening, evening + timedelta(hours=2))),
            Decided(day + timedelta(days=7), None, "Half term."),
        ],
        rows=[Row(1, "Łukasz Żak", "member@example.org"), Row(2, "Nobody Yet", "nobody.yet@example.org")],
    )
    student = lab.session.execute(select(Student.id).where(Student.course_id == course.id)).scalars().first()
    return {"course_id": course.id, "meeting_id": course.meetings[0].id, "student_id": student}


def _add_action(lab: SmallLab, assessment: Assessment, role: str) -> Action:
    return assessing.add_action(
        lab.act("technician"),
        assessment_id=assessment.id,
        text="Hang up goggles",
        owner_id=lab.ids[role],
        due_on=lab.now.date(),
    )


def _declare(lab: SmallLab, role: str) -> int:
    """Two chemicals of one's own: one waits, the other was let in, and that one is told."""
    guests.declare(lab, role=role, name="Waiting powder")
    return guests.decide(lab, guests.declare(lab, role=role), guests.YES).id


def _collect(lab: SmallLab) -> int:
    taken = lab.open_container("09 01 99")
    lab.dump(lab.mix(SolutionKind.STOP, water_parts=19, working_ml=500), taken, volume_ml=490)
    lab.state(taken)
    return waste.collect(
        Act(lab.session, by=lab.person("manager"), now=lab.now),
        handed_over=[waste.HandedOver(taken.id)],
        note_code="ALDERS/00009",
        carrier="Invented Carriers",
        collected_at=lab.tick(),
    ).id


def _pour(lab: SmallLab, container_id: int, role: str) -> int:
    fixer = Poured("Fixer used once", "09 01 04*", 100_000, kind=WasteKind.FIXER)
    return waste.pour(lab.act(role), container_id=container_id, poured=fixer, poured_at=lab.now).id


def _drained(lab: SmallLab) -> int:
    lost = Poured("Stop bath from a tray", "09 01 99", 500_000, kind=WasteKind.STOP)
    return sewer.record_drained(lab.act("member"), poured=lost, discharged_at=lab.now).id


def _issue(lab: SmallLab, *, bath_id: int) -> int:
    act = lab.act("technician")
    return issue_document(act, BATH_LABEL, OfBath(bath_id), public_url="https://lab.example.org").id


def _granted(lab: SmallLab) -> int:
    """A competence that waits for the member to say that they saw it."""
    return competences.grant(
        lab.act("technician"),
        person_id=lab.ids["instructor"],
        competence=Competence.POWDERS,
        may_grant=False,
        happened_on=lab.now.date(),
        until=lab.now.date() + timedelta(days=300),
        witness_id=lab.ids["member"],
    ).id


def _verified(lab: SmallLab) -> int:
    """A job that is over, with a file that is not in the instance any more."""
    asked = jobs.ask(lab.act("manager"), kind=VERIFY).id
    claimed = jobs.claim_next(lab.session, kinds={VERIFY.name: VERIFY}, now=lab.tick())
    assert claimed is not None
    made = Made("The record holds.", File("record.json", "application/json", b"{}"))
    jobs.finish(lab.session, claimed=claimed, kind=VERIFY, made=made, digest="0" * 64, now=lab.tick())
    return asked


@transaction
def _queue(session: DbSession, *, lab: SmallLab) -> int:
    mail.queue(
        session, Message(BOOKING, "test", "A test", "Nothing to do.", ""), to=lab.person("member"), by=None, now=lab.now
    )
    session.flush()
    return session.execute(select(OutgoingMail.id).where(OutgoingMail.reason_key == "test")).scalar_one()


@transaction
def _without_network(session: DbSession, *, lab: SmallLab) -> Arguments:
    """An entry that could not be taken over, and a use told after its bath was dumped."""
    member_id, now = lab.ids["member"], lab.tick()
    entry = KeptEntry(
        key="kept-without-network",
        person_id=member_id,
        path="/building/touch",
        typed='[["who", "me"], ["way", "in"]]',
        said="Came in",
        happened_at=now,
        received_at=now,
        state=State.REFUSED,
        why="A test",
    )
    late = LateUse(
        line_id=lab.film_line_id,
        size="120",
        material=Material.FILM,
        count=1,
        used_at=now,
        recorded_by_id=member_id,
        person_id=member_id,
        recorded_at=now,
    )
    session.add_all([entry, late])
    session.flush()
    return {"entry_id": entry.id, "late_use_id": late.id}
