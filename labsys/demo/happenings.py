"""What happened beside the daily work: pours, prints and fixers out of the routine, papers, incidents."""

from datetime import timedelta

from labsys.baths import queries as bath_queries
from labsys.baths import rotation, uses
from labsys.baths.models import Place
from labsys.baths.rules import Taken
from labsys.chemistry.sizes import Material, Pieces, size_of
from labsys.config import Config
from labsys.demo import technician, term, testing, waiting
from labsys.demo.equipment import equip
from labsys.demo.fixtures import Entry, bath_of
from labsys.demo.play import Play
from labsys.documents.document import WholeLab
from labsys.documents.first_aid import FIRST_AID_CARD
from labsys.documents.label_sheet import LABEL_SHEET, LabelChoice, Layout, everything_to_label
from labsys.documents.occasion import occasion_of
from labsys.documents.register import REGISTER
from labsys.duty import calling
from labsys.duty import queries as duty_queries
from labsys.duty import service as duty
from labsys.duty.models import AloneRule
from labsys.duty.rules import Settings as DutySettings
from labsys.incidents import service as incidents
from labsys.incidents.models import IncidentKind
from labsys.presence import queries as presence_queries
from labsys.presence import service as presence
from labsys.quantities import MG_PER_KG, MILLI, UL_PER_L, UL_PER_ML
from labsys.timetable.local_time import to_local
from labsys.waste import quarantine, sewer
from labsys.waste import queries as waste_queries
from labsys.waste import service as waste
from labsys.waste.leaving import why_it_stays
from labsys.waste.models import ReleaseKind, WasteContainer, WasteKind
from labsys.waste.rules import Poured, Restated
from labsys.waste.stating import state_properties


def happen(play: Play, told: Entry) -> None:
    """Do what an entry of `events.toml` says."""
    _ACTS[told["act"]](play, told)


def _correct_last_use(play: Play, told: Entry) -> None:
    person = play.person(told["who"])
    for last in bath_queries.uses_of_person(play.session, person_id=person.id, limit=1):
        uses.correct_use(
            play.act_now(person),
            use_id=last.id,
            pieces=Pieces(size_of(key=last.size), Material(last.material), told["count"]),
        )


def _pour(play: Play, told: Entry) -> None:
    volume_ul = told["ml"] * UL_PER_ML
    waste.pour(
        play.act(told["who"]),
        container_id=technician.container_for(play, told["into"], room_ul=volume_ul).id,
        poured=Poured(
            what=told["what"], waste_code=told["waste_code"], volume_ul=volume_ul, kind=WasteKind(told["kind"])
        ),
        poured_at=play.at,
        is_done=True,
    )


def _release(play: Play, told: Entry) -> None:
    for container in waste_queries.containers_here(play.session):
        if container.stream.code == told["stream"] and container.quarantine is not None:
            quarantine.release(
                play.act_now(told["who"]),
                container_id=container.id,
                kind=ReleaseKind(told["kind"]),
                note=told["note"],
                restated=Restated(**told["restated"]) if "restated" in told else None,
            )


def _state(play: Play, told: Entry, container: WasteContainer) -> None:
    """The safety adviser states the hazardous properties where they cannot be worked out."""
    stays = why_it_stays(waste_queries.contents(play.session, [container])[container.id])
    if stays and stays.is_to_be_stated:
        state_properties(
            play.act_now("odile"), container_id=container.id, properties=told["properties"], reason=told["how_known"]
        )


def _hand_over(play: Play, told: Entry) -> None:
    given = []
    for container in waste_queries.containers_here(play.session):
        if container.stream.code == told["stream"] and container.vessel.level and not container.quarantine:
            _state(play, told, container)
            litres = container.vessel.level / UL_PER_L - told["litres_less"]
            carrier_ul = round(litres * 10) * UL_PER_L // 10
            weight_mg = round(litres * told["kg_per_l"] * 10) * MG_PER_KG // 10
            given.append(waste.HandedOver(container.id, carrier_ul=carrier_ul, weight_mg=weight_mg))
    waste.collect(
        play.act(told["who"]),
        handed_over=given,
        note_code=told["note_code"],
        carrier=told["carrier"],
        collected_at=play.at,
    )


def _consent(play: Play, told: Entry) -> None:
    first = to_local(play.at, zone=play.zone).date()
    sewer.add_consent(
        play.act(told["who"]),
        entry=sewer.ConsentEntry(
            reference=told["reference"],
            issued_by=told["issued_by"],
            limits=[sewer.LimitEntry(**limit) for limit in told["limit"]],
            most_ul_a_day=told["most_l_a_day"] * UL_PER_L,
            valid_from=first,
            valid_until=first + timedelta(days=told["for_days"]),
            kinds=[WasteKind(kind) for kind in told["kinds"]],
        ),
    )


def _down_the_sink(play: Play, told: Entry) -> None:
    poured = Poured(told["what"], told["waste_code"], told["ml"] * UL_PER_ML, kind=WasteKind(told["kind"]))
    made = sewer.record_drained(play.act(told["who"]), poured=poured, discharged_at=play.at)
    sewer.answer_discharge(play.act_now(told["answered_by"]), discharge_id=made.id, answer=told["answer"])


def _mix(play: Play, told: Entry) -> None:
    """Mix a bath by the book, from a bottle delivered for it."""
    spec = bath_of(told)
    bottle = technician.receive(play, spec.product, lot=told["lot"], keeps_days=told["keeps_days"])
    undiluted_ul = spec.volume_ul * MILLI // (MILLI + spec.water_parts_milli)
    taken = [Taken(bottle.id, undiluted_ul)]
    technician.mix(play, told["line"], spec, taken, spec.volume_ul - undiluted_ul, in_service=told["in_service"])


def _put_through(play: Play, told: Entry) -> None:
    uses.log_uses(
        play.act(told["who"]),
        line_id=play.ids[f"line {told['line']}"],
        went=[Pieces(size_of(key=told["size"]), Material(told["material"]), told["count"])],
        used_at=play.at,
        class_name=told.get("class_name", ""),
    )


def _rotate(play: Play, told: Entry) -> None:
    """The second fixer takes the first place; the spent one goes into the waste, a fresh one stands second."""
    line_id = play.ids[f"line {told['line']}"]
    in_service = bath_queries.baths_in_service(play.session, line_id=line_id, at=play.at)
    spent_id = next(bath.id for bath in in_service if bath.place is Place.FIXER)
    _mix(play, told)
    rotation.rotate(play.act(play.technician), line_id=line_id)
    technician.dump(play, bath_queries.bath_with_life(play.session, spent_id), told["left_ml"] * UL_PER_ML)


def _issue_papers(play: Play, _: Entry) -> None:
    """The safety adviser issues the register and the card; the technician prints labels for what there is."""
    play.issue("odile", FIRST_AID_CARD, WholeLab())
    play.issue("odile", REGISTER, WholeLab())
    occasion = occasion_of(play.session, person=play.person("joss"), now=play.at, public_url=Config.public_url)
    keys = [labelled.key for labelled in everything_to_label(play.session, occasion)]
    play.issue("joss", LABEL_SHEET, LabelChoice(keys, Layout.MEDIUM, first=1))


def _alone(play: Play, told: Entry) -> None:
    """From now on nobody is alone without a call-in; somebody is, answers once, and goes home."""
    duty.set_rules(play.act("rosalind"), settings=DutySettings(alone=AloneRule.CALL_IN))
    who = play.person(told["who"])
    key = presence_queries.key_of(who.id)
    presence.touch(play.act(who), key=key, way=presence.Way.IN, at=play.at)
    if (call_in := duty_queries.call_in_of(play.session, who.id)) is not None:
        calling.say_who_expects(play.act(who), call_in_id=call_in.id, outside=told["outside"])
        play.at += timedelta(minutes=told["minutes"])
        calling.answer(play.act_now(who), call_in_id=call_in.id)
    presence.touch(play.act(who), key=key, way=presence.Way.OUT, at=play.at)


_ACTS = {
    "alone": _alone,
    "equip": equip,
    "correct last use": _correct_last_use,
    "wrong pour": _pour,
    "release": _release,
    "consent": _consent,
    "down the sink": _down_the_sink,
    "hand over": _hand_over,
    "mix": _mix,
    "put through": _put_through,
    "rotate": _rotate,
    "papers": _issue_papers,
    "wait": waiting.wait,
    "close": term.close_place,
    "course": term.set_up_course,
    "keep away": term.keep_away,
    "membership": term.keep_members,
    "check rules": testing.state_rules,
    "reference strip": testing.read_reference,
    "control strip": testing.run_strip,
    "test wash": testing.test_wash,
    "test safelight": testing.test_safelight,
}


def report(play: Play, told: Entry) -> None:
    """Report an entry of `incidents.toml`, by whoever was there."""
    told["id"] = incidents.report(
        play.act(told["who"]),
        told=incidents.IncidentReport(
            kind=IncidentKind(told["kind"]),
            what=told["what"],
            done=told["done"],
            hurt=told.get("hurt", ""),
            station_id=play.ids[f"station {told['station']}"],
            process_ids=[play.ids[f"process {name}"] for name in told["processes"]],
            product_ids=[play.ids[f"product {key}"] for key in told["products"]],
        ),
        happened_at=play.at,
    ).id


def close(play: Play, told: Entry) -> None:
    """Close it: the safety adviser says what was changed."""
    incidents.close(play.act("odile"), incident_id=told["id"], changed=told["changed"])
