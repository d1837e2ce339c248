"""What people do about chemicals they bring: declare one, decide about it, and say how it ended."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from labsys.brought_in import queries, rules
from labsys.brought_in.models import Declaration, DeclaredIngredient, Ending
from labsys.brought_in.rules import Named
from labsys.ledger.models import Unit
from labsys.mail import service as mail
from labsys.mail.kinds import DECLARATION, Message
from labsys.people import queries as people
from labsys.people.acts import Act, act
from labsys.people.permissions import NotPermitted, Permission, require
from labsys.processes import queries as processes
from labsys.products import safety
from labsys.products.rules import plain_h_codes
from labsys.records import queries as lab
from labsys.records import service as records
from labsys.records.models import CodeKind
from labsys.timetable.local_time import to_local


@dataclass(frozen=True)
class Declared:
    """What somebody says they will bring. An empty waste code: they take home what is left.

    `AS_TOLD` are kept as they are, in columns of the same names.
    """

    name: str
    supplier: str
    h_codes: str
    ingredients: Sequence[Named]
    amount: int
    unit: Unit
    task: str
    first_on: date
    last_on: date
    waste_code: str = ""
    process_id: int | None = None
    sds: bytes | None = None

    AS_TOLD = ("name", "supplier", "amount", "unit", "task", "process_id", "first_on", "last_on", "waste_code")


@dataclass(frozen=True)
class Decision:
    """Yes or no, with reasons and conditions, and whether the SDS was shown to whoever decides."""

    accepts: bool
    sds_shown: bool = False
    reasons: str = ""
    conditions: str = ""


@act
def declare(act: Act, *, declared: Declared) -> Declaration:
    """Declare a chemical; at short notice too, which is marked. Raises NotPermitted, NotFound or Refused."""
    require(act.actor, Permission.DECLARE_CHEMICAL)
    rules.check_days(first_on=declared.first_on, last_on=declared.last_on)
    if declared.process_id is not None:
        processes.process_or_raise(act.session, declared.process_id)
    today = to_local(act.now, zone=lab.zone(act.session)).date()
    declaration = Declaration(
        **{name: getattr(declared, name) for name in Declared.AS_TOLD},
        person_id=act.actor.id,
        h_codes=plain_h_codes(declared.h_codes),
        sds_digest=None if declared.sds is None else safety.keep_content(act.session, declared.sds),
        declared_at=act.now,
        ingredients=[DeclaredIngredient(name=named.name, cas=named.cas) for named in declared.ingredients],
    )
    act.session.add(declaration)
    facts = {
        "name": declared.name,
        "supplier": declared.supplier,
        "h_codes": declaration.h_codes,
        "ingredients": [[named.name, named.cas] for named in declared.ingredients],
        "amount": declared.amount,
        "unit": declared.unit,
        "first_on": declared.first_on.isoformat(),
        "last_on": declared.last_on.isoformat(),
        "waste_code": declared.waste_code,
        "sds": declaration.sds_digest or "",
        "late": rules.is_late(declared_on=today, first_on=declared.first_on),
    }
    act.tell("chemical.declared", about=declaration, facts=facts)
    return declaration


@act
def decide(act: Act, *, declaration_id: int, decision: Decision) -> Declaration:
    """Say yes or no, and write to the person. A yes gives the bottle a code.

    Raises NotPermitted, NotFound or DeclarationRefused.
    """
    require(act.actor, Permission.DECIDE_CHEMICAL)
    declaration = queries.declaration_or_raise(act.session, declaration_id, lock=True)
    rules.check_decision(
        is_decided=declaration.decided_at is not None,
        is_ended=declaration.ended_at is not None,
        accepts=decision.accepts,
        sds_shown=decision.sds_shown,
        reasons=decision.reasons,
        restricted=rules.restricted(declaration),
    )
    declaration.is_accepted, declaration.sds_shown = decision.accepts, decision.sds_shown
    declaration.reasons, declaration.conditions = decision.reasons, decision.conditions
    declaration.decided_at, declaration.decided_by_id = act.now, act.actor.id
    if decision.accepts:
        declaration.code = records.give_code(act.session, kind=CodeKind.GUEST, row_id=declaration.id)
    _write(act, declaration)
    facts = {
        "accepted": decision.accepts,
        "sds_shown": decision.sds_shown,
        "reasons": decision.reasons,
        "conditions": decision.conditions,
        "code": declaration.code or "",
    }
    act.tell("chemical.decided", about=declaration, facts=facts)
    return declaration


@act
def end(act: Act, *, declaration_id: int, ending: Ending, container_label: str, ended_at: datetime) -> Declaration:
    """Say what became of it: taken home, disposed of into a container, or never brought.

    What went into the container is recorded as a pour of its own. Raises NotPermitted, NotFound or DeclarationRefused.
    """
    declaration = queries.declaration_or_raise(act.session, declaration_id, lock=True)
    if not rules.may_end(act.actor, owner_id=declaration.person_id):
        raise NotPermitted(Permission.DECIDE_CHEMICAL)
    rules.check_ending(
        is_decided=declaration.decided_at is not None,
        is_ended=declaration.ended_at is not None,
        ending=ending,
        container_label=container_label,
    )
    declaration.ending, declaration.ended_at = ending, ended_at
    declaration.container_label = container_label if ending is Ending.DISPOSED_OF else ""
    facts = {"ending": ending, "container": declaration.container_label, "ended_at": ended_at.isoformat()}
    act.tell("chemical.ended", about=declaration, facts=facts)
    return declaration


def _write(act: Act, declaration: Declaration) -> None:
    """Tell the person what was decided."""
    if declaration.is_accepted:
        subject = f"You may bring {declaration.name}"
        said = (
            f"You may bring {declaration.name} from {declaration.first_on:%-d %b %Y} to "
            f"{declaration.last_on:%-d %b %Y}. Its label {declaration.code} has to be on the bottle before it comes in."
        )
    else:
        subject = f"{declaration.name}: please do not bring it"
        said = f"Please do not bring {declaration.name}."
    parts = [
        said,
        f"Conditions: {declaration.conditions}" if declaration.conditions else "",
        f"Reasons: {declaration.reasons}" if declaration.reasons else "",
    ]
    body = "\n\n".join(filter(None, parts)) + "\n"
    key, page = f"declaration {declaration.id} decided", f"/brought-in/{declaration.id}"
    person = people.person_or_raise(act.session, declaration.person_id)
    mail.queue(act.session, Message(DECLARATION, key, subject, body, page), to=person, by=act.actor, now=act.now)
