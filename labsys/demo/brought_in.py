"""Chemicals that people of the demonstration lab brought, or wanted to."""

from collections.abc import Iterator
from datetime import time, timedelta
from typing import Any

from labsys.brought_in import rules
from labsys.brought_in import service as brought_in
from labsys.brought_in.models import Ending
from labsys.demo.play import Play
from labsys.demo.visits import Scene
from labsys.documents.guest_label import GUEST_LABEL, OfDeclaration
from labsys.documents.service import issue_document

PUBLIC_URL = "http://127.0.0.1:8000"


def declaration_scenes(play: Play) -> Iterator[Scene]:
    """Each entry of `brought_in.toml` as it was declared, decided and ended."""
    for row in play.fixtures.declarations:
        made: dict[str, int] = {}
        for act, key in ((_declare, "days_ago"), (_decide, "decided_days_ago"), (_take_home, "taken_home_days_ago")):
            if key in row:
                at = play.instant(play.today - timedelta(days=row[key]), time.fromisoformat(row["time"]))
                yield at, lambda act=act, row=row, made=made: act(play, row, made)  # type: ignore[misc]


def _declare(play: Play, row: dict[str, Any], made: dict[str, int]) -> None:
    amount, unit = rules.parse_amount(row["amount"])
    declared = brought_in.Declared(
        name=row["name"],
        supplier=row["supplier"],
        h_codes=row["h_codes"],
        ingredients=rules.parse_ingredients("\n".join(row["ingredients"])),
        amount=amount,
        unit=unit,
        task=row["task"],
        first_on=play.today - timedelta(days=row["from_days_ago"]),
        last_on=play.today - timedelta(days=row["until_days_ago"]),
        waste_code=row.get("waste_code", ""),
    )
    made["id"] = brought_in.declare(play.act(row["who"]), declared=declared).id


def _decide(play: Play, row: dict[str, Any], made: dict[str, int]) -> None:
    decider = play.person(row["decided_by"])
    decided = brought_in.decide(
        play.act(decider),
        declaration_id=made["id"],
        decision=brought_in.Decision(
            accepts="reasons" not in row,
            sds_shown=row["sds_shown"],
            reasons=row.get("reasons", ""),
            conditions=row.get("conditions", ""),
        ),
        public_url=PUBLIC_URL,
    )
    if decided.is_accepted:
        issue_document(play.act(decider), GUEST_LABEL, OfDeclaration(made["id"]), public_url=PUBLIC_URL)


def _take_home(play: Play, row: dict[str, Any], made: dict[str, int]) -> None:
    brought_in.end(
        play.act(row["who"]),
        declaration_id=made["id"],
        ending=Ending.TAKEN_HOME,
        container_label="",
        ended_at=play.at,
    )
