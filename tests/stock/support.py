"""What the tests of the chemical store type, and how they send it."""

from datetime import timedelta
from typing import Any

from labsys.chemistry.bath_rules import Holding
from tests.support.client import hidden_field
from tests.support.lab import START

NOW = START + timedelta(days=1)


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


def hidden(client: Any, address: str) -> dict[str, str]:
    """What the form of a page carries without anybody typing it."""
    page = client.get(address).get_data(as_text=True)
    names = ["csrf_token", "submission_key", *[name for name in ("version", "edition") if f'name="{name}"' in page]]
    return {name: hidden_field(page, name) for name in names}


def send(client: Any, address: str, fields: dict[str, str] | None = None, *, read: str | None = None) -> Any:
    """Open a page as a person would, and send its form with what they type."""
    return client.post(address, data={**hidden(client, read or address), **(fields or {})})


def text_of(answer: Any) -> str:
    return str(answer.get_data(as_text=True))
