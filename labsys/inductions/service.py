"""What those who keep the inductions do: write them, issue versions, say what needs them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sqlalchemy import select

from labsys.chemistry.sizes import Material
from labsys.database import DbSession
from labsys.inductions import contents, queries, rules
from labsys.inductions.contents import Further
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
    act: Act,
    *,
    name: str,
    how_to_get: str,
    text: str,
    valid_days: int | None,
    needed_for: NeededFor,
    further: Further = contents.NOTHING,
) -> Induction:
    """Add an induction with its first version and what it is needed for; hazards that ask for it are covered by it.

    Raises NotPermitted or InductionRefused.
    """
    require(act.actor, Permission.KEEP_INDUCTIONS)
    _refuse_name_taken(act.session, name)
    induction = Induction(name=name, how_to_get=how_to_get)
    act.session.add(induction)
    further = replace(further, covers=further.covers | needed_for.hazards)
    version = _new_version(act, induction, text=text, valid_days=valid_days, must_repeat=False, further=further)
    _put_requirements(act.session, induction, needed_for)
    facts = {"name": name, **needed_for.facts, **_facts_of(version)}
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
    if uncovered := sorted(needed_for.hazards - before.hazards - induction.versions[-1].hazards_covered):
        raise rules.InductionRefused(
            f"Its text does not cover chemicals that are {', '.join(uncovered)}. Issue a version that does, then ask "
            "for it.",
            field="hazards",
        )
    _put_requirements(act.session, induction, needed_for)
    facts = {"before": before.facts, "after": needed_for.facts}
    act.tell("induction.requirements_set", about=induction, facts=facts)
    return induction


@act
def issue_version(
    act: Act, *, induction_id: int, text: str, valid_days: int | None, must_repeat: bool, further: Further | None = None
) -> InductionVersion:
    """Issue a new version. With `must_repeat` what was signed under earlier ones no longer counts.

    Without `further` all but the text stays as it is. Raises NotPermitted, NotFound or InductionRefused.
    """
    require(act.actor, Permission.KEEP_INDUCTIONS)
    induction = queries.induction_or_raise(act.session, induction_id, lock=True)
    newest = induction.versions[-1]
    further = further_of(newest) if further is None else further
    contents.check_further(
        further, text=text, valid_days=valid_days, needed=[row.hazard for row in induction.requirements if row.hazard]
    )
    before = _facts_of(newest)
    version = _new_version(act, induction, text=text, valid_days=valid_days, must_repeat=must_repeat, further=further)
    facts = _facts_of(version)
    if facts == before and not must_repeat:
        raise rules.InductionRefused("Nothing is different from the version that stands. Change a point first.")
    facts = {"induction": induction.id, "number": version.number, "must_repeat": must_repeat, **facts}
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


def further_of(version: InductionVersion) -> Further:
    """What a version holds besides its text."""
    return Further(
        covers=version.hazards_covered,
        practice=version.practice,
        refresher=version.refresher,
        refresher_days=version.refresher_days,
        quiz=version.quiz,
        pass_mark=version.pass_mark,
    )


def _new_version(
    act: Act, induction: Induction, *, text: str, valid_days: int | None, must_repeat: bool, further: Further
) -> InductionVersion:
    pictures = queries.pictures(act.session, induction_id=induction.id) if induction.id else []
    contents.check_text(text, valid_days=valid_days, pictures=[picture.number for picture in pictures])
    contents.check_further(further, text=text, valid_days=valid_days, needed=())
    version = InductionVersion(
        number=len(induction.versions) + 1,
        text="\n".join(contents.lines_of(text)),
        valid_days=valid_days,
        must_repeat=must_repeat,
        issued_at=act.now,
        covers=", ".join(sorted(further.covers)),
        practice="\n".join(contents.points_of(further.practice)),
        refresher="\n".join(contents.lines_of(further.refresher)),
        refresher_days=further.refresher_days,
        quiz="\n".join(filter(None, map(str.strip, further.quiz.splitlines()))),
        pass_mark=further.pass_mark,
    )
    induction.versions.append(version)
    return version


def _facts_of(version: InductionVersion) -> dict[str, object]:
    """What the record keeps of a version: all that it holds."""
    return {
        "valid_days": version.valid_days,
        "points": version.text.splitlines(),
        "covers": version.covers,
        "practice": version.practice.splitlines(),
        "refresher": version.refresher.splitlines(),
        "refresher_days": version.refresher_days,
        "quiz": version.quiz.splitlines(),
        "pass_mark": version.pass_mark,
    }


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
