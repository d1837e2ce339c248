"""What the demonstration lab runs beside its daily film and prints, and its fibre line with two fixers."""

from collections.abc import Iterator
from datetime import date, time, timedelta
from functools import partial
from typing import Any

from labsys.baths import queries as bath_queries
from labsys.baths import rotation, uses
from labsys.baths import service as baths
from labsys.baths.models import Place, Work
from labsys.baths.rules import Taken
from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.sizes import Material, size_of
from labsys.demo.fixtures import DemoProcess, DemoProduct, water_parts_milli
from labsys.demo.play import Play
from labsys.demo.technician import container_for
from labsys.demo.visits import Scene
from labsys.labware import service as labware
from labsys.processes import service as processes
from labsys.products import service as products
from labsys.quantities import UL_PER_L, UL_PER_ML
from labsys.store import service as store

_FIBRE = "Fibre prints, two-bath fixing"
_FIXER_UL = 1_500 * UL_PER_ML  # 1+4: 300 mL and 1 200 mL
_LEFT_UL = 1_380 * UL_PER_ML
_PRINTS = (
    (27, "eleni", 9, ""),
    (20, "imre", 22, "Fibre prints"),
    (13, "eleni", 8, ""),
    (6, "eleni", 6, ""),
    (2, "eleni", 7, ""),
)


def register(play: Play, product: DemoProduct) -> None:
    """Enter a product, and have it confirmed unless it is left waiting."""
    added = products.add_product(play.act("joss"), sheet=product.entry)
    play.ids[f"product {product.key}"] = added.id
    if product.is_confirmed:
        products.confirm_product(play.act("odile"), product_id=added.id)


def write_process(play: Play, process: DemoProcess) -> None:
    """Write down a way of working."""
    made = processes.add_process(
        play.act("joss"),
        name=process.name,
        material=process.material,
        note=process.note,
        steps=[_step(play, row) for row in process.steps],
    )
    play.ids[f"process {process.name}"] = made.id


def add_ways(play: Play) -> None:
    """Tanks and trays, the other ways of working with their products, and a line for fibre prints."""
    technician = play.person("joss")
    ways = play.fixtures.ways
    for entry in ways.vessels:
        labware.add_vessel(play.act(technician), entry=entry)
    for product in ways.products:
        register(play, product)
    for process in ways.processes:
        write_process(play, process)
    line = baths.add_line(
        play.act(technician),
        name="Fibre trays",
        work=Work.PAPER,
        process_id=play.ids[f"process {_FIBRE}"],
    )
    play.ids["line fibre"] = line.id


def scenes_of_the_fibre_line(play: Play, day: date) -> Iterator[Scene]:
    """Two fixers mixed, printed through, and rotated once the first is near its end."""
    days_ago = (play.today - day).days
    if days_ago == 30:
        yield play.instant(day, time(9, 50)), partial(_mix_both, play)
    for when, person, count, class_name in _PRINTS:
        if days_ago == when:
            yield play.instant(day, time(17, 40)), partial(_print, play, person, count, class_name)
    if days_ago == 5:
        yield play.instant(day, time(9, 50)), partial(_rotate, play)


def _step(play: Play, row: dict[str, Any]) -> processes.StepEntry:
    return processes.StepEntry(
        name=row["name"],
        product_id=play.ids[f"product {row['product']}"] if "product" in row else None,
        water_parts_milli=water_parts_milli(row["parts"]) if "parts" in row else None,
        seconds=round(row["minutes"] * 60) if "minutes" in row else None,
        temperature_milli_c=round(row["celsius"] * 1000) if "celsius" in row else None,
        tolerance_milli_c=round(row["celsius_off"] * 1000) if "celsius_off" in row else None,
        changes=row.get("changes"),
        in_the_dark=row.get("in_the_dark", False),
        air=row.get("air", ""),
        note=row["note"],
        source=row["source"],
    )


def _mix_both(play: Play) -> None:
    _mix(play, "Fibre fixer A", Place.FIXER, in_service=True)
    _mix(play, "Fibre fixer B", Place.SECOND_FIXER, in_service=True)


def _mix(play: Play, name: str, place: Place, *, in_service: bool) -> None:
    bottle = store.receive_bottle(
        play.act(play.technician),
        product_id=play.ids["product paper fixer"],
        amount=UL_PER_L,
        lot=f"{place}"[:6],
        received_at=play.at,
        expires_on=play.today + timedelta(days=400),
    )
    baths.mix_bath(
        play.act(play.technician),
        product_id=play.ids["product paper fixer"],
        water_parts_milli=4_000,
        line_id=play.ids["line fibre"],
        place=place,
        name=name,
        holding=Holding.FULL_BOTTLE,
        capacity_ul=2 * UL_PER_L,
        working_ul=_FIXER_UL,
        taken=[Taken(bottle.id, _FIXER_UL // 5)],
        water_ul=_FIXER_UL // 5 * 4,
        in_service=in_service,
        mixed_at=play.at,
    )


def _print(play: Play, person: str, count: int, class_name: str) -> None:
    uses.log_use(
        play.act(person),
        line_id=play.ids["line fibre"],
        size=size_of(key="24x30 cm"),
        material=Material.FIBRE,
        count=count,
        used_at=play.at,
        class_name=class_name,
    )


def _rotate(play: Play) -> None:
    """The second fixer takes the first place; the spent one goes into the waste, a fresh one stands second."""
    line_id = play.ids["line fibre"]
    standing = bath_queries.baths_in_service(play.session, line_id=line_id, at=play.at)
    first = next(one.id for one in standing if one.place is Place.FIXER)
    _mix(play, "Fibre fixer C", Place.SECOND_FIXER, in_service=False)
    rotation.rotate(play.act(play.technician), line_id=line_id)
    container = container_for(play, "09 01 04*", room_ul=_LEFT_UL)
    baths.dump_bath(
        play.act(play.technician),
        bath_id=first,
        container_id=container.id,
        volume_ul=_LEFT_UL,
        dumped_at=play.at,
    )
