"""Data sheets and shelves for the small lab."""

from datetime import date
from typing import Any

from labsys.people.acts import Act
from labsys.products import safety
from labsys.products.models import DataSheet
from labsys.store import service as store
from labsys.store.models import Bottle, Shelf, ShelfKind
from tests.support.lab import SmallLab

SHEET = (
    b"%PDF-1.4\n1 0 obj\n<< /Type /Catalog >>\nendobj\n"
    b"xref\n0 1\n0000000000 65535 f \ntrailer\n<< /Size 2 /Root 1 0 R >>\nstartxref\n45\n%%EOF\n"
)
ISSUED = date(2025, 5, 1)  # the sheet that the entries of the tests' products were read from


def add_sheet(lab: SmallLab, product_id: int, *, content: bytes = SHEET, **changes: Any) -> DataSheet:
    """Keep an SDS of a product."""
    entry = {"content": content, "issued_on": ISSUED, "supplier": "Made-up Supplies", "language": "English"}
    return safety.add_data_sheet(
        lab.act("technician"), product_id=product_id, entry=safety.SheetEntry(**{**entry, **changes})
    )


def put_on_shelf(lab: SmallLab, *bottles: Bottle, name: str = "Shelf 1") -> Shelf:
    """Name a shelf and put bottles on it."""
    ids = [bottle.id for bottle in bottles]
    technician = lab.person("technician")
    shelf = store.add_shelf(
        Act(lab.session, by=technician, now=lab.tick()), name=name, kind=ShelfKind.SHELF, room_id=None
    )
    for bottle_id in ids:
        store.put_on_shelf(Act(lab.session, by=technician, now=lab.tick()), bottle_id=bottle_id, shelf_id=shelf.id)
    return shelf
