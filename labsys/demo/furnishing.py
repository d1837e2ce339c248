"""The lab as it stands before the first visit: people, store, lines, places and inductions."""

from labsys.baths import service as baths
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import CylinderClass
from labsys.chemistry.sizes import Material
from labsys.demo.play import Play
from labsys.demo.technician import receive
from labsys.demo.ways import add_ways, register, write_process
from labsys.inductions import service as inductions
from labsys.inductions import signing
from labsys.inductions.models import Hazard
from labsys.lab.rules import Settings
from labsys.lab.service import set_up_lab
from labsys.labware import service as labware
from labsys.people import service as people
from labsys.places import service as places
from labsys.places.models import RoomKind
from labsys.places.rules import parse_hours
from labsys.quantities import UL_PER_ML
from labsys.waste import service as waste


def furnish(play: Play) -> None:
    """Set up the lab, let its people in, and fill its store, rooms and inductions."""
    lab = play.fixtures.lab
    manager, *others = play.fixtures.people
    invited = set_up_lab(
        play.act(None),
        settings=Settings(**lab["settings"]),
        code_prefix=lab["code_prefix"],
        manager_name=manager.name,
        manager_email=manager.email,
        is_demo=True,
    )
    _enter(play, manager.key, invited)
    for person in others:
        invited = people.invite_person(
            play.act(manager.key),
            name=person.name,
            email=person.email,
            roles=person.roles,
        )
        _enter(play, person.key, invited)
    _fill_store(play)
    _lay_out_lines(play)
    _lay_out_places(play)
    _write_inductions(play)
    add_ways(play)


def _enter(play: Play, key: str, invited: people.Invitation) -> None:
    person = people.choose_password(play.act(None), token=invited.token, password=play.password, cost=play.cost)
    play.ids[key] = person.id


def _fill_store(play: Play) -> None:
    technician = play.person("joss")
    for row in play.fixtures.lab["cylinder"]:
        labware.add_cylinder(
            play.act(technician),
            nominal_ml=row["nominal_ml"],
            division_ul=round(row["division_ml"] * UL_PER_ML),
            accuracy_class=CylinderClass(row["class"]),
            kept_for=SolutionKind(row["kept_for"]) if "kept_for" in row else None,
        )
    for row in play.fixtures.lab["stream"]:
        stream = waste.add_stream(play.act(technician), name=row["name"], code=row["code"])
        play.ids[f"stream {stream.code}"] = stream.id
    for product in play.fixtures.products:
        register(play, product)
        receive(play, product.key)


def _lay_out_lines(play: Play) -> None:
    technician = play.person("joss")
    for process in play.fixtures.processes:
        write_process(play, process)
    for line in play.fixtures.lines:
        laid = baths.add_line(
            play.act(technician),
            name=line.name,
            work=line.work,
            process_id=play.ids[f"process {line.process}"],
        )
        play.ids[f"line {line.key}"] = laid.id


def _lay_out_places(play: Play) -> None:
    manager = play.person("rosalind")
    plan = play.fixtures.places
    rooms = {
        row["name"]: places.add_room(play.act(manager), name=row["name"], kind=RoomKind(row["kind"])).id
        for row in plan["room"]
    }
    for position, row in enumerate(plan["station"], 1):
        station = places.add_station(
            play.act(manager),
            room_id=rooms[row["room"]],
            name=row["name"],
            units=row["units"],
            margin_minutes=row.get("margin", 0),
            position=position,
            note=row.get("note", ""),
        )
        play.ids[f"station {row['key']}"] = station.id
    for row in plan["station"]:
        if brings := [play.ids[f"station {key}"] for key in row.get("brings", [])]:
            station_id = play.ids[f"station {row['key']}"]
            places.set_companions(play.act(manager), station_id=station_id, brings=brings)
    hours = [
        one
        for weekday, typed in enumerate(plan["hours"].values())
        for one in parse_hours(typed, weekday=weekday, field="hours")
    ]
    places.set_opening_hours(play.act(manager), hours=hours)


def _write_inductions(play: Play) -> None:
    """The safety adviser writes them and names the instructor as their first holder."""
    adviser, first = play.person("odile"), play.person("imre")
    for row in play.fixtures.inductions:
        induction = inductions.add_induction(
            play.act(adviser),
            name=row["name"],
            how_to_get=row["how_to_get"],
            text=row["text"].strip(),
            valid_days=row["valid_days"],
            needed_for=inductions.NeededFor(
                station_ids=frozenset(play.ids[f"station {key}"] for key in row.get("stations", [])),
                materials=frozenset(Material(one) for one in row.get("materials", [])),
                hazards=frozenset(Hazard(one) for one in row.get("hazards", [])),
            ),
        )
        play.ids[f"induction {row['name']}"] = induction.id
        appointment = signing.appoint_holder(
            play.act(adviser),
            induction_id=induction.id,
            person_id=first.id,
            taught_at=play.at,
        )
        signing.confirm(play.act(first), sign_off_id=appointment.id)
