"""Competences of the demonstration lab: granted, seen by a witness, revoked."""

from datetime import timedelta

from labsys.competences import service as competences
from labsys.competences.models import Competence
from labsys.demo.fixtures import Entry
from labsys.demo.play import Play
from labsys.timetable.local_time import to_local


def grant(play: Play, told: Entry) -> None:
    """Grant somebody what they showed, and let the witness say so, unless she has not got round to it yet."""
    today = to_local(play.at, zone=play.zone).date()
    witness = told.get("witness")
    for name in told["competences"]:
        granted = competences.grant(
            play.act(told["by"]),
            person_id=play.ids[told["to"]],
            competence=Competence(name),
            may_grant=told.get("may_grant", False),
            happened_on=today,
            until=today + timedelta(days=told["holds_days"]),
            witness_id=play.ids[witness] if witness else None,
            because=told.get("because", ""),
        )
        play.ids[f"grant {told['to']} {name}"] = granted.id
        if witness and not told.get("unconfirmed"):
            competences.witness(play.act(witness), grant_id=granted.id)


def revoke(play: Play, told: Entry) -> None:
    for name in told["competences"]:
        grant_id = play.ids[f"grant {told['to']} {name}"]
        competences.revoke(play.act(told["revoked_by"]), grant_id=grant_id, because=told["revoked_because"])
