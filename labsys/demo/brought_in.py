"""Chemicals that people of the demonstration lab brought, or wanted to."""

from labsys.brought_in import rules
from labsys.brought_in import service as brought_in
from labsys.brought_in.models import Ending
from labsys.demo.fixtures import Entry
from labsys.demo.play import Play
from labsys.documents.guest_label import GUEST_LABEL, OfDeclaration


def declare(play: Play, told: Entry) -> None:
    """Declare what an entry of `brought_in.toml` names."""
    amount, unit = rules.parse_amount(told["amount"])
    declared = brought_in.Declared(
        name=told["name"],
        supplier=told["supplier"],
        h_codes=told["h_codes"],
        ingredients=rules.parse_ingredients("\n".join(told["ingredients"])),
        amount=amount,
        unit=unit,
        task=told["task"],
        first_on=play.day(told["from_days_ago"]),
        last_on=play.day(told["until_days_ago"]),
        waste_code=told.get("waste_code", ""),
    )
    told["id"] = brought_in.declare(play.act(told["who"]), declared=declared).id


def decide(play: Play, told: Entry) -> None:
    """Let it in, with its label, or not."""
    decider = play.person(told["decided_by"])
    decided = brought_in.decide(
        play.act(decider),
        declaration_id=told["id"],
        decision=brought_in.Decision(
            accepts="reasons" not in told,
            sds_shown=told["sds_shown"],
            reasons=told.get("reasons", ""),
            conditions=told.get("conditions", ""),
        ),
    )
    if decided.is_accepted:
        play.issue(decider, GUEST_LABEL, OfDeclaration(told["id"]))


def take_home(play: Play, told: Entry) -> None:
    """Take it home again."""
    brought_in.end(
        play.act(told["who"]), declaration_id=told["id"], ending=Ending.TAKEN_HOME, container_label="", ended_at=play.at
    )
