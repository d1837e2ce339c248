"""What people do about duty: fill the rota, say who has to be there, whether people work alone, and whom to tell."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date

from sqlalchemy import delete, select

from labsys.competences.models import Competence
from labsys.duty import calling, queries
from labsys.duty.models import AlertContact, DutyKind, DutyRules, StaffingRule, Turn
from labsys.duty.rules import DutyRefused, Settings
from labsys.inductions import queries as inductions
from labsys.people import queries as people
from labsys.people.acts import Act, act
from labsys.people.models import Role
from labsys.people.permissions import Permission, require
from labsys.places import queries as places
from labsys.processes import queries as processes
from labsys.records import queries as records
from labsys.records.models import Lab
from labsys.records.rules import what_changed


@dataclass(frozen=True)
class Named:
    """Who takes a turn, and where they are reached; nobody is a choice on one date only."""

    person_id: int | None
    telephone: str = ""


@act
def name_turns(
    act: Act, *, day: date, from_minute: int, until_minute: int, every_week: bool, named: Mapping[DutyKind, Named]
) -> Lab:
    """Say who is on duty at the opening of a day that begins and ends at these minutes: for each such weekday, or for
    this date alone. A kind that is left out is nobody's. Raises NotPermitted, NotFound or DutyRefused.
    """
    require(act.actor, Permission.KEEP_PLACES)
    lab = act.session.execute(select(Lab).with_for_update()).scalar_one()
    of_day = Turn.weekday == day.weekday() if every_week else Turn.day == day
    within = Turn.from_minute >= from_minute, Turn.from_minute < until_minute
    act.session.execute(delete(Turn).where(of_day, *within))
    if every_week:  # what is said of this very date would go before it
        act.session.execute(delete(Turn).where(Turn.day == day, *within))
    for kind in DutyKind:
        turn = named.get(kind, Named(None))
        if turn.person_id is None:
            if every_week:
                continue
            turn = Named(None)
        elif not people.person_or_raise(act.session, turn.person_id).is_active:
            raise DutyRefused("They have left the lab. Choose somebody else.", field=kind.name.lower())
        act.session.add(
            Turn(
                kind=kind,
                weekday=day.weekday() if every_week else None,
                day=None if every_week else day,
                from_minute=from_minute,
                person_id=turn.person_id,
                telephone=turn.telephone,
            )
        )
    facts = {
        "day": day.isoformat(),
        "every_week": every_week,
        "from_minute": from_minute,
        "on_duty": {kind.value: turn.person_id for kind, turn in named.items()},
    }
    act.tell("rota.filled", about=lab, facts=facts)
    return lab


@act
def set_rules(act: Act, *, settings: Settings) -> DutyRules:
    """Set what the lab does about working alone and being overdue. Raises NotPermitted."""
    require(act.actor, Permission.KEEP_PLACES)
    act.session.execute(select(Lab).with_for_update())
    row = act.session.get(DutyRules, 1)
    before = asdict(queries.settings(act.session)) if row else dict.fromkeys(asdict(settings))
    if row is None:
        row = DutyRules(id=1)
        act.session.add(row)
    for name, value in asdict(settings).items():
        setattr(row, name, value)
    act.session.flush()
    act.tell("duty.rules_set", about=row, facts=what_changed(before, asdict(settings)))
    calling.look_who_is_alone(act)
    return row


@act
def set_staffing(
    act: Act,
    *,
    station_id: int | None,
    process_id: int | None,
    least_people: int,
    role: Role | None,
    induction_id: int | None,
    staffed_only: bool,
    competence: Competence | None = None,
) -> StaffingRule:
    """Say who has to be there for a place or a process. Raises NotPermitted, NotFound or DutyRefused."""
    require(act.actor, Permission.KEEP_PLACES)
    if (station_id is None) == (process_id is None):
        raise DutyRefused("Choose a place or a process.", field="subject")
    if least_people == 1 and role is None and induction_id is None and competence is None and not staffed_only:
        raise DutyRefused(
            "That asks for nobody. Say how many, who, or that it is for staffed hours.", field="least_people"
        )
    act.session.execute(select(Lab).with_for_update())
    if station_id is not None:
        places.station_or_raise(act.session, station_id)
        of = StaffingRule.station_id == station_id
    else:
        processes.process_or_raise(act.session, process_id or 0)
        of = StaffingRule.process_id == process_id
    if induction_id is not None:
        inductions.induction_or_raise(act.session, induction_id)
    rule = act.session.execute(select(StaffingRule).where(of)).scalar_one_or_none()
    if rule is None:
        rule = StaffingRule(station_id=station_id, process_id=process_id)
        act.session.add(rule)
    asked = {"role": role, "induction_id": induction_id, "competence": competence, "staffed_only": staffed_only}
    rule.least_people = least_people
    for name, value in asked.items():
        setattr(rule, name, value)
    act.session.flush()
    facts = {"people": least_people, **asked}
    act.tell("staffing.set", about=rule, facts={"station": station_id, "process": process_id, **facts})
    return rule


@act
def remove_staffing(act: Act, *, rule_id: int) -> None:
    """Ask for nobody any more. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.KEEP_PLACES)
    rule = records.get_or_raise(act.session, StaffingRule, rule_id, "rule", lock=True)
    act.tell("staffing.removed", about=rule, facts={"station": rule.station_id, "process": rule.process_id})
    act.session.delete(rule)


@act
def set_contacts(act: Act, *, person_ids: Sequence[int]) -> Lab:
    """Say who is told, one after the other, when somebody is overdue or does not answer. Raises NotPermitted,
    NotFound or DutyRefused.
    """
    require(act.actor, Permission.KEEP_PLACES)
    if len(set(person_ids)) != len(person_ids):
        raise DutyRefused("Name each person once.")
    lab = act.session.execute(select(Lab).with_for_update()).scalar_one()
    for person_id in person_ids:
        if not people.person_or_raise(act.session, person_id).is_active:
            raise DutyRefused("Somebody named here has left the lab. Choose somebody else.")
    act.session.execute(delete(AlertContact))
    act.session.add_all(
        AlertContact(position=position, person_id=person_id) for position, person_id in enumerate(person_ids, start=1)
    )
    act.tell("alert_contacts.set", about=lab, facts={"people": list(person_ids)})
    return lab
