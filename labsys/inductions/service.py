"""What those who keep the inductions do: write them, issue versions, say what needs them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select

from labsys.chemistry.sizes import Material
from labsys.database import DbSession
from labsys.inductions import queries, rules, teaching
from labsys.inductions.models import Hazard, Induction, InductionVersion, Requirement
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.places.models import Station
from labsys.records.errors import NotFound


@dataclass(frozen=True)
class NeededFor:
    """What an induction is needed for, all of it."""

    station_ids: frozenset[int] = frozenset()
    materials: frozenset[Material] = frozenset()
    hazards: frozenset[Hazard] = frozenset()

    @property
    def facts(self) -> dict[str, Sequence[int] | Sequence[str]]:
        """How the record keeps it."""
        return {
            "stations": sorted(self.station_ids),
            "materials": sorted(self.materials),
            "hazards": sorted(self.hazards),
        }


@act
def add_induction(
    act: Act, *, name: str, how_to_get: str, text: str, valid_days: int | None, needed_for: NeededFor
) -> Induction:
    """Add an induction with its first version and what it is needed for. Raises NotPermitted or InductionRefused."""
    require(act.actor, Permission.KEEP_INDUCTIONS)
    _refuse_name_taken(act.session, name)
    induction = Induction(name=name, how_to_get=how_to_get)
    act.session.add(induction)
    version = _new_version(induction, text=text, valid_days=valid_days, must_repeat=False, now=act.now)
    _put_requirements(act.session, induction, needed_for)
    facts = {"name": name, "valid_days": valid_days, "points": teaching.points_of(version.text), **needed_for.facts}
    act.tell("induction.added", about=induction, facts=facts)
    return induction


@act
def change_induction(act: Act, *, induction_id: int, name: str, how_to_get: str) -> Induction:
    """Change what an induction is called and how people get it; what is taught takes a new version."""
    require(act.actor, Permission.KEEP_INDUCTIONS)
    induction = queries.induction_or_raise(act.session, induction_id, lock=True)
    if name != induction.name:
        _refuse_name_taken(act.session, name)
    facts = {"before": [induction.name, induction.how_to_get], "after": [name, how_to_get]}
    induction.name, induction.how_to_get = name, how_to_get
    act.tell("induction.changed", about=induction, facts=facts)
    return induction


@act
def set_requirements(act: Act, *, induction_id: int, needed_for: NeededFor) -> Induction:
    """Say anew what an induction is needed for. Whoever lacks it is not cleared from now on."""
    require(act.actor, Permission.KEEP_INDUCTIONS)
    induction = queries.induction_or_raise(act.session, induction_id, lock=True)
    before = needs_of(induction)
    _put_requirements(act.session, induction, needed_for)
    facts = {"before": before.facts, "after": needed_for.facts}
    act.tell("induction.requirements_set", about=induction, facts=facts)
    return induction


@act
def issue_version(
    act: Act, *, induction_id: int, text: str, valid_days: int | None, must_repeat: bool
) -> InductionVersion:
    """Issue a new version. With `must_repeat` what was signed under earlier ones no longer counts."""
    require(act.actor, Permission.KEEP_INDUCTIONS)
    induction = queries.induction_or_raise(act.session, induction_id, lock=True)
    newest = induction.versions[-1]
    is_same = teaching.points_of(text) == teaching.points_of(newest.text) and valid_days == newest.valid_days
    if is_same and not must_repeat:
        raise rules.InductionRefused("Nothing is different from the version that stands. Change a point first.")
    version = _new_version(induction, text=text, valid_days=valid_days, must_repeat=must_repeat, now=act.now)
    facts = {
        "induction": induction.id,
        "number": version.number,
        "valid_days": valid_days,
        "must_repeat": must_repeat,
        "points": teaching.points_of(version.text),
    }
    act.tell("induction.version_issued", about=version, facts=facts)
    return version


def needs_of(induction: Induction) -> NeededFor:
    """What an induction is needed for as it stands."""
    rows = induction.requirements
    return NeededFor(
        station_ids=frozenset(row.station_id for row in rows if row.station_id is not None),
        materials=frozenset(row.material for row in rows if row.material is not None),
        hazards=frozenset(row.hazard for row in rows if row.hazard is not None),
    )


def _refuse_name_taken(session: DbSession, name: str) -> None:
    if queries.induction_by_name(session, name) is not None:
        raise rules.InductionRefused(f"There is an induction called {name} already.", field="name")


def _new_version(
    induction: Induction, *, text: str, valid_days: int | None, must_repeat: bool, now: datetime
) -> InductionVersion:
    points = teaching.points_of(text)
    teaching.check_version(points=points, valid_days=valid_days)
    version = InductionVersion(
        number=len(induction.versions) + 1,
        text="\n".join(points),
        valid_days=valid_days,
        must_repeat=must_repeat,
        issued_at=now,
    )
    induction.versions.append(version)
    return version


def _put_requirements(session: DbSession, induction: Induction, needed_for: NeededFor) -> None:
    """Keep the rows that stay, so that what did not change keeps its place; a closed station may stay, not come."""
    before = needs_of(induction)
    known = set(session.execute(select(Station.id).where(Station.closed_at.is_(None))).scalars())
    if unknown := needed_for.station_ids - before.station_ids - known:
        raise NotFound("station", min(unknown))
    for row in list(induction.requirements):
        stays = (
            row.station_id in needed_for.station_ids
            or row.material in needed_for.materials
            or row.hazard in needed_for.hazards
        )
        if not stays:
            induction.requirements.remove(row)
            session.delete(row)
    new = [
        *(Requirement(station_id=station_id) for station_id in sorted(needed_for.station_ids - before.station_ids)),
        *(Requirement(material=material) for material in sorted(needed_for.materials - before.materials)),
        *(Requirement(hazard=hazard) for hazard in sorted(needed_for.hazards - before.hazards)),
    ]
    induction.requirements.extend(new)
