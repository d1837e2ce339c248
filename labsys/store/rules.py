"""Decisions about bottles: how long they are good, whether one is offered, what a count may find, where they stand."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from labsys.ledger.models import Account
from labsys.ledger.rules import show
from labsys.quantities import counted
from labsys.records.errors import Refused
from labsys.store.models import Bottle, Reason, ShelfLife
from labsys.timetable.local_time import day_words, to_local

MOST_OVER_NOMINAL = 1.5  # a litre bottle filled to the brim holds a tenth more; half as much again is a slip
MOST_IN_A_CASE = 48
_FAR = date.max

# Where what was lost went; all else is unexplained. What a person may say depends on whether less or more was found.
ACCOUNT_OF = {Reason.SPILLED: Account.SPILLED, Reason.EVAPORATED: Account.EVAPORATED}
OF_LESS = (Reason.NOT_ENTERED, Reason.SPILLED, Reason.EVAPORATED, Reason.MISREAD, Reason.GONE, Reason.NOT_KNOWN)
OF_MORE = (Reason.MISREAD, Reason.FILLED_UP, Reason.NOT_KNOWN)
TO_CHOOSE = tuple(dict.fromkeys((*OF_LESS, *OF_MORE)))


@dataclass(frozen=True, kw_only=True)
class Noted:
    """What is noted of a bottle when it comes, each under the name of its column and of its field."""

    lot: str = ""
    received_at: datetime
    expires_on: date | None = None


NOTED = tuple(field.name for field in fields(Noted))


class ShelfRefused(Refused):
    """The storage place cannot be as entered; the message says why."""


class BottleRefused(Refused):
    """The bottle cannot be used so; the message says why and what to do."""


def check_received(received_at: datetime, *, first_moved_at: datetime | None) -> None:
    """Raise BottleRefused where a bottle would come after something was taken from it."""
    if first_moved_at is not None and first_moved_at < received_at:
        raise BottleRefused("Something was taken from it before that. Check the day and the time.", field="received_at")


def check_bottle(*, amount: int, noted: Noted) -> None:
    """Raise BottleRefused unless a bottle received today makes sense."""
    if amount <= 0:
        raise BottleRefused("Enter how much is in the bottle.", field="amount")
    if noted.expires_on is not None and noted.expires_on < noted.received_at.date():
        raise BottleRefused(
            "It was past its date when it arrived. Send it back, or check the date.", field="expires_on"
        )


def check_case(*, bottles: int) -> None:
    """Raise BottleRefused unless so many bottles come in one delivery."""
    if not 1 <= bottles <= MOST_IN_A_CASE:
        raise BottleRefused(f"Enter how many bottles came: 1 to {MOST_IN_A_CASE}.", field="bottles")


def last_good_day(
    *,
    expires_on: date | None,
    received_at: datetime,
    opened_at: datetime | None,
    life: ShelfLife | None,
    zone: ZoneInfo,
) -> date | None:
    """Return the last day on which a bottle is good: the earliest of what its date and its product's keeping say.

    None where neither says anything: then it is not known.
    """
    days = [expires_on]
    if life and life.unopened_days:
        days.append(to_local(received_at, zone=zone).date() + timedelta(days=life.unopened_days))
    if life and life.opened_days and opened_at:
        days.append(to_local(opened_at, zone=zone).date() + timedelta(days=life.opened_days))
    return min((day for day in days if day is not None), default=None)


def first_to_lapse(bottle: Bottle) -> tuple[date, bool, int]:
    """By what bottles of a product are put in order: the first to lapse is used first.

    Of an open bottle nobody knows until when it is good where nothing says so: it goes by the day it was opened.
    """
    opened_on = bottle.opened_at.date() if bottle.opened_at else None
    return (bottle.lapses_on or opened_on or _FAR, opened_on is None, bottle.id)


def why_not_used(bottle: Bottle, *, today: date) -> str:
    """Say why nothing is mixed out of a bottle on a day, or nothing: the one answer wherever bottles are offered."""
    if bottle.is_quarantined:
        return f"{bottle.code} is in quarantine: nobody uses it."
    if bottle.lapses_on is not None and bottle.lapses_on < today:
        return f"{bottle.code} is past its date since {day_words(bottle.lapses_on)}: throw it away."
    return ""


def is_offered(bottle: Bottle, *, today: date) -> bool:
    """Whether a bottle is offered to mix from: something is in it, it is good, and nobody set it apart."""
    return bool(bottle.vessel.level) and not why_not_used(bottle, today=today)


def check_used(bottle: Bottle, *, on: date) -> None:
    """Raise BottleRefused where nothing may be mixed out of a bottle on that day."""
    if why := why_not_used(bottle, today=on):
        raise BottleRefused(
            f"{why} If it was mixed already, pour that bath away; if the bottle's date is wrong, put it right first.",
            field="taken",
        )


@dataclass(frozen=True)
class Counted:
    """What a count found in one bottle: `book` is what the page said, `found` None where that is what was found."""

    bottle_id: int
    book: int
    found: int | None = None
    reason: Reason | None = None
    note: str = ""


def check_counted(rows: Iterable[Counted], bottles: Mapping[int, Bottle]) -> None:
    """Raise BottleRefused for a difference without a reason, or a book that moved since the page was opened."""
    for each in rows:
        bottle = bottles[each.bottle_id]
        level, unit = bottle.vessel.level, bottle.vessel.unit
        if level != each.book:
            raise BottleRefused(
                f"{bottle.code} holds {show(level, unit)} by the book now: something changed since this page was "
                "opened. Look at it again.",
                field=f"found_{bottle.id}",
            )
        if each.found is not None:
            check_fits(bottle, found=each.found, field=f"found_{bottle.id}")
            check_reason(bottle, found=each.found, reason=each.reason, field=f"reason_{bottle.id}")


def check_fits(bottle: Bottle, *, found: int, field: str = "found") -> None:
    """Raise BottleRefused where more would be in a bottle than it can hold."""
    if found > MOST_OVER_NOMINAL * bottle.vessel.capacity:
        raise BottleRefused(
            f"{bottle.code} does not hold that much even when full. What stands there besides is another bottle: "
            "receive it, or report it where it has no label.",
            field=field,
        )


def check_reason(bottle: Bottle, *, found: int, reason: Reason | None, field: str) -> None:
    """Raise BottleRefused unless a reason is given that can explain what was found."""
    difference, unit = found - bottle.vessel.level, bottle.vessel.unit
    if not difference:
        return
    if reason is None or reason not in TO_CHOOSE:
        raise BottleRefused(f"{bottle.code}: say why it differs, or that nobody knows.", field=field)
    if reason not in (OF_MORE if difference > 0 else OF_LESS):
        amount = show(abs(difference), unit)
        more = "more" if difference > 0 else "less"
        raise BottleRefused(f"{bottle.code}: {amount} {more} than the book cannot come of “{reason}”.", field=field)


def check_apart(*, person_id: int, set_apart_by: int, code: str) -> None:
    """Raise BottleRefused where somebody would clear what they set apart themselves."""
    if person_id == set_apart_by:
        raise BottleRefused(f"You set {code} apart yourself. Somebody else has to say that it is good.")


def life_words(life: ShelfLife | None) -> str:
    """How long a product keeps in its bottle, in words."""
    if life is None:
        return "not stated: a bottle then goes by the date on it alone"
    closed = counted(life.unopened_days, "day") if life.unopened_days else "not stated"
    opened = counted(life.opened_days, "day") if life.opened_days else "not stated"
    return f"closed: {closed}; once opened: {opened}. {life.source}"
