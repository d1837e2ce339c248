"""What the tests of a bath come to: the newest of each kind, each with what it is judged by."""

from collections.abc import Iterator
from dataclasses import asdict

from labsys.baths.models import Bath, Check, CheckKind, Place
from labsys.chemistry.bath_rules import Check as Tested
from labsys.chemistry.bath_rules import (
    ClearingTest,
    GravityTest,
    IndicatorTest,
    PhTest,
    SilverTest,
    StainTest,
    StripTest,
)
from labsys.chemistry.published_limits import (
    FILM_FIXER,
    FIRST_PAPER_FIXER,
    SECOND_FIXER,
    SINGLE_PAPER_FIXER,
    SilverInFixer,
)
from labsys.chemistry.sizes import Load, Material


def in_order(bath: Bath) -> list[Check]:
    """The tests of a bath by the time they tell of."""
    return sorted(bath.checks, key=lambda check: (check.checked_at, check.id))


def fresh_clearing(bath: Bath) -> Check | None:
    """The clearing time of the fresh bath, by which the others are judged."""
    return next((check for check in reversed(bath.checks) if check.is_fresh), None)


def tests_of(bath: Bath) -> Iterator[Tested]:
    """The newest test of each kind that has something to be judged by."""
    newest = {check.kind: check for check in in_order(bath) if not check.is_fresh}
    fresh = fresh_clearing(bath)
    if (clearing := newest.get(CheckKind.CLEARING_TIME)) and fresh and Material.FILM in bath.line.work.materials:
        yield ClearingTest(fresh_seconds=fresh.value, now_seconds=clearing.value, since=_since(bath, clearing))
    if (acidity := newest.get(CheckKind.PH)) and bath.product.ph_limit_milli is not None:
        yield PhTest(ph=acidity.value, highest=bath.product.ph_limit_milli / 1000, since=_since(bath, acidity))
    if (indicator := newest.get(CheckKind.INDICATOR)) and indicator.colour is not None:
        yield IndicatorTest(colour=indicator.colour, since=_since(bath, indicator))
    if (gravity := newest.get(CheckKind.GRAVITY)) and (limits := limits_of(bath, CheckKind.GRAVITY)):
        yield GravityTest(gravity.value, *limits, since=_since(bath, gravity))
    if (silver := newest.get(CheckKind.SILVER)) and (limits := limits_of(bath, CheckKind.SILVER)):
        yield SilverTest(silver.value, *limits[1:], since=_since(bath, silver))
    if (strip := newest.get(CheckKind.STRIP)) is not None:
        yield _strip(bath, strip)
    if (drop := newest.get(CheckKind.STAIN)) and drop.stain is not None:
        yield StainTest(drop.stain, since=_since(bath, drop))


def limits_of(bath: Bath, kind: CheckKind) -> tuple[float, float, str] | None:
    """The lowest and the highest that a test may show, and by whose word: the lab's rule, else what is published."""
    rule = next((rule for rule in bath.check_rules if rule.kind is kind and rule.high_milli is not None), None)
    if rule is not None and rule.high_milli is not None:
        return (rule.low_milli or 0) / 1000, rule.high_milli / 1000, rule.source
    if kind is CheckKind.SILVER:
        usual = usual_silver(bath)
        return 0, usual.grams_per_litre, usual.source
    return None


def usual_silver(bath: Bath) -> SilverInFixer:
    """The most silver a fixer may hold where the lab has no limit of its own."""
    if bath.place is Place.SECOND_FIXER:
        return SECOND_FIXER
    if bath.line.work.is_film:
        return FILM_FIXER
    return FIRST_PAPER_FIXER if bath.has_second_fixer else SINGLE_PAPER_FIXER


def second_strip_wanted(bath: Bath) -> bool:
    """Whether the last control strip lay outside its limits and no second one has confirmed it."""
    strips = [check for check in in_order(bath) if check.kind is CheckKind.STRIP]
    return bool(strips and strips[-1].outside) and not _confirmed(strips)


def _strip(bath: Bath, newest: Check) -> StripTest:
    strips = [check for check in in_order(bath) if check.kind is CheckKind.STRIP]
    return StripTest(newest.outside, is_confirmed=_confirmed(strips), since=_since(bath, newest))


def _confirmed(strips: list[Check]) -> bool:
    return len(strips) > 1 and all(strip.outside for strip in strips[-2:])


def _since(bath: Bath, check: Check) -> Load:
    """What went through after a test. A use corrected downwards since then must not count below nothing."""
    return Load() if bath.place is Place.SECOND_FIXER else less(bath.used, check.used)


def less(used: Load, then: Load) -> Load:
    """What was added to a load since it was as it was then; never below nothing."""
    before = asdict(then)
    return Load(**{name: max(0, amount - before[name]) for name, amount in asdict(used).items()})
