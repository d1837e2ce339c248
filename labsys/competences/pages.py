"""What pages of competences show, worked out from rows."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from labsys.competences import gate, rules
from labsys.competences.models import Competence, CompetenceGrant
from labsys.competences.queries import Standings
from labsys.competences.rules import CompetenceState, HeldCompetence
from labsys.timetable.local_time import day_words, to_local

_MARKS: dict[CompetenceState, str | None] = {
    CompetenceState.CURRENT: None,
    CompetenceState.WAITING: "dashed",
    CompetenceState.LAPSED: "heavy",
    CompetenceState.REVOKED: "heavy",
    CompetenceState.NEVER: None,
}


@dataclass(frozen=True)
class CompetenceLine:
    """One competence as somebody meets it: what for, how they stand, who holds it and who can grant it."""

    competence: Competence
    standing: HeldCompetence
    state: str
    holders: str
    granters: str

    @property
    def what_for(self) -> str:
        return f"Needed {rules.WHAT_FOR[self.competence]}."

    @property
    def mark(self) -> str | None:
        return _MARKS[self.standing.state]


@dataclass(frozen=True)
class PastGrant:
    """One grant of a person's history, as it stands now."""

    grant: CompetenceGrant
    shown: str
    entered: str  # the day, where it is another
    how: str
    state: str
    mark: str | None


def lines(standings: Standings, names: Mapping[int, str], *, person_id: int, zone: ZoneInfo) -> list[CompetenceLine]:
    """All competences, as one person meets them."""
    made = []
    for competence in Competence:
        own = standings.get((person_id, competence), gate.NEVER)
        held_by = [pair[0] for pair, standing in standings.items() if pair[1] is competence and standing.is_current]
        made.append(
            CompetenceLine(
                competence=competence,
                standing=own,
                state=rules.in_words(own, zone=zone),
                holders=", ".join(sorted(names[holder] for holder in held_by)),
                granters=", ".join(sorted(names[granter] for granter in gate.granters(standings, competence))),
            )
        )
    return made


def past(rows: Iterable[CompetenceGrant], *, today: date, now: datetime, zone: ZoneInfo) -> list[PastGrant]:
    """A person's grants as each stands by itself, the newest first."""
    made = []
    for grant in rows:
        standing = rules.held([grant], on=today, known_at=now, zone=zone)
        state = rules.in_words(standing, zone=zone)
        entered = to_local(grant.granted_at, zone=zone).date()
        made.append(
            PastGrant(
                grant=grant,
                shown=day_words(grant.happened_on),
                entered="" if entered == grant.happened_on else day_words(entered),
                how=rules.how_granted(grant),
                state=state,
                mark=_MARKS[standing.state],
            )
        )
    return made


def grantable(standings: Standings, *, person_id: int, may_name_first: bool) -> list[Competence]:
    """What somebody can grant: what they hold with that right, and as a manager what nobody else can grant."""
    return [
        competence
        for competence in Competence
        if standings.get((person_id, competence), gate.NEVER).may_grant
        or (may_name_first and not gate.granters(standings, competence, but=person_id))
    ]
