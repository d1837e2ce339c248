"""What a forecast says, in sentences: when a bath or a bottle ends, and whether it is enough for a class."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from labsys.baths.models import Bath
from labsys.baths.rules import life
from labsys.bookings.models import Booking
from labsys.chemistry.life import State
from labsys.forecast.models import BathForecast, BottleForecast, ClassForecast, EndsBy, ProductForecast, Run, Verdict
from labsys.quantities import counted
from labsys.timetable.local_time import clock_words, to_local

AN_ESTIMATE = "An estimate, from what is booked and what came in the last eight weeks."
HEADS = {Verdict.ENOUGH: "Yes", Verdict.PERHAPS: "Perhaps not", Verdict.NO: "No", Verdict.NOT_KNOWN: "Not known"}
_BY = {EndsBy.USE: "by use", EndsBy.AGE: "by age", EndsBy.EITHER: "by use or by age, whichever comes first"}
_MOVED_ON = "more went through it since it was worked out; it is being worked out anew."
_NOT_YET = "it has not been worked out yet; that takes up to ten minutes"


@dataclass(frozen=True)
class Answer:
    """Whether a bath takes the work of a class, as it is said now; of the baths of a class the worst comes first."""

    verdict: Verdict
    question: str
    said: str
    booking: Booking
    bath: Bath | None = None

    @property
    def head(self) -> str:
        return HEADS[self.verdict]

    @property
    def named(self) -> str:
        """Which bath is meant."""
        return f"{self.bath.name} {self.bath.code}" if self.bath else ""


_WORST_FIRST = (Verdict.NO, Verdict.PERHAPS, Verdict.NOT_KNOWN, Verdict.ENOUGH)


def as_of(run: Run | None, *, now: datetime, zone: ZoneInfo) -> str:
    """When it was worked out; that it is not of today, where it is not."""
    if run is None:
        return "No forecast has been worked out yet: that happens while the server runs."
    if is_old(run, now=now, zone=zone):
        return f"Of {_moment(run.made_at, now, zone)}, not of today: nothing newer has been worked out."
    return f"As of {clock_words(run.made_at, zone=zone)} today."


def is_old(run: Run, *, now: datetime, zone: ZoneInfo) -> bool:
    """Whether a forecast was worked out on an earlier day."""
    return run.day != to_local(now, zone=zone).date()


def answer(
    row: ClassForecast, of_bath: BathForecast | None, *, spares: Iterable[Bath], now: datetime, zone: ZoneInfo
) -> Answer:
    """Whether a bath is enough for a class, by the forecast and by what is known since: never milder than either."""
    booking, bath = row.booking, row.bath
    verdict, said = _judged(row, spares=spares, now=now, zone=zone)
    if verdict is Verdict.ENOUGH and bath is not None and (of_bath is None or moved_on(of_bath, bath)):
        verdict, said = Verdict.NOT_KNOWN, _MOVED_ON
    return Answer(verdict, question(booking, now=now, zone=zone), said, booking, bath)


def question(booking: Booking, *, now: datetime, zone: ZoneInfo) -> str:
    """What is asked about a class."""
    start = to_local(booking.starts_at, zone=zone)
    at = clock_words(booking.starts_at, zone=zone)
    return f"Enough for {booking.class_name} on {_day(start.date(), now, zone)}, {at}?"


def _judged(row: ClassForecast, *, spares: Iterable[Bath], now: datetime, zone: ZoneInfo) -> tuple[Verdict, str]:
    bath, booking, run = row.bath, row.booking, row.run
    if bath is not None and bath.is_in_service and life(bath, now=now).state is State.EXHAUSTED:
        return Verdict.NO, f"it is exhausted now. {_instead(bath, spares, booking, zone)}"
    if is_old(run, now=now, zone=zone):
        then = HEADS[row.verdict].lower()
        return (
            Verdict.NOT_KNOWN,
            f"the forecast is of {_moment(run.made_at, now, zone)}, not of today. It said: {then}.",
        )
    worked_out = clock_words(run.made_at, zone=zone)
    if booking.starts_at != row.starts_at or (booking.changed_at is not None and booking.changed_at > run.made_at):
        return Verdict.NOT_KNOWN, f"the class was changed since it was worked out at {worked_out}."
    if bath is not None and not bath.is_in_service:
        return Verdict.NOT_KNOWN, f"another bath took its place since it was worked out at {worked_out}."
    if row.verdict is Verdict.NOT_KNOWN or bath is None:
        return Verdict.NOT_KNOWN, f"{row.why_not_known}."
    said = _figures(row, bath)
    if row.verdict is Verdict.ENOUGH:
        return row.verdict, said
    return row.verdict, f"{said} {_instead(bath, spares, booking, zone)}"


def _figures(row: ClassForecast, bath: Bath) -> str:
    if row.wanted_high is None:
        return "it will have ended by then."
    unit = "roll" if bath.line.work.is_film else "sheet"
    wanted = _between(row.wanted_low, row.wanted_high, unit)
    if row.left_low is None or row.left_high is None:
        return f"{wanted} likely." if row.verdict is Verdict.ENOUGH else f"{wanted} likely, and it ends before."
    left = f"{row.left_low}" if row.left_low == row.left_high else f"{row.left_low} to {row.left_high}"
    of_8x10 = "" if bath.line.work.is_film else " of 8x10"
    return f"{wanted}{of_8x10} likely, {left} left by then."


def _between(low: int | None, high: int | None, unit: str) -> str:
    if low is None or high is None or low == high:
        return f"{counted(high or 0, unit)} {'is' if high == 1 else 'are'}"
    return f"{low} to {counted(high, unit)} are"


def _instead(bath: Bath, spares: Iterable[Bath], booking: Booking, zone: ZoneInfo) -> str:
    spare = next(
        (each for each in spares if (each.line_id, each.place) == (bath.line_id, bath.place) and each.is_spare), None
    )
    if spare is not None:
        return f"The spare {spare.code} can take its place."
    return f"Mix a fresh one before {clock_words(booking.starts_at, zone=zone)}."


def without_rows(booking: Booking, run: Run | None, *, now: datetime, zone: ZoneInfo) -> Answer:
    """What is said of a class of which the forecast says nothing."""
    seen = run is not None and run.made_at >= max(booking.made_at, booking.changed_at or booking.made_at)
    if run is None or not seen:
        why = _NOT_YET
    elif booking.starts_at >= run.until:
        why = "it is more than five weeks ahead"
    else:
        why = "no bath stands for what it is booked for; a process and how much, on its booking, would tell"
    return Answer(Verdict.NOT_KNOWN, question(booking, now=now, zone=zone), f"{why}.", booking)


def worst_first(answers: Iterable[Answer]) -> list[Answer]:
    return sorted(answers, key=lambda each: _WORST_FIRST.index(each.verdict))


def in_short(answers: Sequence[Answer]) -> str:
    """The answers about one class as one text: every bath that is not enough, then what is not known, else yes."""
    parts = [
        f"{each.named}: {each.head.lower()}, {each.said}" if each.named else f"{each.head}: {each.said}"
        for each in answers
        if each.verdict in (Verdict.NO, Verdict.PERHAPS)
    ]
    unknown = [each for each in answers if each.verdict is Verdict.NOT_KNOWN]
    reasons = dict.fromkeys(each.said for each in unknown)
    for reason in reasons:
        named = [each.named for each in unknown if each.said == reason and each.named]
        parts.append(f"Not known{' of ' + ' and '.join(named) if named else ''}: {reason}")
    return " ".join(parts) or "Yes, every bath."


def ends_in_words(row: BathForecast, run: Run, *, now: datetime, zone: ZoneInfo) -> str:
    """When a bath ends."""
    if row.why_not_known:
        return f"When it ends is not known: {row.why_not_known}."
    if row.earliest_at is not None and row.earliest_at == row.latest_at and row.ends_by is EndsBy.AGE:
        return f"It ends by age on {_moment(row.earliest_at, now, zone)}."
    said = range_in_words(row, run, now=now, zone=zone)
    by = f", {_BY[row.ends_by]}" if row.ends_by else ""
    return f"It ends {said}{by}." if row.earliest_at else f"It lasts beyond {_on(run.until, now, zone)}."


def bottle_in_words(row: BottleForecast, run: Run, *, now: datetime, zone: ZoneInfo) -> str:
    """When a bottle is empty or past its date."""
    if row.why_not_known:
        return f"Not known: {row.why_not_known}."
    if row.earliest_at is None:
        return f"Lasts beyond {_on(run.until, now, zone)}."
    said = range_in_words(row, run, now=now, zone=zone)
    return f"{said[:1].upper()}{said[1:]}."


def short_in_words(row: ProductForecast, *, now: datetime, zone: ZoneInfo) -> str:
    """When too little of a product is left for what will be mixed; that it is not known, or that it lasts."""
    run = row.run
    if is_old(run, now=now, zone=zone):
        return f"Not known: the forecast is of {_moment(run.made_at, now, zone)}, not of today."
    if row.short_from is None:
        return f"Not known: {row.why_not_known}." if row.why_not_known else f"Lasts beyond {_on(run.until, now, zone)}."
    first = _on(row.short_from, now, zone)
    if row.short_until is None:
        when = f"on {first} at the earliest, perhaps after {_on(run.until, now, zone)}"
    else:
        last = _on(row.short_until, now, zone)
        when = f"on {first}" if first == last else f"between {first} and {last}"
    more = f" Not all is known: {row.why_not_known}." if row.why_not_known else ""
    return f"Too little is left for what will be mixed {when}.{more}"


def range_in_words(row: BathForecast | BottleForecast, run: Run, *, now: datetime, zone: ZoneInfo) -> str:
    """From when to when something ends; the days of the lab."""
    if row.earliest_at is None:
        return f"after {_on(run.until, now, zone)}"
    first = _on(row.earliest_at, now, zone)
    if row.latest_at is None:
        return f"on {first} at the earliest, perhaps after {_on(run.until, now, zone)}"
    last = _on(row.latest_at, now, zone)
    return f"on {first}" if first == last else f"between {first} and {last}"


def moved_on(row: BathForecast, bath: Bath) -> bool:
    """Whether something went through a bath, or into it, since its forecast was worked out."""
    return row.used != bath.used or row.made_up_ul != bath.made_up_ul


def _on(instant: datetime, now: datetime, zone: ZoneInfo) -> str:
    return _day(to_local(instant, zone=zone).date(), now, zone)


def _moment(instant: datetime, now: datetime, zone: ZoneInfo) -> str:
    return f"{_on(instant, now, zone)}, {clock_words(instant, zone=zone)}"


def _day(day: date, now: datetime, zone: ZoneInfo) -> str:
    this_year = day.year == to_local(now, zone=zone).year
    return f"{day:%a %-d %b}" if this_year else f"{day:%a %-d %b %Y}"
