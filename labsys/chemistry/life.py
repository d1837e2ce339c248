"""The life a bath has left: every rule gives a share used, the largest share decides.

How the verdict is reached, in order:

1. Exhausted, if any rule's share is 1 or more: area, pieces, age, a failed test, a person's verdict. A passing test
   never takes back what counting says; the stricter of the two stands.
2. Near its end, if any rule that is known leaves 25 % or less. What is not known can only make that worse.
3. Plenty, only if both the work and the age are weighed. The work is not where no capacity is set, or none for a
   material that went through, and no test measures what is left; nor where one of two baths took the first place and
   no second stands behind it. The age is not where no keeping time is set for what the bath stands in.
4. Otherwise not known. A test that merely passes (pH, indicator unchanged, judged good) says the bath was not exhausted
   then; it does not say how much is left.

Materials add up as shares: half the film capacity and half the paper capacity exhaust a bath. Times in different
holdings add up as shares of their own limits in the same way. Both are common practice, no source.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from labsys.chemistry.bath_rules import (
    HOLDING_NAMES,
    ONE_SHOT_SOURCE,
    BathFacts,
    Check,
    ClearingTest,
    Colour,
    GravityTest,
    IndicatorTest,
    Judged,
    PersonsVerdict,
    PhTest,
    SilverTest,
    Stain,
    StainTest,
    StripTest,
)
from labsys.chemistry.sizes import MATERIAL_NAMES, Load, Material, Size, load_of

NEAR_ITS_END_LEFT = Fraction(1, 4)  # common practice, no source


class State(StrEnum):
    """The verdict on a bath."""

    PLENTY = "plenty"
    NEAR_ITS_END = "near_its_end"
    EXHAUSTED = "exhausted"
    NOT_KNOWN = "not_known"


STATE_NAMES = {
    State.PLENTY: "Plenty",
    State.NEAR_ITS_END: "Near its end",
    State.EXHAUSTED: "Exhausted",
    State.NOT_KNOWN: "Not known",
}


class Limit(StrEnum):
    """Which kind of rule a finding comes from."""

    AREA = "area"
    PIECES = "pieces"
    AGE = "age"
    CLEARING = "clearing"
    PH = "ph"
    INDICATOR = "indicator"
    GRAVITY = "gravity"
    SILVER = "silver"
    STRIP = "strip"
    STAIN = "stain"
    VERDICT = "verdict"
    ONE_SHOT = "one_shot"


class Fit(StrEnum):
    """Whether a planned load fits."""

    FITS = "fits"
    TOO_MUCH = "too_much"
    NOT_KNOWN = "not_known"


@dataclass(frozen=True, slots=True)
class Finding:
    """What one rule says: the share of life used (None where it cannot say), why, and by whose word. [-]"""

    limit: Limit
    share_used: Fraction | None
    reason: str
    source: str


@dataclass(frozen=True, slots=True)
class Life:
    """The life a bath has left, with every rule's finding and everything that is not known.

    `share_left` is None where the state is not known; where work or age is not, it is the most that can be left.
    """

    facts: BathFacts
    state: State
    share_left: Fraction | None
    limiting: Finding | None
    findings: tuple[Finding, ...]
    unknowns: tuple[str, ...]
    work_is_known: bool
    age_is_known: bool

    @property
    def is_known(self) -> bool:
        """Whether both what went through it and its age are weighed."""
        return self.work_is_known and self.age_is_known

    @property
    def strictest(self) -> Finding | None:
        """The finding that leaves least, of those that can say."""
        return _strictest(self.findings)

    def after(self, *, load: Load) -> "Life":
        """Return the life that would be left after one more load.

        Parameters:
            load: What would go through. [mm², -]
        Returns:
            The life after it. [-]
        Source:
            As `life_of`.
        """
        return life_of(facts=self.facts.with_load(load))

    def fit(self, *, load: Load) -> Fit:
        """Return whether a planned load fits; one that uses up the last of the bath exactly does.

        Parameters:
            load: What is planned. [mm², -]
        Returns:
            Fits, too much, or not known. [-]
        Source:
            As `life_of`.
        """
        if self.state is State.EXHAUSTED:
            return Fit.TOO_MUCH
        after = self.after(load=load)
        if any(finding.share_used is not None and finding.share_used > 1 for finding in after.findings):
            return Fit.TOO_MUCH
        return Fit.FITS if after.is_known else Fit.NOT_KNOWN

    def remaining_pieces(self, *, size: Size, material: Material) -> int | None:
        """Return how many more whole pieces of a size the bath takes, if only they follow.

        Parameters:
            size: Size of the pieces. [-]
            material: What they are made of. [-]
        Returns:
            Number of pieces, or None where it is not known. [-]
        Raises:
            WrongMaterial: The size is not made in this material.
        Source:
            Capacity left divided by the share one piece takes, rounded down.
        """
        piece = load_of(size=size, material=material, count=1)
        if self.state is State.EXHAUSTED:
            return 0
        if not self.is_known:
            return None
        return _loads_left(self.facts, self.findings, piece)


def life_of(*, facts: BathFacts) -> Life:
    """Work out the life a bath has left. See the head of this module for how the verdict is reached.

    Parameters:
        facts: All that is known of the bath. [-]
    Returns:
        State, share left, and the rule that limits. [-]
    Source:
        Shares of published or house capacities, each rule carrying its own source; that the largest share decides, and
        25 % left as near its end: common practice, no source.
    """
    findings, unknowns = _count(facts)
    if facts.is_one_shot and not facts.used.is_nothing:
        findings.append(Finding(Limit.ONE_SHOT, Fraction(1), "One-shot, and it has been used.", ONE_SHOT_SOURCE))
    for check in facts.checks:
        finding, doubt = _finding_of(facts, check)
        findings.append(finding)
        unknowns += doubt
    work_is_known = any(finding.share_used is not None for finding in findings)
    if facts.lacks_second_bath:
        work_is_known = False
        unknowns.append("It took the first place of two, and no second bath stands behind it.")
    age, doubt = _age(facts)
    findings += age
    unknowns += doubt
    age_is_known = not facts.without_keeping_time

    limiting = _strictest(findings)
    share = limiting.share_used if limiting and limiting.share_used is not None else Fraction(0)
    if share >= 1:
        state = State.EXHAUSTED
    elif 1 - share <= NEAR_ITS_END_LEFT:
        state = State.NEAR_ITS_END
    else:
        state = State.PLENTY if work_is_known and age_is_known else State.NOT_KNOWN
    return Life(
        facts=facts,
        state=state,
        share_left=None if state is State.NOT_KNOWN else max(Fraction(0), 1 - share),
        limiting=None if state is State.NOT_KNOWN else limiting,
        findings=tuple(findings),
        unknowns=tuple(unknowns),
        work_is_known=work_is_known,
        age_is_known=age_is_known,
    )


def _strictest(findings: Iterable[Finding]) -> Finding | None:
    known = [(finding.share_used, finding) for finding in findings if finding.share_used is not None]
    return max(known, key=lambda pair: pair[0], default=(None, None))[1]


def _count(facts: BathFacts) -> tuple[list[Finding], list[str]]:
    """Weigh what went through against the capacities set."""
    if not facts.areas and facts.pieces is None:
        return [], ["No capacity is set, so what goes through this bath cannot be weighed."]
    uncounted = _uncounted(facts, facts.used)
    unknowns = [
        f"No capacity is set for {MATERIAL_NAMES[material]}; {_m2(facts.used.area_mm2(material))} m² went through."
        for material in uncounted
    ]
    findings = []
    if facts.areas:
        counted = _area_share(facts, facts.used)
        # what is counted leaves room, but what is not counted may have taken it
        share = None if uncounted and counted < 1 else counted
        each = [
            f"{MATERIAL_NAMES[rule.material]} {_m2(facts.used.area_mm2(rule.material))} of "
            f"{_m2(rule.mm2_per_litre * facts.litres)} m²"
            for rule in facts.areas
        ]
        sources = dict.fromkeys(rule.source for rule in facts.areas)
        findings.append(Finding(Limit.AREA, share, "Gone through: " + "; ".join(each) + ".", "; ".join(sources)))
    if facts.pieces is not None and facts.capacity_pieces is not None:
        share = facts.used.pieces / facts.capacity_pieces
        reason = f"Gone through: {facts.used.pieces} of {int(facts.capacity_pieces)} pieces."
        findings.append(Finding(Limit.PIECES, share, reason, facts.pieces.source))
    return findings, unknowns


def _m2(mm2: Fraction | int) -> str:
    return f"{float(mm2) / 1e6:.3g}"


def _uncounted(facts: BathFacts, load: Load) -> list[Material]:
    """Materials in a load that no capacity covers."""
    if facts.pieces is not None:
        return []
    return [material for material in Material if load.area_mm2(material) and facts.capacity_mm2(material) is None]


def _area_share(facts: BathFacts, load: Load) -> Fraction:
    shares = (load.area_mm2(rule.material) / (rule.mm2_per_litre * facts.litres) for rule in facts.areas)
    return sum(shares, start=Fraction(0))


def _piece_share(facts: BathFacts, load: Load) -> Fraction:
    capacity = facts.capacity_pieces
    return Fraction(0) if capacity is None else load.pieces / capacity


def _load_share(facts: BathFacts, load: Load) -> Fraction | None:
    """Share of life a load uses by the stricter of the capacities, None where none covers it."""
    if load.is_nothing:
        return Fraction(0)
    if _uncounted(facts, load) or (not facts.areas and facts.pieces is None):
        return None
    return max(_area_share(facts, load), _piece_share(facts, load))


def _finding_of(facts: BathFacts, check: Check) -> tuple[Finding, list[str]]:
    """Turn a check into a finding: the share it showed, and the work done since on top."""
    match check:
        case ClearingTest(fresh_seconds=fresh, now_seconds=now):
            limit = Limit.CLEARING
            shown: Fraction | None = max(Fraction(0), Fraction(now) / Fraction(fresh) - 1)
            reason = f"Film clears in {now:g} s, in a fresh bath in {fresh:g} s; twice that is exhausted."
        case PhTest(ph=ph, highest=highest):
            limit, shown = Limit.PH, Fraction(1) if ph >= highest else None
            reason = f"pH {ph:g}; it must stay below {highest:g}."
        case IndicatorTest(colour=colour):
            limit, shown = Limit.INDICATOR, _SHARE_OF_COLOUR[colour]
            reason = f"The indicator is {colour.value}."
        case GravityTest(gravity=gravity, lowest=lowest, highest=highest):
            limit, shown = Limit.GRAVITY, None if lowest <= gravity <= highest else Fraction(1)
            reason = f"Specific gravity {gravity:.3f}; it must lie between {lowest:.3f} and {highest:.3f}."
        case SilverTest(grams_per_litre=silver, most=most):
            limit, shown = Limit.SILVER, Fraction(silver) / Fraction(most)
            reason = f"The silver strip shows {silver:g} g/L; at {most:g} g/L it is exhausted."
        case StainTest(stain=stain):
            limit, shown = Limit.STAIN, Fraction(1) if stain is Stain.PLAIN else None
            reason = f"The drop for silver left in the work: {stain.value}."
        case StripTest():
            return _of_strip(check)
        case PersonsVerdict(judged=judged):
            limit, shown = Limit.VERDICT, _SHARE_OF_VERDICT[judged]
            reason = f"Judged {judged.value.replace('_', ' ')}."
    since = _load_share(facts, check.since)
    if shown is None:
        doubt = [f"{reason} That passes, and does not say how much is left."]
        return Finding(limit, None, reason, check.source), doubt
    if shown >= 1:
        return Finding(limit, shown, reason, check.source), []
    if since is None:
        doubt = [f"{reason} The work done since then cannot be weighed."]
        return Finding(limit, None, reason, check.source), doubt
    return Finding(limit, shown + since, reason, check.source), []


def _of_strip(strip: StripTest) -> tuple[Finding, list[str]]:
    """One strip outside its limits is near the end whatever went through since; the second one stops the work."""
    if not strip.outside:
        reason = "The control strip lies within its limits."
        doubt = [f"{reason} That passes, and does not say how much is left."]
        return Finding(Limit.STRIP, None, reason, strip.source), doubt
    told = "; ".join(strip.outside)
    if strip.is_confirmed:
        return Finding(Limit.STRIP, Fraction(1), f"Two control strips outside: {told}.", strip.source), []
    reason = f"Control strip outside: {told}. A second strip decides."
    return Finding(Limit.STRIP, 1 - NEAR_ITS_END_LEFT, reason, strip.source), []


_SHARE_OF_COLOUR = {Colour.UNCHANGED: None, Colour.TURNING: 1 - NEAR_ITS_END_LEFT, Colour.CHANGED: Fraction(1)}
_SHARE_OF_VERDICT = {Judged.GOOD: None, Judged.NEAR_ITS_END: 1 - NEAR_ITS_END_LEFT, Judged.EXHAUSTED: Fraction(1)}


def _age(facts: BathFacts) -> tuple[list[Finding], list[str]]:
    """Add up the time spent in each holding as a share of what is allowed there."""
    limits = {rule.holding: rule for rule in facts.ages}
    unknowns, each, sources, share = [], [], [], Fraction(0)
    for holding, hours in facts.held_hours.items():
        if rule := limits.get(holding):
            share += Fraction(hours) / rule.hours
            each.append(f"{hours:.4g} of {rule.hours} h in {HOLDING_NAMES[holding]}")
            sources.append(rule.source)
        else:
            unknowns.append(
                f"No keeping time is set for {HOLDING_NAMES[holding]}; {hours:.4g} h there cannot be judged."
            )
    if not each:
        return [], unknowns
    return [Finding(Limit.AGE, share, f"Kept {'; '.join(each)}.", "; ".join(dict.fromkeys(sources)))], unknowns


def _loads_left(facts: BathFacts, findings: tuple[Finding, ...], load: Load) -> int | None:
    """How many times a load still goes through, by the strictest rule; None where no rule weighs it."""
    whole = _load_share(facts, load)
    if whole is None:
        return None
    share_by_limit = {Limit.AREA: _area_share(facts, load), Limit.PIECES: _piece_share(facts, load)}
    counts = []
    for finding in findings:
        per_load = share_by_limit.get(finding.limit, whole)
        if finding.share_used is not None and finding.limit is not Limit.AGE and per_load:
            counts.append(int((1 - finding.share_used) / per_load))
    return min(counts, default=None)
