"""People's visits: booked some days ahead, arrived for, worked in, logged and left."""

from collections.abc import Callable, Iterator
from datetime import date, time, timedelta
from functools import partial

from labsys.baths import uses
from labsys.bookings import service as bookings
from labsys.bookings.models import Booking
from labsys.bookings.rules import BookingRefused, Plan, SlotTaken
from labsys.chemistry.sizes import Pieces
from labsys.demo.fixtures import Entry, Habit
from labsys.demo.play import Play, Scene
from labsys.duty.rules import CompanyRefused
from labsys.inductions import service as inductions
from labsys.inductions import signing
from labsys.inductions.contents import Further
from labsys.inductions.picturing import add_picture
from labsys.inductions.rules import NotCleared
from labsys.timetable.spans import Span

CLASS_UNITS = 4
CANCELLED_SHARE = 0.06
_QUARTER_MINUTES = 15


def comes(play: Play, habit: Habit, day: date) -> bool:
    """Whether somebody follows a habit on a day. Drawn every day, so that one weekday more shifts no other draw."""
    chance = play.random.random()
    return day.weekday() in habit.weekdays and chance < habit.chance


def visit(play: Play, habit: Habit, day: date) -> Iterator[Scene]:
    """One visit from booking to leaving. Whoever is refused a booking comes by all the same and logs the work."""
    first = habit.earliest.hour * 60 + habit.earliest.minute
    last = habit.latest.hour * 60 + habit.latest.minute
    minute = play.random.randint(first // _QUARTER_MINUTES, last // _QUARTER_MINUTES) * _QUARTER_MINUTES
    start = play.instant(day, time(*divmod(minute, 60)))
    end = start + timedelta(hours=habit.hours)
    count = play.random.randint(habit.low, habit.high)
    ahead = timedelta(days=play.random.randint(1, 4), minutes=play.random.randint(0, 180))
    is_cancelled = play.random.random() < CANCELLED_SHARE
    booked: dict[str, int] = {}
    yield start - ahead, lambda: _book(play, habit, Span(start, end), count, booked)
    if is_cancelled and not habit.class_name:
        yield start - timedelta(hours=5), lambda: _handle(play, habit, booked, bookings.cancel)
        return
    yield start + timedelta(minutes=play.random.randint(-5, 12)), lambda: _handle(play, habit, booked, _arrive)
    yield end - timedelta(minutes=play.random.randint(12, 30)), lambda: _log(play, habit, count)
    yield end - timedelta(minutes=play.random.randint(0, 10)), lambda: _handle(play, habit, booked, bookings.leave)


_arrive = partial(bookings.arrive, fan_runs=True)


def teach(play: Play, told: Entry) -> None:
    """Sign people off for what they were taught, and let each confirm it, unless they have not got round to it yet."""
    signer = play.person(told["by"])
    taught_at = play.at
    for key in told["people"]:
        for name in told["inductions"]:
            signed = signing.sign_off_many(
                play.act(signer),
                person_ids=[play.ids[key]],
                induction_ids=[play.ids[f"induction {name}"]],
                taught_at=taught_at,
                saw_practice=True,
            )
            if not told.get("unconfirmed"):
                signing.confirm(play.act(key), sign_off_id=signed.id)


def issue_version(play: Play, told: Entry) -> None:
    """Add the picture of a new version and issue it; what was signed under earlier ones stands."""
    induction_id = play.ids[f"induction {told['induction']}"]
    sent = play.fixtures.pictures[told["picture"]]
    add_picture(play.act(told["by"]), induction_id=induction_id, sent=sent, shows=told["shows"])
    inductions.issue_version(
        play.act(told["by"]),
        induction_id=induction_id,
        text=told["text"],
        valid_days=told["valid_days"],
        must_repeat=False,
        further=Further(
            **{name: told[name] for name in ("practice", "refresher", "refresher_days", "quiz", "pass_mark")}
        ),
    )


def _book(play: Play, habit: Habit, span: Span, count: int, booked: dict[str, int]) -> None:
    process = next(line.process for line in play.fixtures.lines if line.key == habit.line)
    plan = Plan(process_id=play.ids[f"process {process}"], size=habit.size.key, count=count)
    person = play.person(habit.person)
    book: Callable[..., Booking] = partial(bookings.book, person_id=person.id)
    if habit.class_name:
        units = CLASS_UNITS if habit.station == "enlarger" else 2
        book = partial(bookings.book_class, person_id=person.id, units=units, class_name=habit.class_name)
    for _ in range(2):
        try:
            made = book(play.act(person), station_id=play.ids[f"station {habit.station}"], span=span, plan=plan)
        except SlotTaken as taken:
            if not taken.nearest:
                return
            span = taken.nearest[0]
        except (BookingRefused, NotCleared, CompanyRefused):
            return
        else:
            booked["id"] = made.id
            return


def _handle(play: Play, habit: Habit, booked: dict[str, int], handle: Callable[..., object]) -> None:
    if "id" not in booked:
        return
    try:
        handle(play.act_now(habit.person), booking_id=booked["id"])
    except (BookingRefused, NotCleared, CompanyRefused):
        booked.clear()  # moved to another time, no longer cleared or nobody else there: nobody arrives for it


def _log(play: Play, habit: Habit, count: int) -> None:
    uses.log_uses(
        play.act(habit.person),
        line_id=play.ids[f"line {habit.line}"],
        went=[Pieces(habit.size, habit.material, count)],
        class_name=habit.class_name,
        used_at=play.at,
    )
