"""What the pages of brought-in chemicals show."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from labsys.brought_in import rules
from labsys.brought_in.models import Declaration
from labsys.brought_in.rules import KeepApart
from labsys.hazards.restricted import Restricted
from labsys.hazards.statements import printed_text
from labsys.ledger.rules import show
from labsys.products.rules import codes_of
from labsys.timetable.local_time import to_local


@dataclass(frozen=True)
class DeclarationView:
    """A declaration in words: its state, how late it came, and what it must not meet here."""

    declaration: Declaration
    amount: str
    state: str
    is_overdue: bool
    late: str
    statements: tuple[str, ...]
    advice: KeepApart
    restricted: tuple[Restricted, ...]


def view_of(declaration: Declaration, *, now: datetime, zone: ZoneInfo) -> DeclarationView:
    today = to_local(now, zone=zone).date()
    return DeclarationView(
        declaration=declaration,
        amount=show(declaration.amount, declaration.unit),
        state=state_in_words(declaration, today=today),
        is_overdue=is_overdue(declaration, today=today),
        late=_late_in_words(declaration, zone=zone),
        statements=tuple(statement_line(code) for code in codes_of(declaration.h_codes)),
        advice=rules.keep_apart(declaration.ingredients, h_codes=declaration.h_codes),
        restricted=rules.restricted(declaration),
    )


def is_overdue(declaration: Declaration, *, today: date) -> bool:
    """Whether it was let in, and should have been gone by now."""
    return bool(declaration.is_accepted) and declaration.ended_at is None and declaration.last_on < today


def state_in_words(declaration: Declaration, *, today: date) -> str:
    if declaration.ending is not None:
        return str(declaration.ending)
    if declaration.is_accepted is None:
        return "waits for a decision"
    if not declaration.is_accepted:
        return "refused"
    return "past its last day" if is_overdue(declaration, today=today) else "accepted"


def _late_in_words(declaration: Declaration, *, zone: ZoneInfo) -> str:
    declared_on = to_local(declaration.declared_at, zone=zone).date()
    if not rules.is_late(declared_on=declared_on, first_on=declaration.first_on):
        return ""
    return f"Declared late: the lab asks for {rules.LEAD_DAYS} days."


def statement_line(code: str) -> str:
    """A code with its words; those of EUH208 name a substance, and are left to the SDS."""
    return code if code == "EUH208" else f"{code} {printed_text(code)}"
