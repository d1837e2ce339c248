"""The lab as it stands before the first visit: people, store, lines, places, inductions, tanks and trays."""

from collections.abc import Callable, Sequence

from labsys.baths import service as baths
from labsys.baths.models import Work
from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import CylinderClass
from labsys.chemistry.sizes import Material
from labsys.demo.equipment import check_cylinder
from labsys.demo.fixtures import Entry, film_time_entry, step_entry, vessel_entry
from labsys.demo.play import Play
from labsys.demo.technician import receive
from labsys.duty import service as duty
from labsys.duty.models import AloneRule, DutyKind
from labsys.duty.rules import Settings as DutySettings
from labsys.inductions import service as inductions
from labsys.inductions import signing
from labsys.inductions.models import Hazard
from labsys.lab.rules import Settings
from labsys.lab.service import set_up_lab
from labsys.labware import service as labware
from labsys.people import service as people
from labsys.places import service as places
from labsys.places.models import RoomKind, Stated
from labsys.places.rules import RoomFacts, StationFacts, parse_hours
from labsys.processes import film_times
from labsys.processes import service as processes
from labsys.products import service as products
from labsys.quantities import UL_PER_ML
from labsys.timetable.opening import Hours
from labsys.waste import service as waste


def furnish(play: Play) -> None:
    """Set up the lab, let its people in, and fill its store, rooms and inductions."""
    lab = play.fixtures.told["lab"]
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
        invited = people.invite_person(play.act(manager.key), name=person.name, email=person.email, roles=person.roles)
        _enter(play, person.key, invited)
    for file in ("lab", "products", "processes", "lines", "places"):
        enter_all(play, file)
    _bring_and_open(play)
    for file in ("inductions", "ways"):
        enter_all(play, file)


def enter_all(play: Play, file: str) -> None:
    """Enter what a file tells the lab has, table by table."""
    for table, enter in _TABLES.items():
        for told in play.fixtures.told[file].get(table, ()):
            key = told.get("key") or told.get("code") or told.get("name")
            play.ids[f"{table} {key}"] = enter(play, told)


def _enter(play: Play, key: str, invited: people.Invitation) -> None:
    person = people.choose_password(play.act(None), token=invited.token, password=play.password, cost=play.cost)
    play.ids[key] = person.id


def _cylinder(play: Play, told: Entry) -> int:
    cylinder = labware.add_cylinder(
        play.act("joss"),
        nominal_ml=told["nominal_ml"],
        division_ul=round(told["division_ml"] * UL_PER_ML),
        accuracy_class=CylinderClass(told["class"]),
        kept_for=SolutionKind(told["kept_for"]) if "kept_for" in told else None,
        least_ul=round(told["least_ml"] * UL_PER_ML) if "least_ml" in told else None,
    )
    check_cylinder(play, cylinder)
    return cylinder.id


def _stream(play: Play, told: Entry) -> int:
    return waste.add_stream(play.act("joss"), name=told["name"], code=told["code"]).id


def _vessel(play: Play, told: Entry) -> int:
    return labware.add_vessel(play.act("joss"), entry=vessel_entry(told)).id


def _product(play: Play, told: Entry) -> int:
    """Enter a product, have it confirmed unless it is left waiting, and take its first bottle where one came."""
    demo_product = play.fixtures.products[told["key"]]
    product = products.add_product(play.act("joss"), sheet=demo_product.sheet)
    if demo_product.is_confirmed:
        products.confirm_product(play.act("odile"), product_id=product.id)
    if demo_product.received_ul is not None and not told.get("received_later"):
        play.ids[f"product {told['key']}"] = product.id
        receive(play, told["key"])
    return product.id


def _process(play: Play, told: Entry) -> int:
    steps = [
        step_entry(row, product_id=play.ids[f"product {row['product']}"] if "product" in row else None)
        for row in told["step"]
    ]
    return processes.add_process(
        play.act("joss"), name=told["name"], material=Material(told["material"]), note=told["note"], steps=steps
    ).id


def _film_time(play: Play, told: Entry) -> int:
    product_id = play.ids[f"product {told['product']}"]
    return film_times.add_film_time(play.act("joss"), entry=film_time_entry(told, product_id=product_id)).id


def _line(play: Play, told: Entry) -> int:
    process_id = play.ids[f"process {told['process']}"]
    return baths.add_line(
        play.act("joss"),
        name=told["name"],
        work=Work(told["work"]),
        holding=Holding(told["holding"]),
        process_id=process_id,
    ).id


def _room(play: Play, told: Entry) -> int:
    return places.add_room(play.act("rosalind"), name=told["name"], facts=_said_of_room(told)).id


def _station(play: Play, told: Entry) -> int:
    return places.add_station(
        play.act("rosalind"),
        room_id=play.ids[f"room {told['room']}"],
        name=told["name"],
        units=told["units"],
        facts=StationFacts(
            margin_minutes=told.get("margin", 0),
            position=play.fixtures.told["places"]["station"].index(told) + 1,
            note=told.get("note", ""),
            lowest_cm=told.get("lowest_cm"),
            highest_cm=told.get("highest_cm"),
            clean_down=told.get("clean_down", ""),
        ),
    ).id


def _said_of_room(told: Entry) -> RoomFacts:
    return RoomFacts(
        kind=RoomKind(told["kind"]),
        most_people=told.get("most_people"),
        most_taught=told.get("most_taught"),
        step_free=Stated(told.get("step_free", Stated.NOT_STATED)),
        looked_into=Stated(told.get("looked_into", Stated.NOT_STATED)),
        helps=told.get("helps", ""),
    )


def _induction(play: Play, told: Entry) -> int:
    """The safety adviser writes it and names the instructor as its first holder."""
    induction = inductions.add_induction(
        play.act("odile"),
        name=told["name"],
        how_to_get=told["how_to_get"],
        text=told["text"].strip(),
        valid_days=told["valid_days"],
        needed_for=inductions.NeededFor(
            station_ids=frozenset(play.ids[f"station {key}"] for key in told.get("stations", [])),
            materials=frozenset(Material(material) for material in told.get("materials", [])),
            hazards=frozenset(Hazard(hazard) for hazard in told.get("hazards", [])),
        ),
    )
    appointment = signing.appoint_holder(
        play.act("odile"), induction_id=induction.id, person_id=play.ids["imre"], taught_at=play.at
    )
    signing.confirm(play.act("imre"), sign_off_id=appointment.id)
    return induction.id


def _bring_and_open(play: Play) -> None:
    """Say which stations come with which, and when the lab is open."""
    told = play.fixtures.told["places"]
    for row in told["station"]:
        if brings := [play.ids[f"station {key}"] for key in row.get("brings", [])]:
            places.set_companions(play.act("rosalind"), station_id=play.ids[f"station {row['key']}"], brings=brings)
    hours = [
        opening
        for weekday, typed in enumerate(told["hours"].values())
        for opening in parse_hours(typed, weekday=weekday, field="hours")
    ]
    places.set_opening_hours(play.act("rosalind"), hours=hours)
    _fill_rota(play, told["duty"], hours)


def _fill_rota(play: Play, told: Entry, hours: Sequence[Hours]) -> None:
    """Say who is on duty on each weekday, and whom to tell; working alone is for adults, without anything dangerous."""
    for opening in hours:
        keys = {kind: told[kind.value][opening.weekday] for kind in DutyKind}
        duty.name_turns(
            play.act("rosalind"),
            day=play.day((play.today.weekday() - opening.weekday) % 7),
            from_minute=opening.opens_minute,
            until_minute=opening.closes_minute,
            every_week=True,
            named={
                kind: duty.Named(play.ids[key], told["telephone"].get(key, "")) for kind, key in keys.items() if key
            },
        )
    duty.set_rules(play.act("rosalind"), settings=DutySettings(alone=AloneRule.ADULTS))
    duty.set_contacts(play.act("rosalind"), person_ids=[play.ids[key] for key in told["told"]])


_TABLES: dict[str, Callable[[Play, Entry], int]] = {
    "cylinder": _cylinder,
    "stream": _stream,
    "vessel": _vessel,
    "product": _product,
    "process": _process,
    "film_time": _film_time,
    "line": _line,
    "room": _room,
    "station": _station,
    "induction": _induction,
}
