"""What went wrong, or was done out of turn."""

from typing import Any

from labsys.baths import queries as bath_queries
from labsys.baths import uses
from labsys.chemistry.sizes import Material, size_of
from labsys.demo.play import Play
from labsys.demo.technician import container_for
from labsys.quantities import MG_PER_KG, UL_PER_L, UL_PER_ML
from labsys.waste import queries as waste_queries
from labsys.waste import service as waste
from labsys.waste.rules import Poured


def happen(play: Play, event: dict[str, Any]) -> None:
    """Do what an entry of `events.toml` says."""
    match event["act"]:
        case "correct last use":
            _correct_last_use(play, event)
        case "wrong pour":
            _wrong_pour(play, event)
        case "release":
            _release(play, event)
        case "hand over":
            _hand_over(play, event)
        case other:
            raise ValueError(f"demo_fixtures/events.toml: no such act {other!r}")


def _correct_last_use(play: Play, event: dict[str, Any]) -> None:
    person = play.person(event["who"])
    for last in bath_queries.uses_of_person(play.session, person_id=person.id, limit=1):
        uses.correct_use(
            play.act_now(person),
            use_id=last.id,
            size=size_of(key=last.size),
            material=Material(last.material),
            count=event["count"],
        )


def _wrong_pour(play: Play, event: dict[str, Any]) -> None:
    volume_ul = event["ml"] * UL_PER_ML
    waste.pour(
        play.act(event["who"]),
        container_id=container_for(play, event["into"], room_ul=volume_ul).id,
        poured=Poured(what=event["what"], waste_code=event["waste_code"], volume_ul=volume_ul),
        poured_at=play.at,
    )


def _release(play: Play, event: dict[str, Any]) -> None:
    for container in waste_queries.containers_here(play.session):
        if container.stream.code == event["stream"] and container.quarantine is not None:
            waste.release_from_quarantine(
                play.act_now(event["who"]),
                container_id=container.id,
                note=event["note"],
            )


def _hand_over(play: Play, event: dict[str, Any]) -> None:
    given = []
    for container in waste_queries.containers_here(play.session):
        if container.stream.code == event["stream"] and container.vessel.level:
            litres = container.vessel.level / UL_PER_L - event["litres_less"]
            given.append(
                waste.HandedOver(
                    container.id,
                    carrier_ul=round(litres * 10) * UL_PER_L // 10,
                    weight_mg=round(litres * event["kg_per_l"] * 10) * MG_PER_KG // 10,
                )
            )
    waste.collect(
        play.act(event["who"]),
        handed_over=given,
        note_code=event["note_code"],
        carrier=event["carrier"],
        collected_at=play.at,
    )
