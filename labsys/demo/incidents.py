"""Incidents of the demonstration lab: reported by those who were there, closed by the safety adviser."""

from collections.abc import Iterator
from datetime import time, timedelta
from typing import Any

from labsys.demo.play import Play
from labsys.demo.visits import Scene
from labsys.incidents import service as incidents
from labsys.incidents.models import IncidentKind


def incident_scenes(play: Play) -> Iterator[Scene]:
    """Each entry of `incidents.toml` as it was reported and, where it was, closed."""
    for row in play.fixtures.incidents:
        made: dict[str, int] = {}
        day = play.today - timedelta(days=row["days_ago"])
        at = play.instant(day, time.fromisoformat(row["time"]))
        yield at, lambda row=row, made=made: _report(play, row, made)  # type: ignore[misc]
        if "changed" in row:
            closed_at = at + timedelta(days=row["closed_after_days"])
            yield closed_at, lambda row=row, made=made: _close(play, row, made)  # type: ignore[misc]


def _report(play: Play, row: dict[str, Any], made: dict[str, int]) -> None:
    made["id"] = incidents.report(
        play.act(row["who"]),
        told=incidents.IncidentReport(
            kind=IncidentKind(row["kind"]),
            what=row["what"],
            done=row["done"],
            hurt=row.get("hurt", ""),
            station_id=play.ids[f"station {row['station']}"],
            process_ids=[play.ids[f"process {name}"] for name in row["processes"]],
            product_ids=[play.ids[f"product {key}"] for key in row["products"]],
        ),
        happened_at=play.at,
    ).id


def _close(play: Play, row: dict[str, Any], made: dict[str, int]) -> None:
    incidents.close(play.act("odile"), incident_id=made["id"], changed=row["changed"])
