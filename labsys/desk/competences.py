"""What Today says of competences: a witness who is asked, what lapses, what nobody could grant or do."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from flask import url_for
from sqlalchemy import exists, or_, select

from labsys.chemistry.care import SolutionKind
from labsys.competences import gate, queries
from labsys.competences.models import Competence, CompetenceGrant
from labsys.database import DbSession
from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.inductions.rules import in_a_row
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.products.models import Product
from labsys.quantities import counted
from labsys.timetable.local_time import day_words, to_local
from labsys.waste.models import WasteContainer

_ASKED_IN_A_LAB = {  # where a lab has what asks for it; out of hours is asked of nobody who does not mix then
    Competence.POWDERS: exists().where(Product.powder_mg_per_l.is_not(None)),
    Competence.CORROSIVES: exists().where(or_(Product.h_codes.contains("H314"), Product.h_codes == "")),
    Competence.TONERS: exists().where(Product.kind == SolutionKind.TONER),
    Competence.RELEASING: exists().where(WasteContainer.collected_at.is_(None)),
    Competence.WASTE_AWAY: exists().where(WasteContainer.collected_at.is_(None)),
}


@dataclass(frozen=True)
class CompetencesToday:
    """As one person may see them: how many wait for their word, what lapses soon, and what nobody here can grant."""

    to_witness: int
    lapsing: list[CompetenceGrant]
    granted_by_nobody: list[Competence]


def competences_today(session: DbSession, *, person: Person, now: datetime, zone: ZoneInfo) -> CompetencesToday:
    """One query, and one more for whoever names the first."""
    today = to_local(now, zone=zone).date()
    rows = queries.grants(session, leavers=False)
    stand = queries.standings(rows, on=today, known_at=now, zone=zone)
    names_first = may(person, Permission.NAME_FIRST_COMPETENT)
    waiting = [
        grant
        for grant in rows
        if grant.witness_id == person.id and not (grant.witnessed_at or grant.revoked_at) and grant.until >= today
    ]
    lapse = [
        grant
        for grant in queries.lapsing(stand, today=today)
        if grant.person_id == person.id or names_first or stand.get((person.id, grant.competence), gate.NEVER).may_grant
    ]
    nobody = [] if not names_first else [each for each in _asked_here(session) if not gate.granters(stand, each)]
    return CompetencesToday(len(waiting), lapse, nobody)


def _asked_here(session: DbSession) -> list[Competence]:
    row = session.execute(select(*_ASKED_IN_A_LAB.values())).one()
    return [competence for competence, is_asked in zip(_ASKED_IN_A_LAB, row, strict=True) if is_asked]


def of_competences(now: CompetencesToday, *, person: Person) -> Iterator[Duty]:
    index = url_for("competences.index")
    if now.to_witness:
        why = f"You are named as witness of {counted(now.to_witness, 'grant')}; it counts once you say that you saw it"
        yield Duty(Urgency.YOURS, "Competences", index, why, OfferedAct("See which", index, alone="Say what you saw"))
    for grant in now.lapsing:
        is_own = grant.person_id == person.id
        href = index if is_own else url_for("competences.person", person_id=grant.person_id)
        words = "See who grants it" if is_own else "Grant it again"
        act = OfferedAct(words, href, alone=f"{grant.person.name}, {grant.competence}: {words.lower()}")
        why = f"Lapses after {day_words(grant.until)}: {grant.competence}"
        yield Duty(Urgency.LATER, "Your competences" if is_own else grant.person.name, href, why, act)
    if now.granted_by_nobody:
        named = in_a_row([str(each) for each in now.granted_by_nobody])
        why = f"Nobody here can grant: {named}. Whoever lacks it may not do what asks for it; name who is the first"
        act = OfferedAct("Name the first", index, alone="Competences: name the first")
        yield Duty(Urgency.SOON, "Competences", index, why, act)
