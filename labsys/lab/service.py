"""What is done with the lab itself: it is begun, once, and its settings are put right."""

from dataclasses import asdict

from sqlalchemy import func, select

from labsys.lab import rules
from labsys.lab.rules import Settings
from labsys.people import service as people
from labsys.people.acts import Act, act
from labsys.people.models import Role
from labsys.people.permissions import Permission, require
from labsys.people.service import Invitation
from labsys.records import service as records
from labsys.records.models import Lab
from labsys.records.rules import what_changed


@act
def set_up_lab(
    act: Act, *, settings: Settings, code_prefix: str, manager_name: str, manager_email: str, is_demo: bool = False
) -> Invitation:
    """Begin a lab in an empty database and invite its first manager.

    Raises LabRefused where there is a lab already or a setting cannot be used, PersonRefused for the manager's.
    """
    if act.session.execute(select(func.count()).select_from(Lab)).scalar_one():
        raise rules.LabRefused("This instance holds a lab already.")
    rules.check_prefix(code_prefix)
    rules.check_settings(settings)
    lab = Lab(id=1, code_prefix=code_prefix, is_demo=is_demo, **asdict(settings))
    act.session.add(lab)
    records.begin_record(act.session)
    invitation = people.invite(act, name=manager_name, email=manager_email, roles={Role.MANAGER})
    facts = {"name": settings.name, "prefix": code_prefix, "timezone": settings.timezone, "nation": settings.nation}
    act.tell("lab.set_up", about=lab, facts=facts)
    act.tell("person.invited", about=invitation.person, facts={"roles": ["manager"]})
    return invitation


@act
def change_lab(act: Act, *, settings: Settings) -> Lab:
    """Put the lab's settings right; what was and what is now go on the record. Raises NotPermitted or LabRefused."""
    require(act.actor, Permission.KEEP_LAB)
    lab = act.session.execute(select(Lab).with_for_update()).scalar_one()
    rules.check_settings(settings, known_nations=(*rules.NATIONS, lab.nation))
    facts = what_changed(asdict(rules.settings_of(lab)), asdict(settings))
    if facts:
        for name, text in facts["after"].items():
            setattr(lab, name, text)
        act.tell("lab.changed", about=lab, facts=facts)
    return lab
