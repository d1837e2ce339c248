"""Decisions about teaching: which version was taught, who may sign whom off, and what may be confirmed."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from labsys.inductions.rules import Edition, Held, InductionRefused, InductionState, Signed

SAME_CLASS = timedelta(hours=12)


def lapse_of(*, taught_at: datetime, valid_days: int | None) -> datetime | None:
    """Return when a sign-off lapses: so many days after the teaching; None when the version does not lapse."""
    return None if valid_days is None else taught_at + timedelta(days=valid_days)


def edition_taught(editions: Sequence[Edition], *, taught_at: datetime) -> Edition:
    """Return the version that was being taught at an instant; the first, for what was taught before it was written."""
    in_order = sorted(editions, key=lambda edition: edition.number)
    return next((edition for edition in reversed(in_order) if edition.issued_at <= taught_at), in_order[0])


def check_taught_at(*, taught_at: datetime, now: datetime) -> None:
    """Raise InductionRefused at a teaching in the future."""
    if taught_at > now:
        raise InductionRefused("That is in the future. Sign off once it was taught.", field="taught_at")


def check_here(*, name: str, left_at: datetime | None, field: str = "people") -> None:
    """Raise InductionRefused for somebody who has left."""
    if left_at is not None:
        raise InductionRefused(f"{name} has left. Nobody is signed off who is not here.", field=field)


def check_signer(own: Sequence[Signed], *, standing: Held, state: str, name: str, taught_at: datetime) -> None:
    """Raise InductionRefused unless somebody may sign an induction off: they hold it now, and held it when teaching.

    `own` are the signer's own sign-offs of it; `standing` and `state` how they stand with it now.
    """
    if not standing.is_current:
        raise InductionRefused(
            f"You do not hold {name} yourself: {state}. Somebody who holds it has to sign it off.", field="inductions"
        )
    if not any(signed.taught_at <= taught_at for signed in own if signed.confirmed_at and not signed.withdrawn_at):
        raise InductionRefused(
            f"You did not hold {name} yourself at that time. Check when it was taught.", field="taught_at"
        )


def check_not_twice(earlier: Iterable[Signed], *, edition: Edition, taught_at: datetime, who: str, what: str) -> None:
    """Raise InductionRefused where the same teaching is signed off already, or one still waits for its confirmation.

    Within twelve hours two teachings count as one: nobody is taught the same thing twice in a day.
    """
    for signed in earlier:
        if signed.withdrawn_at is not None or signed.version_number != edition.number:
            continue
        if signed.confirmed_at is None and (signed.lapses_at is None or signed.lapses_at > taught_at):
            raise InductionRefused(
                f"{who} is signed off for {what} already and only has to confirm it. Leave them out here.",
                field="people",
            )
        if abs(signed.taught_at - taught_at) < SAME_CLASS:
            raise InductionRefused(f"{who} is signed off for {what} of that day already.", field="people")


def check_may_confirm(held: Held, *, state: str) -> None:
    """Raise InductionRefused unless one sign-off waits for its confirmation."""
    if held.is_current:
        raise InductionRefused("It is confirmed already. There is nothing left to do.")
    if held.standing is not InductionState.WAITING:
        raise InductionRefused(f"It can no longer be confirmed: {state}.")


def check_refresher(held: Held, *, refresher_days: int | None, taught_at: datetime, who: str, what: str) -> None:
    """Raise InductionRefused unless the shorter text will do: they hold it, or held it until a short time before."""
    if refresher_days is None:
        raise InductionRefused(f"{what} has no refresher: teach all of it.", field="how")
    lapsed_at = held.signed.lapses_at if held.signed else None
    is_soon = lapsed_at is not None and taught_at <= lapsed_at + timedelta(days=refresher_days)
    if held.standing is InductionState.CURRENT or (held.standing is InductionState.LAPSED and is_soon):
        return
    raise InductionRefused(f"The refresher of {what} is not enough for {who}: {_WHY_NOT[held.standing]}.", field="how")


_WHY_NOT = {
    InductionState.LAPSED: "theirs lapsed too long ago",
    InductionState.NEVER: "they never held it",
    InductionState.REPEAT: "everybody has to repeat the whole of it",
    InductionState.WAITING: "they have not confirmed the whole of it yet",
    InductionState.WITHDRAWN: "theirs was withdrawn",
}
