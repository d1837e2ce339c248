"""Reads the files in `demo_fixtures/` into what the services take."""

import csv
import tomllib
from dataclasses import dataclass
from datetime import time
from pathlib import Path
from typing import Any

from labsys.baths.models import Place, Work
from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.dilution import parse_dilution
from labsys.chemistry.sizes import Material, Size, area_of_units_mm2, size_of
from labsys.hazards.concentration import parse_concentration
from labsys.labware.models import WorkingVesselKind
from labsys.labware.service import FillEntry, VesselEntry
from labsys.people.models import Role
from labsys.products.rules import milli_of_dilution
from labsys.products.sheet import (
    CapacityMeasure,
    ProductSheet,
    StatedAge,
    StatedCapacity,
    StatedDilution,
    StatedIngredient,
)
from labsys.quantities import MG_PER_G, UL_PER_L, UL_PER_ML

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_HOURS_PER_DAY = 24


@dataclass(frozen=True)
class DemoPerson:
    key: str
    name: str
    email: str
    roles: frozenset[Role]


@dataclass(frozen=True)
class DemoProduct:
    """A product; `received_ul` is None for one of which no bottle stands in the store."""

    key: str
    entry: ProductSheet
    received_ul: int | None
    is_confirmed: bool


@dataclass(frozen=True)
class DemoBath:
    name: str
    place: Place
    product: str
    water_parts_milli: int
    volume_ul: int
    capacity_ul: int
    holding: Holding


@dataclass(frozen=True)
class DemoLine:
    key: str
    name: str
    work: Work
    process: str
    baths: tuple[DemoBath, ...]


@dataclass(frozen=True)
class DemoProcess:
    name: str
    material: Material
    note: str
    steps: tuple[dict[str, Any], ...]


@dataclass(frozen=True)
class Habit:
    """On these weekdays, with this chance, a person books a station and puts some pieces through a line."""

    person: str
    line: str
    station: str
    hours: float
    size: Size
    material: Material
    weekdays: frozenset[int]
    earliest: time
    latest: time
    low: int
    high: int
    chance: float
    class_name: str


@dataclass(frozen=True)
class Ways:
    """What the lab runs beside its daily film and prints, and the tanks and trays it does it in."""

    products: tuple[DemoProduct, ...]
    processes: tuple[DemoProcess, ...]
    vessels: tuple[VesselEntry, ...]


@dataclass(frozen=True)
class Fixtures:
    lab: dict[str, Any]
    people: tuple[DemoPerson, ...]
    products: tuple[DemoProduct, ...]
    lines: tuple[DemoLine, ...]
    processes: tuple[DemoProcess, ...]
    ways: Ways
    habits: tuple[Habit, ...]
    events: tuple[dict[str, Any], ...]
    places: dict[str, Any]
    inductions: tuple[dict[str, Any], ...]
    teaching: tuple[dict[str, Any], ...]
    assessments: dict[str, Any]
    store: dict[str, Any]
    incidents: tuple[dict[str, Any], ...]
    declarations: tuple[dict[str, Any], ...]


def read_fixtures(folder: Path) -> Fixtures:
    """Read every file of the folder. Raises the reader's own error at a file that cannot be read."""
    return Fixtures(
        lab=_toml(folder / "lab.toml"),
        people=tuple(
            DemoPerson(row["key"], row["name"], row["email"], frozenset(Role(role) for role in row["roles"].split(";")))
            for row in _csv(folder / "people.csv")
        ),
        products=tuple(_product(row) for row in _toml(folder / "products.toml")["product"]),
        lines=tuple(_line(row) for row in _toml(folder / "lines.toml")["line"]),
        processes=tuple(_process(row) for row in _toml(folder / "processes.toml")["process"]),
        ways=_ways(_toml(folder / "ways.toml")),
        habits=tuple(_habit(row) for row in _csv(folder / "habits.csv")),
        events=tuple(_toml(folder / "events.toml")["event"]),
        places=_toml(folder / "places.toml"),
        inductions=tuple(_toml(folder / "inductions.toml")["induction"]),
        teaching=tuple(_toml(folder / "inductions.toml")["teaching"]),
        assessments=_toml(folder / "assessments.toml"),
        store=_toml(folder / "store.toml"),
        incidents=tuple(_toml(folder / "incidents.toml")["incident"]),
        declarations=tuple(_toml(folder / "brought_in.toml")["declaration"]),
    )


def _ways(told: dict[str, Any]) -> Ways:
    return Ways(
        products=tuple(_product(row) for row in told["product"]),
        processes=tuple(_process(row) for row in told["process"]),
        vessels=tuple(_vessel(row) for row in told["vessel"]),
    )


def _process(row: dict[str, Any]) -> DemoProcess:
    return DemoProcess(row["name"], Material(row["material"]), row["note"], tuple(row["step"]))


def _vessel(row: dict[str, Any]) -> VesselEntry:
    length_mm, width_mm, depth_mm = row.get("inside_mm", (None, None, None))
    return VesselEntry(
        name=row["name"],
        kind=WorkingVesselKind(row["kind"]),
        capacity_ul=row["capacity_ml"] * UL_PER_ML,
        length_mm=length_mm,
        width_mm=width_mm,
        depth_mm=depth_mm,
        fills=[FillEntry(one["size"], one["count"], one["ml"] * UL_PER_ML) for one in row.get("fills", [])],
        source=row["source"],
    )


def water_parts_milli(text: str) -> int:
    return milli_of_dilution(parse_dilution(text))


def _product(row: dict[str, Any]) -> DemoProduct:
    entry = ProductSheet(
        name=row["name"],
        supplier=row["supplier"],
        kind=SolutionKind(row["kind"]),
        waste_code=row["waste_code"],
        h_codes=row["h_codes"],
        sds_date=row["sds_date"],
        density_mg_per_ml=round(row["density"] * 1000) if "density" in row else None,
        powder_mg_per_l=round(row["powder_g"] * MG_PER_G) if "powder_g" in row else None,
        **_developing(row.get("developing", {})),
        ph_limit_milli=round(row["ph_limit"] * 1000) if "ph_limit" in row else None,
        ingredients=[_ingredient(one) for one in row.get("ingredients", [])],
        dilutions=[StatedDilution(water_parts_milli(one["parts"]), one["use"]) for one in row["dilutions"]],
        capacities=[_capacity(one) for one in row["capacities"]],
        ages=[
            StatedAge(Holding(one["holding"]), one.get("hours", 0) + one.get("days", 0) * _HOURS_PER_DAY, one["source"])
            for one in row["ages"]
        ],
    )
    received_ul = round(row["received_l"] * UL_PER_L) if "received_l" in row else None
    return DemoProduct(row["key"], entry, received_ul, not row.get("unconfirmed", False))


def _developing(row: dict[str, Any]) -> dict[str, Any]:
    kept = {"q10": ("q10_milli", 1000), "low": ("low_milli_c", 1000), "high": ("high_milli_c", 1000)}
    kept |= {"least_minutes": ("least_seconds", 60), "least_concentrate_ml": ("least_concentrate_ul", UL_PER_ML)}
    amounts = {name: round(row[key] * scale) for key, (name, scale) in kept.items() if key in row}
    return {**amounts, "developing_source": row.get("source", "")}


def _ingredient(row: dict[str, Any]) -> StatedIngredient:
    content = parse_concentration(row["percent"])
    return StatedIngredient(
        name=row["name"],
        cas=row["cas"],
        low_ppm=content.low_ppm,
        high_ppm=content.high_ppm,
        classification=row["classes"],
        specific_limits=row.get("limits", ""),
        m_acute=row.get("m_acute"),
        m_chronic=row.get("m_chronic"),
    )


def _capacity(row: dict[str, Any]) -> StatedCapacity:
    if "pieces" in row:
        measure, per_litre = CapacityMeasure.PIECES, row["pieces"]
    else:
        measure, per_litre = CapacityMeasure.AREA, area_of_units_mm2(units=row["units"])
    return StatedCapacity(water_parts_milli(row["parts"]), Material(row["material"]), measure, per_litre, row["source"])


def _line(row: dict[str, Any]) -> DemoLine:
    return DemoLine(
        key=row["key"],
        name=row["name"],
        work=Work(row["work"]),
        process=row["process"],
        baths=tuple(
            DemoBath(
                name=one["name"],
                place=Place(one["place"]),
                product=one["product"],
                water_parts_milli=water_parts_milli(one["parts"]),
                volume_ul=one["volume_ml"] * UL_PER_ML,
                capacity_ul=one["capacity_ml"] * UL_PER_ML,
                holding=Holding(one["holding"]),
            )
            for one in row["bath"]
        ),
    )


def _habit(row: dict[str, str]) -> Habit:
    return Habit(
        person=row["person"],
        line=row["line"],
        station=row["station"],
        hours=float(row["hours"]),
        size=size_of(key=row["size"]),
        material=Material(row["material"]),
        weekdays=frozenset(_WEEKDAYS.index(day) for day in row["weekdays"].split()),
        earliest=time.fromisoformat(row["from"]),
        latest=time.fromisoformat(row["to"]),
        low=int(row["low"]),
        high=int(row["high"]),
        chance=float(row["chance"]),
        class_name=row["class_name"],
    )


def _toml(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def _csv(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
