"""Decisions about recalls: since when a bath is doubtful, and what can be mended, fault by fault, with its source."""

import math
from dataclasses import dataclass, replace
from datetime import datetime

from labsys.baths.models import Bath, Check, Place, Work
from labsys.baths.recall.models import Fault
from labsys.baths.rules import BathRefused
from labsys.baths.tested import in_order, tests_of
from labsys.chemistry.bath_rules import BathFacts
from labsys.chemistry.life import Limit, life_of
from labsys.chemistry.sizes import Load, Material
from labsys.chemistry.washing import (
    LEAST_CHANGES,
    LEAST_RUNNING_MINUTES,
    THIOSULFATE_IN_FIXER_G_PER_L,
    least_changes,
    limit_g_per_m2,
    residue_g_per_m2,
    running_minutes_to,
)

SEE_THE_TECHNICIAN = "See the technician: what it does to your work is looked at piece by piece."
_FIXERS = (Place.FIXER, Place.SECOND_FIXER)
_LEFT_TOO_LITTLE = (Fault.EXHAUSTED, Fault.WEAK)
_MINUTES_PER_CHANGE = 5  # until the emulsion is in balance with the water: an encyclopaedia on washing
_FILM_ABSORBS_ML, _FILM_MM2 = 2, 56_000  # of a 135-36: M. Torzynski, Strasbourg 2004


@dataclass(frozen=True)
class Mend:
    """What whoever did the work can do about it themselves, and by whose word; `source` is empty where none is."""

    do: str
    source: str = ""


def mend(*, work: Work, place: Place, fault: Fault, material: Material) -> Mend:
    """What can be mended of work that went through a faulty bath. What has no source goes to the technician.

    That a second fixing and washing takes out what the first left behind is common practice, no source; the times are
    those published for fixing and washing.
    """
    if fault not in _LEFT_TOO_LITTLE or work not in (Work.FILM, Work.PAPER):  # of colour nothing is on file
        return Mend(SEE_THE_TECHNICIAN)
    if place in _FIXERS:
        fix, source = _FIX_AGAIN[material]
        wash, wash_source = _wash(material)
        return Mend(f"{fix} Then {wash}", f"{source} {wash_source}")
    if place is Place.WASH_AID:
        wash, source = _wash(material)
        return Mend(f"Soak it in water, then {wash}", source)
    return Mend(SEE_THE_TECHNICIAN)


_FIX_AGAIN = {
    Material.FILM: (
        "Fix it again in a good fixer, for twice the time in which a piece of the same film clears in that.",
        "Twice the clearing time: NAVEDTRA 14209, Photography (Basic).",
    ),
    Material.RC: (
        "Fix it again in a good fixer, for at most 2 minutes.",
        "At most 2 minutes for RC: a reference page on fixing prints.",
    ),
    Material.FIBRE: (
        "Fix it again in two good fixers, 3 to 5 minutes in each.",
        "3 to 5 minutes in each of two baths: a reference page on fixing prints.",
    ),
}


def _wash(material: Material) -> tuple[str, str]:
    changes = least_changes(material=material, summed=LEAST_CHANGES[material])
    if material is Material.FILM:
        return (
            f"wash it in running water for {film_wash_minutes()} minutes, or in {changes} changes of "
            f"{_MINUTES_PER_CHANGE} minutes.",
            "Washing down to 0.014 g/m² (36 CFR 1238.14), halved each minute: NAVEDTRA 14209; three changes: an "
            "encyclopaedia on washing.",
        )
    if material is Material.FIBRE:
        return (
            f"wash it in {changes} changes of {_MINUTES_PER_CHANGE} minutes.",
            "12 changes of 5 minutes for fibre: Amateur Work.",
        )
    return (
        f"wash it for {LEAST_RUNNING_MINUTES[material]:g} to 4 minutes.",
        "2 minutes for RC: an encyclopaedia; no longer than 4: common practice, no source.",
    )


def film_wash_minutes() -> int:
    """How long a film is washed in running water that reaches it, in whole minutes. [min]"""
    start = residue_g_per_m2(
        water_g_per_l=THIOSULFATE_IN_FIXER_G_PER_L, absorbed_ml=_FILM_ABSORBS_ML, area_mm2=_FILM_MM2
    )
    summed = running_minutes_to(start_g_per_m2=start, limit_g_per_m2=limit_g_per_m2(material=Material.FILM))
    return math.ceil(max(summed, LEAST_RUNNING_MINUTES[Material.FILM]))


class _AsOf:
    """A bath with the tests it had at a moment, judged as the bath itself is."""

    def __init__(self, bath: Bath, checks: list[Check]) -> None:
        self._bath, self.checks = bath, checks

    def __getattr__(self, name: str) -> object:
        return getattr(self._bath, name)


def passed(bath: Bath, check: Check) -> bool | None:
    """Whether a test found its bath good, by what a bath's life is judged by; None where nothing judges it."""
    if check.is_fresh:
        return True
    tests = in_order(bath)
    until = [each for each in tests[: tests.index(check) + 1] if each.is_fresh or each.kind is check.kind]
    fresh = [each for each in tests if each.is_fresh and each not in until]
    found = [replace(tested, since=Load()) for tested in tests_of(_AsOf(bath, [*fresh, *until]))]  # type: ignore[arg-type]
    if not found:
        return None
    materials = frozenset(bath.line.work.materials)
    facts = BathFacts(
        materials=materials, total_ul=bath.made_up_ul, used=Load(), areas=(), pieces=None, ages=(), checks=tuple(found)
    )
    shares = [each.share_used for each in life_of(facts=facts).findings if each.limit not in (Limit.AREA, Limit.AGE)]
    if not all(share is None or share < 1 for share in shares):
        return False
    return None if check.outside else True  # a strip outside its limits that no second one has confirmed yet


def failed_test(bath: Bath) -> Check | None:
    """The newest test of a bath, if it found it used up."""
    newest = in_order(bath)[-1:]
    return next((check for check in newest if passed(bath, check) is False), None)


def last_good_test(bath: Bath) -> Check | None:
    """The last test that found a bath good; after a failed one, of the same kind: pH says nothing about silver."""
    failed = failed_test(bath)
    return next(
        (
            check
            for check in reversed(in_order(bath))
            if passed(bath, check) and (failed is None or (check.kind is failed.kind and check is not failed))
        ),
        None,
    )


def check_since(*, since: datetime, bath: Bath, now: datetime) -> None:
    """Raise BathRefused for a time before the bath was there, or after now."""
    if not bath.mixed_at <= since <= now:
        raise BathRefused("Choose since when it is doubtful: from its mixing on.", field="since")


def check_text(text: str, *, asked: str, field: str) -> None:
    """Raise BathRefused where nothing is written."""
    if not text.strip():
        raise BathRefused(asked, field=field)
