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
from labsys.chemistry.sizes import FilmFormat, Material, Size, area_of_units_mm2, size_of
from labsys.hazards.concentration import parse_concentration
from labsys.hazards.spans import parse_span
from labsys.labware.models import WorkingVesselKind
from labsys.labware.service import FillEntry, VesselEntry
from labsys.people.models import Role
from labsys.processes.film_times import PPM_OF_PERCENT, FilmTimeEntry
from labsys.processes.service import StepEntry
from labsys.products.rules import read_dilution
from labsys.products.sheet import (
    HOURS_PER_DAY,
    CapacityMeasure,
    ProductSheet,
    StatedAge,
    StatedCapacity,
    StatedDilution,
    StatedIngredient,
)
from labsys.quantities import MG_PER_G, MILLI, UL_PER_L, UL_PER_ML

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

Entry = dict[str, Any]  # an entry of a file, as it is written there

# What a figure in a file is called where it is kept, and how many of what is kept there one of it is.
_PRODUCT_FIGURES = {
    "flash_point": ("flash_point_milli_c", MILLI),
    "powder_g": ("powder_mg_per_l", MG_PER_G),
    "ph_limit": ("ph_limit_milli", MILLI),
    "q10": ("q10_milli", MILLI),
    "low": ("low_milli_c", MILLI),
    "high": ("high_milli_c", MILLI),
    "least_minutes": ("least_seconds", 60),
    "least_concentrate_ml": ("least_concentrate_ul", UL_PER_ML),
}
_PH = ("ph_low_milli", "ph_high_milli")
_STEP_FIGURES = {
    "minutes": ("seconds", 60),
    "celsius": ("temperature_milli_c", MILLI),
    "celsius_off": ("tolerance_milli_c", MILLI),
}


@dataclass(frozen=True)
class DemoPerson:
    key: str
    name: str
    email: str
    roles: frozenset[Role]


@dataclass(frozen=True)
class DemoProduct:
    """A product; `received_ul` is None for one of which no bottle stands in the store."""

    sheet: ProductSheet
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
    work: Work
    process: str
    baths: tuple[DemoBath, ...]


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
class Fixtures:
    """What every TOML file tells, by the file's name; and read further, what more than one scene asks for."""

    told: dict[str, Entry]
    pictures: dict[str, bytes]
    people: tuple[DemoPerson, ...]
    products: dict[str, DemoProduct]
    lines: tuple[DemoLine, ...]
    habits: tuple[Habit, ...]


def read_fixtures(folder: Path) -> Fixtures:
    """Read every file of the folder. Raises the reader's own error at a file that cannot be read."""
    told = {path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in folder.glob("*.toml")}
    return Fixtures(
        told,
        people=tuple(
            DemoPerson(row["key"], row["name"], row["email"], frozenset(Role(role) for role in row["roles"].split(";")))
            for row in _csv(folder / "people.csv")
        ),
        products={row["key"]: _product(row) for name in ("products", "ways") for row in told[name]["product"]},
        lines=tuple(_line(row) for row in told["lines"]["line"]),
        pictures={path.name: path.read_bytes() for path in folder.glob("*.png")},
        habits=tuple(_habit(row) for row in _csv(folder / "habits.csv")),
    )


def vessel_entry(told: Entry) -> VesselEntry:
    return VesselEntry(
        name=told["name"],
        kind=WorkingVesselKind(told["kind"]),
        capacity_ul=told["capacity_ml"] * UL_PER_ML,
        **dict(zip(("length_mm", "width_mm", "depth_mm"), told.get("inside_mm", ()), strict=False)),
        fills=[FillEntry(fill["size"], fill["count"], fill["ml"] * UL_PER_ML) for fill in told.get("fills", [])],
        source=told["source"],
    )


def step_entry(told: Entry, *, product_id: int | None) -> StepEntry:
    plain = {
        name: told[name]
        for name in ("name", "changes", "any_film", "in_the_dark", "air", "note", "source")
        if name in told
    }
    water_parts_milli = read_dilution(told["parts"]) if "parts" in told else None
    return StepEntry(
        **plain, **_figures(told, _STEP_FIGURES), product_id=product_id, water_parts_milli=water_parts_milli
    )


def film_time_entry(told: Entry, *, product_id: int) -> FilmTimeEntry:
    reuse = told.get("reuse", {})
    longer = reuse.get("longer_percent")
    return FilmTimeEntry(
        **{name: told[name] for name in ("film", "exposure_index", "agitation", "source")},
        **_figures(told, _STEP_FIGURES),
        product_id=product_id,
        water_parts_milli=read_dilution(told["parts"]),
        film_format=FilmFormat(told["format"]),
        free_milli=reuse.get("after", 0) * MILLI,
        longer_ppm=None if longer is None else longer * PPM_OF_PERCENT,
    )


def bath_of(told: Entry) -> DemoBath:
    return DemoBath(
        name=told["name"],
        place=Place(told["place"]),
        product=told["product"],
        water_parts_milli=read_dilution(told["parts"]),
        volume_ul=told["volume_ml"] * UL_PER_ML,
        capacity_ul=told["capacity_ml"] * UL_PER_ML,
        holding=Holding(told["holding"]),
    )


def _figures(told: Entry, kept: dict[str, tuple[str, int]]) -> dict[str, Any]:
    return {name: round(told[key] * scale) for key, (name, scale) in kept.items() if key in told}


def _span(told: Entry, key: str, ends: tuple[str, str]) -> dict[str, Any]:
    """The two ends of a figure or a range, as they are kept; nothing where it is not stated."""
    if key not in told:
        return {}
    return dict(zip(ends, parse_span(str(told[key]), lowest=0, highest=14, may_be_open=True), strict=True))


def _product(told: Entry) -> DemoProduct:
    developing = told.get("developing", {})
    sheet = ProductSheet(
        **{name: told[name] for name in ("name", "supplier", "waste_code", "h_codes", "sds_date")},
        **_figures(told | developing, _PRODUCT_FIGURES),
        **_span(told, "density", ("density_mg_per_ml", "density_high_mg_per_ml")),
        **_span(told, "ph", _PH),
        kind=SolutionKind(told["kind"]),
        developing_source=developing.get("source", ""),
        ingredients=[_ingredient(row) for row in told.get("ingredients", [])],
        dilutions=[
            StatedDilution(read_dilution(row["parts"]), row["use"], **_span(row, "ph", _PH))
            for row in told["dilutions"]
        ],
        capacities=[_capacity(row) for row in told["capacities"]],
        ages=[
            StatedAge(Holding(row["holding"]), row.get("hours", 0) + row.get("days", 0) * HOURS_PER_DAY, row["source"])
            for row in told["ages"]
        ],
    )
    received_ul = round(told["received_l"] * UL_PER_L) if "received_l" in told else None
    return DemoProduct(sheet, received_ul, not told.get("unconfirmed", False))


def _ingredient(told: Entry) -> StatedIngredient:
    content = parse_concentration(told["percent"])
    return StatedIngredient(
        name=told["name"],
        cas=told["cas"],
        low_ppm=content.low_ppm,
        high_ppm=content.high_ppm,
        classification=told["classes"],
        specific_limits=told.get("limits", ""),
        m_acute=told.get("m_acute"),
        m_chronic=told.get("m_chronic"),
    )


def _capacity(told: Entry) -> StatedCapacity:
    if "pieces" in told:
        measure, per_litre = CapacityMeasure.PIECES, told["pieces"]
    else:
        measure, per_litre = CapacityMeasure.AREA, area_of_units_mm2(units=told["units"])
    return StatedCapacity(read_dilution(told["parts"]), Material(told["material"]), measure, per_litre, told["source"])


def _line(told: Entry) -> DemoLine:
    return DemoLine(told["key"], Work(told["work"]), told["process"], tuple(bath_of(row) for row in told["bath"]))


def _habit(row: dict[str, str]) -> Habit:
    return Habit(
        **{name: row[name] for name in ("person", "line", "station", "class_name")},
        hours=float(row["hours"]),
        size=size_of(key=row["size"]),
        material=Material(row["material"]),
        weekdays=frozenset(_WEEKDAYS.index(day) for day in row["weekdays"].split()),
        earliest=time.fromisoformat(row["from"]),
        latest=time.fromisoformat(row["to"]),
        low=int(row["low"]),
        high=int(row["high"]),
        chance=float(row["chance"]),
    )


def _csv(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
