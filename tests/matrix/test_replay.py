"""Both matrices as of any day are the replay of the acts: by when each happened, and by when each was entered.

The replay knows nothing of the rules: it takes the acts that succeeded one after the other, in the order of either
question, and keeps for each sign-off and grant the state that the acts left it in.
"""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from labsys.competences import service as competences
from labsys.competences.models import Competence
from labsys.competences.rules import CompetenceRefused
from labsys.inductions import service as inductions
from labsys.inductions import signing
from labsys.inductions.rules import InductionRefused
from labsys.matrix import queries
from labsys.matrix.rules import EVERYBODY, Asked, By
from labsys.people import service as people
from labsys.timetable.local_time import to_local
from tests.support.lab import SmallLab

LONDON = ZoneInfo("Europe/London")
ROLES = ("member", "instructor", "technician", "safety adviser")
VALID = {"Skin care": 12, "Enlarger": None}  # days
GRANTED = (Competence.POWDERS, Competence.TONERS)
STRONGER = {"waits": 0, "held": 1, "lapsed": 2, "repeat": 3, "withdrawn": 4}
WORDS = {
    "current": "held",
    "lapsing": "held",
    "lapsed": "lapsed",
    "withdrawn": "withdrawn",
    "revoked": "withdrawn",
    "to confirm": "waits",
    "to be witnessed": "waits",
    "never": "never",
}


def midnight_before(day: date) -> datetime:
    return datetime.combine(day, time(), tzinfo=LONDON)


def midnight_after(day: date) -> datetime:
    return midnight_before(day + timedelta(days=1))


@dataclass
class Done:
    """One act as the replay takes it: the instant it bears on, the instant it was entered, and what it did."""

    happened: datetime
    entered: datetime
    kind: str
    details: tuple[Any, ...]


@dataclass
class Play:
    """A lab in which somebody does things at random."""

    lab: SmallLab
    random: Random
    done: list[Done] = field(default_factory=list)
    inductions: dict[str, int] = field(default_factory=dict)
    versions: dict[str, list[datetime]] = field(default_factory=dict)
    sign_offs: list[tuple[int, str, datetime]] = field(default_factory=list)
    grants: list[tuple[int, str, datetime]] = field(default_factory=list)

    def note(self, happened: datetime, entered: datetime, kind: str, *details: Any) -> None:
        self.done.append(Done(happened, entered, kind, details))

    def sign(self, *, appointed: bool = False) -> None:
        lab, name = self.lab, self.random.choice(list(VALID))
        role = self.random.choice(("instructor", "technician") if appointed else ROLES)
        taught_at = lab.tick() - timedelta(days=self.random.choice((0, 0, 1, 3, 8, 20)))
        induction_id = self.inductions[name]
        if appointed:
            by = lab.act("safety adviser")
            signed = signing.appoint_holder(by, induction_id=induction_id, person_id=lab.ids[role], taught_at=taught_at)
        else:
            by = lab.act(self.random.choice(("instructor", "technician")))
            signed = signing.sign_off_many(
                by, person_ids=[lab.ids[role]], induction_ids=[induction_id], taught_at=taught_at
            )
        key = ("sign-off", signed.id)
        version = max(1, sum(issued_at <= taught_at for issued_at in self.versions[name]))
        self.sign_offs.append((signed.id, role, taught_at))
        self.note(taught_at, lab.now, "shown", key, role, name, taught_at, version)
        if (days := VALID[name]) is not None:
            lapses_at = taught_at + timedelta(days=days)
            self.note(lapses_at, max(lapses_at, lab.now), "becomes", key, "lapsed")

    def appoint(self) -> None:
        self.sign(appointed=True)

    def confirm(self) -> None:
        key, role, taught_at = self.random.choice(self.sign_offs)
        signing.confirm(self.lab.act(role), sign_off_id=key)
        self.note(taught_at, self.lab.now, "becomes", ("sign-off", key), "held")

    def withdraw(self) -> None:
        key = self.random.choice(self.sign_offs)[0]
        signing.withdraw(self.lab.act("safety adviser"), sign_off_id=key, reason="not so")
        self.note(self.lab.now, self.lab.now, "becomes", ("sign-off", key), "withdrawn")

    def issue_version(self) -> None:
        lab, name, must_repeat = self.lab, self.random.choice(list(VALID)), self.random.random() < 0.5
        inductions.issue_version(
            lab.act("safety adviser"),
            induction_id=self.inductions[name],
            text=f"Gloves on, {lab.now}.",
            valid_days=VALID[name],
            must_repeat=must_repeat,
        )
        self.versions[name].append(lab.now)
        if must_repeat:
            self.note(lab.now, lab.now, "repeat", name, len(self.versions[name]))

    def grant(self) -> None:
        lab, competence = self.lab, self.random.choice(GRANTED)
        role = self.random.choice(("member", "instructor", "safety adviser"))
        witness = "instructor" if role == "member" else "member"
        today = to_local(lab.tick(), zone=LONDON).date()
        happened_on = today - timedelta(days=self.random.choice((0, 2, 9)))
        until = today + timedelta(days=self.random.choice((0, 4, 30)))
        granted = competences.grant(
            lab.act("technician"),
            person_id=lab.ids[role],
            competence=competence,
            may_grant=False,
            happened_on=happened_on,
            until=until,
            witness_id=lab.ids[witness],
        )
        key, shown = ("grant", granted.id), midnight_before(happened_on)
        self.grants.append((granted.id, witness, shown))
        self.note(shown, lab.now, "shown", key, role, competence, (happened_on, granted.id), 0)
        self.note(midnight_after(until), midnight_after(until), "becomes", key, "lapsed")

    def witness(self) -> None:
        key, role, shown = self.random.choice(self.grants)
        competences.witness(self.lab.act(role), grant_id=key)
        self.note(shown, self.lab.now, "becomes", ("grant", key), "held")

    def revoke(self) -> None:
        key = self.random.choice(self.grants)[0]
        competences.revoke(self.lab.act("safety adviser"), grant_id=key, because="not so")
        self.note(self.lab.now, self.lab.now, "becomes", ("grant", key), "withdrawn")

    def leave(self) -> None:
        lab = self.lab
        if len(self.done) > 40 and lab.person("member").left_at is None:
            people.close_account(lab.act("manager"), person_id=lab.ids["member"])
            self.note(lab.now, lab.now, "left", "member")

    def wait(self) -> None:
        self.lab.tick(hours=self.random.choice((5, 30, 70)))


def play(lab: SmallLab, seed: int) -> Play:
    acts = Play(lab, Random(seed))
    for name, days in VALID.items():
        acts.inductions[name] = lab.add_induction(name, valid_days=days).id
        acts.versions[name] = [lab.now]
    often = [acts.sign, acts.confirm, acts.wait] * 3 + [acts.grant, acts.witness] * 2
    for _ in range(160):
        try:
            acts.random.choice([*often, acts.appoint, acts.withdraw, acts.issue_version, acts.revoke, acts.leave])()
        except (InductionRefused, CompetenceRefused, IndexError):
            lab.session.rollback()  # what is refused did not happen
    return acts


@dataclass
class Kept:
    """One sign-off or grant as the replay keeps it."""

    whose: str
    what: str
    shown: Any
    version: int
    state: str = "waits"

    def becomes(self, state: str) -> None:
        self.state = max(self.state, state, key=STRONGER.__getitem__)


def replayed(acts: Play, until: datetime, *, by: By) -> tuple[dict[tuple[str, str], str], set[str]]:
    """How each person stands with each thing after the acts up to an instant, and who had left."""
    order = [(act.happened if by is By.HAPPENED else act.entered, number) for number, act in enumerate(acts.done)]
    kept: dict[Any, Kept] = {}
    repeats: dict[str, int] = {}
    gone: set[str] = set()
    for instant, number in sorted(order):
        if instant > until:
            break
        kind, details = acts.done[number].kind, acts.done[number].details
        if kind == "shown":
            key, *told = details
            kept[key] = Kept(*told)
            if repeats.get(kept[key].what, 0) > kept[key].version:
                kept[key].becomes("repeat")
        elif kind == "becomes":
            kept[details[0]].becomes(details[1])
        elif kind == "repeat":
            repeats[details[0]] = details[1]
            for one in kept.values():
                if one.what == details[0] and one.version < details[1]:
                    one.becomes("repeat")
        else:
            gone.add(details[0])
    alike: dict[tuple[str, str], list[Kept]] = {}
    for one in kept.values():
        alike.setdefault((one.whose, one.what), []).append(one)
    return {pair: best(those) for pair, those in alike.items()}, gone


def best(those: list[Kept]) -> str:
    for wanted in ("held", "waits"):
        if any(one.state == wanted for one in those):
            return wanted
    return max(those, key=lambda one: one.shown).state


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_both_matrices_as_of_a_day_are_the_replay_of_the_acts(lab: SmallLab, seed: int):
    began = to_local(lab.now, zone=LONDON).date()
    acts = play(lab, seed)
    now = lab.tick()
    today = to_local(now, zone=LONDON).date()
    roles = {lab.ids[role]: role for role in ROLES}
    met, differing = set(), 0
    for number in range(-22, (today - began).days + 1):
        day = began + timedelta(days=number)
        until = now if day == today else midnight_after(day) - timedelta(microseconds=1)
        answers: dict[By, dict[tuple[str, str], str]] = {}
        for by in By:
            shown = queries.matrix(lab.session, Asked(day, by, EVERYBODY), now=now, zone=LONDON)
            wanted, gone = replayed(acts, until, by=by)
            columns = [column.name for column in shown.columns]
            answers[by] = {}
            for row in shown.rows:
                if (role := roles.get(row.person_id)) is None:
                    continue
                assert row.has_left is (role in gone), (day, by, role)
                for what in (*VALID, *GRANTED):
                    if role == "technician" and what in GRANTED:
                        continue  # the first, named before any of this
                    state = row.cells[columns.index(what if what in VALID else what.capitalize())].state
                    word = "repeat" if state.startswith("repeat") else WORDS[state]
                    answers[by][role, what] = word
                    assert word == wanted.get((role, what), "never"), (day, by, role, what)
                    met.add(word)
        differing += sum(answers[By.HAPPENED].get(pair) != word for pair, word in answers[By.ENTERED].items())
    assert met == {*STRONGER, "never"}
    assert differing, "the two questions are two"
