"""Which tests of a bath are due: by what went through since the last, by days, or since a strip asks for a second."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from labsys.baths.models import Bath, Check, CheckKind, CheckRule, Place, Work
from labsys.baths.tested import fresh_clearing, in_order, less, second_strip_wanted
from labsys.chemistry.sizes import UNIT_MM2, Load
from labsys.quantities import counted

TEST_NAMES = {
    CheckKind.CLEARING_TIME: "clearing time",
    CheckKind.PH: "pH",
    CheckKind.INDICATOR: "colour of the indicator",
    CheckKind.GRAVITY: "specific gravity",
    CheckKind.SILVER: "silver strip",
    CheckKind.STRIP: "control strip",
    CheckKind.STAIN: "drop for silver",
}
TEST_HEADS = {
    kind: name if kind is CheckKind.PH else f"{name[:1].upper()}{name[1:]}" for kind, name in TEST_NAMES.items()
}
_FIXERS = (Place.FIXER, Place.SECOND_FIXER)


def kinds_of_check(bath: Bath) -> list[CheckKind]:
    """Return the tests that make sense for a bath, the usual one first. Paper cannot be seen to clear."""
    is_film = bath.line.work is Work.FILM
    if bath.place in _FIXERS:
        first = [CheckKind.CLEARING_TIME] if is_film else []
        return [*first, CheckKind.SILVER, CheckKind.STAIN, CheckKind.PH, CheckKind.GRAVITY]
    if bath.place is Place.STOP:
        return [CheckKind.INDICATOR, CheckKind.PH]
    if bath.place is Place.DEVELOPER:
        return [CheckKind.PH, CheckKind.GRAVITY, *([CheckKind.STRIP] if is_film else [])]
    return [CheckKind.PH]


@dataclass(frozen=True)
class DueTest:
    """A test that ought to be made, and why."""

    kind: CheckKind
    why: str

    @property
    def words(self) -> str:
        return f"{TEST_NAMES[self.kind]} ({self.why})"


def due_tests(bath: Bath, *, now: datetime) -> tuple[DueTest, ...]:
    """The tests of a bath in service that are due, by the rules for baths like it."""
    if not bath.is_in_service:
        return ()
    due = {rule.kind: why for rule in bath.check_rules if (why := _why_due(bath, rule, now=now))}
    if second_strip_wanted(bath):
        due[CheckKind.STRIP] = "the last lay outside its limits; a second one decides"
    return tuple(DueTest(kind, why) for kind, why in due.items())


def _why_due(bath: Bath, rule: CheckRule, *, now: datetime) -> str:
    """Why a test is due by a rule; empty where it is not."""
    if rule.kind is CheckKind.CLEARING_TIME and fresh_clearing(bath) is None:
        return "none of the fresh bath is written down: without it no later one says anything"
    last = next((check for check in reversed(in_order(bath)) if check.kind is rule.kind), None)
    since, began = _since_last(bath, last)
    after = "since the last" if last else "and it was never made"
    if rule.every_mm2 is not None and area_mm2(since) >= rule.every_mm2:
        return f"{pieces(bath, area_mm2(since))} {after}, at most {units(rule.every_mm2)}"
    if rule.every_days is not None and now >= began + timedelta(days=rule.every_days):
        return f"{counted((now - began).days, 'day')} {after}, at most {rule.every_days}"
    return ""


def _since_last(bath: Bath, last: Check | None) -> tuple[Load, datetime]:
    """What went through since the last test, and when that was; else since the bath was mixed."""
    return (bath.used, bath.mixed_at) if last is None else (less(bath.used, last.used), last.checked_at)


def area_mm2(load: Load) -> int:
    """Area of all materials together."""
    return load.film_mm2 + load.paper_mm2


def units(mm2: int) -> str:
    """An area in the trade's unit of one roll or one 8x10 sheet, as it is typed."""
    return f"{mm2 / UNIT_MM2:.3g}"


def pieces(bath: Bath, mm2: int) -> str:
    """An area as the rolls or sheets that it comes to."""
    return f"{units(mm2)} {'rolls' if bath.line.work is Work.FILM else 'sheets 8x10'}"
