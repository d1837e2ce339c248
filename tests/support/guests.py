"""Chemicals people bring, in the small lab."""

from datetime import timedelta
from typing import Any

from labsys.brought_in import rules, service
from labsys.brought_in.models import Declaration
from labsys.ledger.models import Unit
from tests.support.lab import SmallLab
from tests.support.safety import SHEET

YES = service.Decision(accepts=True, sds_shown=True, conditions="In the fume hood only")
NO = service.Decision(accepts=False, reasons="Not in this room")


def declare(lab: SmallLab, *, role: str = "member", **changes: Any) -> Declaration:
    """Declare a strong acid a week ahead."""
    today = lab.now.date()
    declared: dict[str, Any] = {
        "name": "Glacial acetic acid",
        "supplier": "Made-up Supplies",
        "h_codes": "H226 H314",
        "ingredients": rules.parse_ingredients("acetic acid, 64-19-7"),
        "amount": 250_000,
        "unit": Unit.UL,
        "sds": SHEET,
        "task": "A stop bath of my own",
        "first_on": today + timedelta(days=7),
        "last_on": today + timedelta(days=9),
    }
    return service.declare(lab.act(role), declared=service.Declared(**{**declared, **changes}))


def decide(
    lab: SmallLab, declaration: Declaration, decision: service.Decision, *, by: str = "technician"
) -> Declaration:
    return service.decide(lab.act(by), declaration_id=declaration.id, decision=decision)
