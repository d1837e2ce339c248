"""Decisions about competences: how somebody stands with one, who may grant it, and what is said to whoever lacks it."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from labsys.competences.models import Competence, CompetenceGrant
from labsys.inductions.rules import in_a_row
from labsys.records.errors import Refused
from labsys.timetable.local_time import day_words, to_local

LONGEST = timedelta(days=5 * 366)  # house rule; no source
USUAL = timedelta(days=364)  # with the first day a year
REMIND_BEFORE = timedelta(days=14)

WHAT_FOR = {
    Competence.POWDERS: "to mix or replenish from a powder",
    Competence.CORROSIVES: "to mix from what burns skin as supplied, acid or alkali, or may do so",
    Competence.TONERS: "to weigh or measure out a toner",
    Competence.OUT_OF_HOURS: "to mix while the lab is not open",
    Competence.CHANGING_OVER: "to dump an exhausted bath and mix it again while nobody who keeps the baths is here",
    Competence.RELEASING: "to release a waste container from quarantine",
    Competence.WASTE_AWAY: "to hand waste over to a carrier",
}


class CompetenceRefused(Refused):
    """The grant cannot be so; the message says why and what to do."""


class CompetenceState(StrEnum):
    """How one person stands with one competence."""

    CURRENT = "current"
    WAITING = "waits for the witness"
    LAPSED = "lapsed"
    REVOKED = "revoked"
    NEVER = "never granted"


@dataclass(frozen=True)
class HeldCompetence:
    """How one person stands with one competence, and the grant that decides it."""

    state: CompetenceState
    grant: CompetenceGrant | None = None

    @property
    def is_current(self) -> bool:
        return self.state is CompetenceState.CURRENT

    @property
    def may_grant(self) -> bool:
        """Whether whoever holds it may grant it to others."""
        return self.is_current and self.grant is not None and self.grant.may_grant


def held(grants: Iterable[CompetenceGrant], *, on: date, known_at: datetime, zone: ZoneInfo) -> HeldCompetence:
    """Say how one person stands with one competence on a day, by what the lab knew at an instant.

    Parameters:
        grants: The person's grants of it, in any order. [-]
        on: The day asked about: what was shown, lapsed or was revoked later does not count. [-]
        known_at: What was entered later is not known yet. [-]
        zone: The lab's, for the day of a revocation. [-]
    Returns:
        The state, with the grant that decides it: one that holds (one that may be passed on before others, then the
        one that lasts longest), else one that only waits for its witness, else the newest. [-]
    """
    known = [grant for grant in grants if grant.granted_at <= known_at and grant.happened_on <= on]
    each = [HeldCompetence(_state_of(grant, on=on, known_at=known_at, zone=zone), grant) for grant in known]
    for wanted in (CompetenceState.CURRENT, CompetenceState.WAITING):
        if alike := [standing for standing in each if standing.state is wanted]:
            return max(alike, key=_lasts)
    return max(each, key=_shown, default=HeldCompetence(CompetenceState.NEVER))


def _state_of(grant: CompetenceGrant, *, on: date, known_at: datetime, zone: ZoneInfo) -> CompetenceState:
    if grant.revoked_at and grant.revoked_at <= known_at and to_local(grant.revoked_at, zone=zone).date() <= on:
        return CompetenceState.REVOKED
    if grant.until < on:
        return CompetenceState.LAPSED
    if grant.counts_from is None or grant.counts_from > known_at:
        return CompetenceState.WAITING
    return CompetenceState.CURRENT


def _lasts(standing: HeldCompetence) -> tuple[bool, date]:
    grant = standing.grant
    return (grant is not None and grant.may_grant, grant.until if grant else date.min)


def _shown(standing: HeldCompetence) -> tuple[date, int]:
    grant = standing.grant
    return (grant.happened_on, grant.id) if grant else (date.min, 0)


def in_words(standing: HeldCompetence, *, zone: ZoneInfo) -> str:
    """Say how somebody stands with a competence, such as "lapsed on 2 May 2026"."""
    grant = standing.grant
    if standing.state is CompetenceState.NEVER or grant is None:
        return str(CompetenceState.NEVER)
    if standing.state is CompetenceState.REVOKED and grant.revoked_at:
        return f"revoked on {day_words(to_local(grant.revoked_at, zone=zone).date())}"
    if standing.state is CompetenceState.WAITING:
        return f"waits until {grant.witness.name} says that they saw it" if grant.witness else str(standing.state)
    if standing.state is CompetenceState.LAPSED:
        return f"lapsed after {day_words(grant.until)}"
    return f"current until {day_words(grant.until)}"


def how_granted(grant: CompetenceGrant) -> str:
    """Who granted it and who saw it; one that nobody saw says so.

    >>> from labsys.people.models import Person
    >>> alone = CompetenceGrant(granted_by=Person(name="Sol Haddad"), unwitnessed_because="the first here")
    >>> how_granted(alone)
    'granted by Sol Haddad alone, unwitnessed: the first here'
    """
    if grant.witness is None:
        themself = " to themself" if grant.granted_by_id is not None and grant.granted_by_id == grant.person_id else ""
        return f"granted by {grant.granted_by.name} alone{themself}, unwitnessed: {grant.unwitnessed_because}"
    if grant.witnessed_at is None:
        return f"granted by {grant.granted_by.name}; {grant.witness.name} has not said yet that they saw it"
    return f"granted by {grant.granted_by.name}, seen by {grant.witness.name}"


@dataclass(frozen=True)
class Asked:
    """A competence that an act asks for, and why it does, as a clause: "PQ powder is a powder"."""

    competence: Competence
    because: str


@dataclass(frozen=True)
class LackedCompetence:
    """A competence somebody lacks for what they want to do: why it is asked, how they stand, and who helps."""

    asked: Asked
    state: str
    holders: tuple[str, ...]
    granters: tuple[str, ...]
    first_named_by: tuple[str, ...]

    @property
    def who_holds(self) -> str:
        if not self.holders:
            return "Nobody here holds it today."
        return f"Today {in_a_row(self.holders)} {'holds' if len(self.holders) == 1 else 'hold'} it."

    @property
    def who_grants(self) -> str:
        if self.granters:
            return f"{in_a_row(self.granters)} can grant it."
        if self.first_named_by:
            named_by = " or ".join(self.first_named_by)
            return f"Nobody who holds it can grant it, so {named_by} names who is the first."
        return "Nobody can grant it: the lab has no manager who could name the first."

    @property
    def on_paper(self) -> str:
        """To whoever reads it with the person: what they do not measure out themselves, and who does."""
        because = f"{self.asked.because[:1].upper()}{self.asked.because[1:]}"
        return f"{because}: not measured out without the competence {self.asked.competence}. {self.who_holds}"

    @property
    def sentence(self) -> str:
        """Everything at once, to the person."""
        asked = self.asked
        return (
            f"{asked.because[:1].upper()}{asked.because[1:]}, which asks for a competence: {asked.competence}. "
            f"Yours: {self.state}. {self.who_holds} {self.who_grants}"
        )


class LacksCompetence(CompetenceRefused):
    """Whoever acts lacks a competence for it; the message says which, who holds it today and who can grant it."""

    def __init__(self, lacked: Sequence[LackedCompetence]):
        super().__init__(" ".join(lack.sentence for lack in lacked))
        self.lacked = tuple(lacked)


def check_days(*, happened_on: date, until: date, today: date) -> None:
    """Raise CompetenceRefused unless it was shown already and holds from then for a sensible time."""
    if happened_on > today:
        raise CompetenceRefused("That day is still to come. Grant it once it was shown.", field="happened_on")
    if until < today:
        raise CompetenceRefused("That day is past: it would hold no more. Choose the last day it holds.", field="until")
    if until > happened_on + LONGEST:
        raise CompetenceRefused("That is over five years. Let it be shown again before then.", field="until")


def check_granter(
    competence: Competence, *, own: HeldCompetence, state: str, others: Collection[str], may_name_first: bool
) -> bool:
    """Raise CompetenceRefused unless somebody may grant a competence; say whether they name the first.

    Parameters:
        competence: What is granted. [-]
        own: How the granter stands with it. [-]
        state: The same in words. [-]
        others: Who else here can grant it, by name. [-]
        may_name_first: Whether the granter may name who is the first. [-]
    Returns:
        False where they hold it with the right to grant it, True where nobody does and they name the first. [-]
    """
    if own.may_grant:
        return False
    if may_name_first and not others:
        return True
    if own.is_current:
        why = "You hold it, but not so that you may grant it to others."
    else:
        why = f"You do not hold it yourself: {state}."
    instead = f"{in_a_row(sorted(others))} can grant it." if others else "A manager names who is the first to hold it."
    raise CompetenceRefused(f"{str(competence).capitalize()}: {why} {instead}", field="competence")


def check_witness(
    *, person_id: int, granter_id: int, witness_id: int | None, is_first: bool, others_here: int, because: str
) -> None:
    """Raise CompetenceRefused unless a third person saw it, or the reason why nobody did may stand.

    Nobody but a manager who names the first leaves the witness out while a third person is here to be one.
    """
    if witness_id is not None:
        if witness_id in (person_id, granter_id):
            raise CompetenceRefused(
                "A witness is a third person: neither who grants it nor who is granted it.", field="witness"
            )
        if because:
            raise CompetenceRefused("Somebody saw it: leave the reason empty, or the witness.", field="because")
        return
    if not is_first and others_here:
        raise CompetenceRefused("Choose who saw it: a third person of the lab, who says so here.", field="witness")
    if not because:
        raise CompetenceRefused("Say why nobody saw it: it is shown with the grant.", field="because")


def lapse_to_remind_of(standing: HeldCompetence, *, today: date) -> date | None:
    """The last day of one that soon lapses; None for one that was renewed."""
    if not standing.is_current or standing.grant is None:
        return None
    return standing.grant.until if standing.grant.until < today + REMIND_BEFORE else None
