"""What the tests of waste type."""

L = 1_000_000


def pour_path(container):
    return f"/waste/containers/{container.id}/pour"


RIGHT = {"volume": "600", "what": "Fixer used once", "waste_code": "09 01 04*"}
WRONG = {"volume": "600", "what": "PQ developer 1+9", "waste_code": "09 01 01*"}
NOTE = {"note_code": "ALDERS/00001", "carrier": "Ωmega Перевозки"}
