"""What the tests of waste type."""

from labsys.waste.models import WasteKind
from labsys.waste.rules import Poured

L = 1_000_000


def pour_path(container):
    return f"/waste/containers/{container.id}/pour"


RIGHT = {"volume": "600 mL", "what": "Fixer used once", "of": "kind:fixer", "waste_code": "09 01 04*"}
ASKED = {"volume": "600 mL", "what": "PQ developer 1+9", "of": "kind:developer", "waste_code": "09 01 01*"}
WRONG = {**ASKED, "record_done": "y"}
UNKNOWN = {"volume": "600 mL", "what": "jug without a label", "of": "not-known", "waste_code": "09 01 04*"}
NOTE = {"note_code": "ALDERS/00001", "carrier": "Ωmega Перевозки"}
RESTATED = {
    "kind": "classified anew",
    "note": "Looked at by Пётр",
    "code": "16 05 06*",
    "components": "fixer 97 %, developer 3 %",
    "properties": "hp14 HP 5",
    "acceptance": "Invented Consignee, 2 March 2026, ref. Ж-77",
}


def poured(what, code, volume_ul, kind):
    return Poured(what, code, volume_ul, kind=WasteKind(kind))
