"""What an approved assessment asks people to wear, beside what is worked out: one rule for each part of the body.

An assessment is written in plain sentences. Its rule for a part of the body is the control that names it, and how much
it asks is told from the words; where they cannot be told, it asks for nothing, so that what is worked out stands.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from labsys.hazards.protective import CHANGED, Equipment, Protection
from labsys.risk.models import Level, Version
from labsys.risk.queries import AssessmentNow

_NOT_ASKED = re.compile(
    r"\bnone\b|\bno need\b|\bnot (?:needed|required|worn|necessary)\b|\b(?:no|not|without|never)\s+(?:\w+\s+){0,2}"
    r"(?:glove|tong|goggle|glasses|apron|extraction|ventilation|visor)",
    re.IGNORECASE,
)
_CHANGED_AFTER = re.compile(r"(\d+)\s*(min|h(?:our)?s?\b)", re.IGNORECASE)
_NITRILE, _NOT_NITRILE = re.compile(r"nitrile", re.IGNORECASE), re.compile(r"\bnot (?:thin )?nitrile", re.IGNORECASE)
_LEVELS = (Level.ENGINEERING, Level.PRACTICE, Level.PROTECTION)
# What names a part, the words that ask most first; an "or" asks for the least of what it joins.
_ASKS: dict[Equipment, tuple[re.Pattern[str], ...]] = {
    Equipment.HANDS: (
        re.compile(r"butyl|neoprene", re.IGNORECASE),
        re.compile(r"glove", re.IGNORECASE),
        re.compile(r"tong", re.IGNORECASE),
    ),
    Equipment.EYES: (
        re.compile(r"goggle|face shield|visor", re.IGNORECASE),
        re.compile(r"glasses|spectacles|eye protection", re.IGNORECASE),
    ),
    Equipment.APRON: (re.compile(r"apron", re.IGNORECASE),),
    Equipment.VENTILATION: (
        re.compile(r"extraction|local exhaust|fume", re.IGNORECASE),
        re.compile(r"ventilation", re.IGNORECASE),
    ),
}
_PART = {Equipment.VENTILATION: "air", Equipment.APRON: "clothes", Equipment.EYES: "eyes", Equipment.HANDS: "hands"}


class Rule(NamedTuple):
    """What an assessment says for a part of the body, and how much that asks."""

    words: str
    strength: int


@dataclass(frozen=True)
class Settled:
    """What stands for each part of the body, and where the assessment asks less than is worked out."""

    protection: tuple[Protection, ...]
    questions: tuple[str, ...] = ()
    stricter: tuple[Equipment, ...] = ()


def strength_of(kind: Equipment, words: str) -> int:
    """How much a rule asks for a part of the body: 0 for nothing, more for more.

    >>> strength_of(Equipment.HANDS, "Nitrile gloves"), strength_of(Equipment.HANDS, "Tongs or gloves")
    (2, 1)
    """
    if _NOT_ASKED.search(words):
        return 0
    most, patterns = len(_ASKS[kind]), list(enumerate(_ASKS[kind]))
    if kind is Equipment.HANDS and _NITRILE.search(_NOT_NITRILE.sub("", words)):
        patterns = patterns[1:]  # nitrile will do: it does not ask for more
    found = [most - place for place, pattern in patterns if pattern.search(words)]
    is_choice = kind is Equipment.HANDS and 1 in found and re.search(r"\bor\b", words) is not None
    return (min if is_choice else max)(found, default=0)


def asked_by(version: Version) -> dict[Equipment, Rule]:
    """The strongest rule of a version for each part of the body that it names."""
    controls = [control.text for control in version.controls if control.level in _LEVELS]
    texts = [*_named_gloves(version), *controls]  # of two that ask as much, what names the gloves says more
    rules: dict[Equipment, Rule] = {}
    for kind, patterns in _ASKS.items():
        for text in texts:
            if any(pattern.search(text) for pattern in patterns):
                rule = Rule(text, strength_of(kind, text))
                if kind not in rules or rule.strength > rules[kind].strength:
                    rules[kind] = rule
    return rules


def _named_gloves(version: Version) -> Iterator[str]:
    """The gloves of a version and when they are changed: before their breakthrough time (common practice, no source).

    Where that time is not stated, it is said so, and the time for gloves that nobody assessed stands.
    """
    gloves = f"Gloves: {version.glove_material}"
    if not version.glove_material:
        return
    if not strength_of(Equipment.HANDS, gloves):
        yield gloves
    elif version.glove_minutes is None:
        yield f"{gloves}, {CHANGED}: their breakthrough time is not stated"
    else:
        yield f"{gloves}, new after a splash and before {version.glove_minutes} minutes (breakthrough)"


def settle(worked_out: Iterable[Protection], asked: Mapping[Equipment, Rule], *, code: str, holds: bool) -> Settled:
    """Put one rule for each part of the body together: the assessment's, or what is worked out where that asks more.

    A house rule gives way to an assessment that says anything of the part, as long as it `holds`. Gloves that ask
    enough but are changed later are changed when worked out. Without an assessment, which has no `code`, all is worked
    out.
    """
    worked = {each.kind: each for each in worked_out}
    protection: list[Protection] = []
    questions: dict[Equipment, str] = {}
    for kind in Equipment:
        rule, ours = asked.get(kind), worked.get(kind)
        if rule is None and ours is None:
            continue
        yields = ours is None or (ours.is_house_rule and holds)
        changed_late = kind is Equipment.HANDS and not yields and _is_changed_later(rule, ours)
        if rule is not None and (yields or rule.strength >= strength_of(kind, _least_worded(ours))):
            if rule.strength:
                words = rule.words.rstrip(".")
                until = f"; until the safety adviser decides, {CHANGED}" if changed_late else ""
                protection.append(Protection(kind, f"{words}{until}", f"assessment {code}"))
            if ours is not None and changed_late:
                questions[kind] = _question(kind, ours, rule, code=code)
            continue
        if ours is not None:
            protection.append(ours)
            if code and not ours.is_house_rule:  # without an assessment nothing disagrees
                questions[kind] = _question(kind, ours, rule, code=code)
    return Settled(tuple(protection), tuple(questions.values()), tuple(questions))


@dataclass(frozen=True)
class AssessedProcess:
    """How a process stands with its assessment: what it asks people to wear, and what is to be said about that."""

    told: str
    short: str
    holds: bool
    code: str = ""
    asked: Mapping[Equipment, Rule] = field(default_factory=dict)

    def briefly(self, settled: Settled) -> str:
        """The same for a sheet that is short of room, with where the assessment asks less."""
        parts = ", ".join(_PART[kind] for kind in settled.stricter)
        less = f" It asks less for {parts}: the stricter stands, the safety adviser decides." if parts else ""
        return f"{self.short}{less}"

    def settled(self, worked_out: Iterable[Protection]) -> Settled:
        """One rule for each part of the body that is worked on."""
        return settle(worked_out, self.asked, code=self.code, holds=self.holds)


def assessed_process(now: AssessmentNow | None) -> AssessedProcess:
    """Say whether what to wear is assessed or worked out, and whom to ask."""
    version = now.approved if now else None
    if now is None or version is None:
        lacks = "Its assessment is not approved" if now else "Nobody has assessed this process"
        short = f"{lacks}: worked out. Ask the safety adviser first."
        told = f"{lacks}: what to wear is worked out from the SDS. Ask the safety adviser before you start."
        return AssessedProcess(told, short, False)
    code = f"{now.assessment.code}, version {version.number}"
    if now.is_out_of_date:
        short = f"Assessment {code}, is out of date: ask the safety adviser first."
        told = f"{short} Why: {now.reasons[0]}. The stricter of it and of what is worked out stands."
        return AssessedProcess(told, short, False, code, asked_by(version))
    short = f"By assessment {code}; the rest is worked out."
    told = f"By the approved assessment {code}; what it says nothing of is worked out from the SDS."
    return AssessedProcess(told, short, True, code, asked_by(version))


def _is_changed_later(rule: Rule | None, ours: Protection | None) -> bool:
    """Whether an assessment lets gloves be worn for longer than is worked out."""
    theirs, own = (_minutes(each.words) if each else 0 for each in (rule, ours))
    return 0 < own < theirs


def _minutes(words: str) -> int:
    """The longest time named for a change; 0 where none is.

    >>> _minutes("new after a splash and before 2 hours"), _minutes("nitrile, 0.2 mm")
    (120, 0)
    """
    times = _CHANGED_AFTER.findall(words)
    return max((int(number) * (60 if unit.lower().startswith("h") else 1) for number, unit in times), default=0)


def _least_worded(protection: Protection | None) -> str:
    """What is worked out, less what is said of it after a colon."""
    return protection.words.partition(":")[0] if protection else ""


def _question(kind: Equipment, ours: Protection, rule: Rule | None, *, code: str) -> str:
    says = f"says “{rule.words.rstrip('.')}”" if rule else "says nothing"
    return (
        f"For the {_PART[kind]} assessment {code} {says}; worked out: {ours.words}. The stricter stands until the "
        "safety adviser decides."
    )
