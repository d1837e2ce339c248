"""What the tests of products, store, processes and labware type, how they send it, and the day on which they do."""

from datetime import timedelta

import pytest

from labsys import clock
from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.people.acts import Act
from labsys.processes import service as processes
from labsys.products.models import Product
from tests.support.lab import START, SmallLab

NOW = START + timedelta(days=1)


@pytest.fixture(autouse=True)
def _the_clock_stands_a_day_after_the_lab_began(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(clock, "now", lambda: NOW)


def add_waiting(lab: SmallLab, **changes: object) -> Product:
    """A product that nobody confirmed yet."""
    entries = {"name": "Slow fixer concentrate", **changes}
    return lab.add_product(SolutionKind.FIXER, confirmed=False, **entries)


def a_process(lab: SmallLab) -> int:
    steps = [
        processes.StepEntry(
            name="Develop",
            product_id=lab.ids["product developer"],
            water_parts_milli=6_000,
            seconds=330,
            temperature_milli_c=20_500,
            in_the_dark=True,
            note="Agitate 10 s each minute.",
            source="data sheet, page 1",
        ),
        processes.StepEntry(name="Wash", changes=6),
    ]
    process = processes.add_process(
        Act(lab.session, by=lab.person("technician"), now=lab.tick()),
        name="Плёнка 120",
        material=Material.FILM,
        note="",
        steps=steps,
    )
    return process.id


def product_fields(**changes: str) -> dict[str, str]:
    """What a technician types for a stop bath: one row of each kind, and the presets of an empty row."""
    fields = {
        "name": "Citric stop concentrate",
        "supplier": "Made-up Supplies",
        "kind": "stop",
        "waste_code": "09 01 99",
        "sds_date": "2025-11-30",
        "h_codes": "H314, H335",
        "density": "1,05",
        "powder": "",
        "ph_limit": "5.8",
        "ingredients-0-cas": "64-19-7",
        "ingredients-0-name": "acetic acid",
        "ingredients-0-content": "< 40 %",
        "ingredients-0-classification": "Flam. Liq. 3 (H226); Skin Corr. 1A, H314",
        "ingredients-0-specific_limits": "Skin Corr. 1B; H314: 25 % ≤ C < 90 %",
        "ingredients-0-m_acute": "",
        "dilutions-0-dilution": "1+19",
        "dilutions-0-use": "film and paper",
        "capacities-0-dilution": "1 + 19",
        "capacities-0-material": "film",
        "capacities-0-per_litre": "12.5",
        "capacities-0-measure": "area",
        "capacities-0-source": "data sheet, page 2",
        "capacities-1-measure": "area",
        "ages-0-holding": Holding.TRAY,
        "ages-0-keeps": "3",
        "ages-0-unit": "days",
        "ages-0-source": "data sheet, page 2",
        "ages-1-unit": "days",
    }
    return fields | {name.replace("__", "-"): text for name, text in changes.items()}
