"""Pages of bookings: the day, booking, one booking, one's own."""

from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta
from functools import partial
from typing import Any, TypeVar, cast

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import csv_file, cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.bookings import keeping_fair, pages, queries, service, supervising
from labsys.bookings.board import board
from labsys.bookings.conditions import asked_of_air, still_lacking
from labsys.bookings.forms import BookForm, ChangeForm, ClassForm, clock_of
from labsys.bookings.models import Booking
from labsys.bookings.rehearsing import Rehearsal, rehearse
from labsys.bookings.rules import SlotTaken
from labsys.bookings.week import week, week_of
from labsys.database import db
from labsys.forms import new_key
from labsys.inductions.rules import Missing, NotCleared
from labsys.membership.keeping import rules_of
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may
from labsys.people.queries import people_here, people_who_may
from labsys.places import queries as places
from labsys.places.calendar import Calendar, Opening
from labsys.places.models import Station
from labsys.processes import queries as processes
from labsys.timetable.opening import MINUTES_PER_DAY, day_span
from labsys.timetable.spans import Span

bp = Blueprint("bookings", __name__)
NewBooking = TypeVar("NewBooking", bound=BookForm)

BOOKINGS_A_PAGE = 25
MOST_IN_FILE = 5_000
_DAY = timedelta(days=1)
KEPT = (
    "process_id",
    "size",
    "count",
    "note",
    "class_name",
    "units",
    "number",
    "supervisor",
    "second_adult",
    "students",
    "guests",
)  # of a form, when another time is chosen


@bp.get("/bookings")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show a week and one day of it: who is where and when, what is free, and the sentence that books."""
    now = clock.now()
    day = pages.day_of(request.args.get("day"), zone=g.zone, now=now)
    calendar = places.calendar(db.session, within=week_of(day, zone=g.zone), zone=g.zone, now=now)
    stations = places.stations(db.session)
    may_book = may(current_person(), Permission.BOOK_STATION)
    return render_template(
        "bookings/index.html",
        board=board(db.session, day=day, zone=g.zone, viewer=current_person(), now=now, calendar=calendar),
        week=week(db.session, day=day, calendar=calendar, stations=stations, now=now),
        form=_form_on(BookForm, day, calendar=calendar, stations=stations) if may_book else None,
        before=day - 7 * _DAY,
        after=day + 7 * _DAY,
    )


@bp.route("/bookings/book", methods=["GET", "POST"])
@permits(Permission.BOOK_STATION)
def book() -> ResponseReturnValue:
    """Show the form to book a place, say what it would come to, or book it."""
    form = _new_form(BookForm)

    def act() -> Booking | Rehearsal:
        do = rehearse if "check" in request.form else service.book
        return do(
            this_act(form),
            person_id=_person_id(form),
            station_id=form.station.data,
            span=form.span(zone=g.zone),
            plan=form.plan,
            number=form.number.data or None,
            override=_override(form),
        )

    return _answer(form, act, template="bookings/book.html", message="Booked.")


@bp.route("/bookings/book-class", methods=["GET", "POST"])
@permits(Permission.BOOK_CLASS)
def book_class() -> ResponseReturnValue:
    """Show the form to book for a class, or book it."""
    form = _new_form(ClassForm)

    def act() -> Booking:
        return service.book_class(
            this_act(form),
            person_id=_person_id(form),
            station_id=form.station.data,
            span=form.span(zone=g.zone),
            plan=form.plan,
            **form.values_of("units", "students", "class_name"),
            override=_override(form),
        )

    return _answer(form, act, template="bookings/book_class.html", message="Booked for the class.")


@bp.get("/bookings/mine")
@permits(Permission.BOOK_STATION)
def mine() -> ResponseReturnValue:
    """Show one's own bookings: those to come, then those that are over."""
    now, person = clock.now(), current_person()
    after_id, before_id = request.args.get("after", type=row_key), request.args.get("before", type=row_key)
    whose: dict[str, Any] = {"person_id": person.id, "now": now, "limit": BOOKINGS_A_PAGE + 1}
    to_come, later = cut_page(queries.to_come(db.session, after_id=after_id, **whose), limit=BOOKINGS_A_PAGE)
    over, earlier = cut_page(queries.over(db.session, before_id=before_id, **whose), limit=BOOKINGS_A_PAGE)
    calendar = _calendar_around(to_come)
    return render_template(
        "bookings/mine.html",
        to_come=[pages.view_of(booking, zone=g.zone, now=now, calendar=calendar) for booking in to_come],
        over=[pages.view_of(booking, zone=g.zone, now=now) for booking in over],
        lapses=_lapses(person.id),
        later=later,
        earlier=earlier,
        is_paged=after_id is not None or before_id is not None,
    )


@bp.get("/bookings/mine.csv")
@permits(Permission.BOOK_STATION)
def mine_as_spreadsheet() -> ResponseReturnValue:
    """Give one's own bookings as a table, the newest first."""
    now = clock.now()
    bookings = queries.newest_of(db.session, person_id=current_person().id, limit=MOST_IN_FILE)
    return csv_file(pages.HEADS, [pages.cells(booking, zone=g.zone, now=now) for booking in bookings], name="bookings")


@bp.get("/bookings/<int:booking_id>")
@permits(Permission.SEE_LAB)
def show(booking_id: int) -> ResponseReturnValue:
    """Show one booking: to its person and those who book for others all of it, else who, where and when."""
    booking = queries.booking_or_raise(db.session, booking_id)
    person, now = current_person(), clock.now()
    view = pages.view_of(booking, zone=g.zone, now=now, calendar=_calendar_around([booking]))
    sees_all = booking.person_id == person.id or may(person, Permission.BOOK_FOR_OTHERS)
    return render_template(
        "bookings/show.html",
        view=view,
        may_handle=service.may_handle(person, booking),
        sees_all=sees_all,
        conditions=still_lacking(db.session, booking, now=now) if sees_all and view.can_change else (),
        air=asked_of_air(db.session, booking.process, now=now) if booking.process and view.can_arrive else None,
        lapses=_lapses(booking.person_id) if may(person, Permission.BOOK_FOR_OTHERS) else "",
        form_key=new_key(),
        supervised=supervising.shown(this_act(), booking, is_open=sees_all and view.can_change),
    )


@bp.route("/bookings/<int:booking_id>/change", methods=["GET", "POST"])
@permits(Permission.BOOK_STATION)
def change(booking_id: int) -> ResponseReturnValue:
    """Show the form of a booking, or change its time and plan."""
    booking = queries.booking_or_raise(db.session, booking_id)
    service.require_handling(current_person(), booking)
    view = pages.view_of(booking, zone=g.zone, now=clock.now())
    if not view.can_change:
        flash("This booking is over and stays as it is. Book again.", "problem")
        return redirect(url_for(".show", booking_id=booking_id), 303)
    form = ChangeForm.of(booking, zone=g.zone)
    if not may(current_person(), Permission.BOOK_FOR_OTHERS):
        del form.override
    day = pages.day_of(str(form.day.data), zone=g.zone, now=clock.now())
    calendar = places.calendar(db.session, within=day_span(day, zone=g.zone), now=clock.now())
    _offer(form, calendar.of(booking.station), day, whose=booking)

    def act() -> Booking:
        return service.change(
            this_act(form),
            booking_id=booking_id,
            version=form.version_number,
            span=form.span(zone=g.zone),
            plan=form.plan,
            **(form.values_of("units", "students") if form.units else {}),
        )

    return _answer(form, act, template="bookings/change.html", message="Changed.", view=view)


@bp.post("/bookings/<int:booking_id>/cancel")
@permits(Permission.BOOK_STATION)
def cancel(booking_id: int) -> ResponseReturnValue:
    """Cancel a booking."""
    return _one_button(booking_id, service.cancel, "Cancelled. The time is free for others now.")


@bp.post("/bookings/<int:booking_id>/arrive")
@permits(Permission.BOOK_STATION)
def arrive(booking_id: int) -> ResponseReturnValue:
    """Note an arrival, with word that the extraction runs where that is said."""
    arrived = partial(service.arrive, fan_runs=request.form.get("fan_runs") == "yes")
    return _one_button(booking_id, arrived, "Arrived.")


@bp.post("/bookings/<int:booking_id>/leave")
@permits(Permission.BOOK_STATION)
def leave(booking_id: int) -> ResponseReturnValue:
    """Note that the work is over."""
    return _one_button(booking_id, service.leave, "Left. What remained of the time is free for others.")


def _new_form(kind: type[NewBooking]) -> NewBooking:
    day = pages.day_of(request.form.get("day") or request.args.get("day"), zone=g.zone, now=clock.now())
    calendar = places.calendar(db.session, within=day_span(day, zone=g.zone), now=clock.now())
    return _form_on(kind, day, calendar=calendar, stations=places.stations(db.session))


def _form_on(kind: type[NewBooking], day: date, *, calendar: Calendar, stations: Sequence[Station]) -> NewBooking:
    """An empty form for a day, filled in with what the address says; the calendar is that of the day at least."""
    now = clock.now()
    station_id = request.args.get("station", type=row_key)
    wanted = next((station for station in stations if station.id == station_id), None)
    opening = calendar.of(wanted) if wanted else calendar.lab
    begin = pages.prefill(day=day, at=request.args.get("from"), until=request.args.get("to"), opening=opening, now=now)
    person = current_person()
    form = kind(
        person=request.args.get("person", person.id, type=row_key),
        station=station_id,
        day=begin.day,
        starts=begin.starts,
        ends=begin.ends,
        **{name: value for name in KEPT if (value := request.args.get(name))},
    )
    may_choose = may(person, Permission.BOOK_FOR_OTHERS)
    form.offer(stations=stations, people=_whose(kind) if may_choose else [(person.id, person.name)])
    if not may_choose:
        del form.person, form.override
    chosen = next((station for station in stations if station.id == form.station.data), None)
    _offer(form, calendar.of(chosen) if chosen else calendar.lab, day)
    return form


def _whose(kind: type[BookForm]) -> Iterable[tuple[int, str]]:
    """Whom a booking can be made for: a class by those who may hold one."""
    if not issubclass(kind, ClassForm):
        return people_here(db.session)
    return [(person.id, person.name) for person in people_who_may(db.session, Permission.BOOK_CLASS)]


def _offer(form: BookForm | ChangeForm, opening: Opening, day: date, *, whose: Booking | None = None) -> None:
    """Hand in the processes, and the times at which the place is open on the day; on a closed day those of the week.

    Who is under 18 names who answers for them; on a shared tablet nothing tells who that is.
    """
    starts, ends = pages.times_of_day(opening, day)
    if not starts:
        starts = pages.time_choices(places.widest_week(db.session))
        ends = [minute + pages.QUARTER_MINUTES for minute in starts]
    form.offer_times(starts, ends)
    form.offer_processes(processes.processes(db.session))
    if supervising.asks_for_adults(this_act(), form.is_for_class, booking=whose):
        form.offer_adults(supervisors=supervising.supervisors(db.session), people=people_here(db.session))
    else:
        del form.supervisor, form.second_adult
    if form.is_for_class or not rules_of(db.session).most_guests:
        del form.guests


def _override(form: BookForm | ChangeForm) -> str:
    """Why it may go beyond fair use, of a form that asks."""
    return form.override.data or "" if form.override else ""


def _person_id(form: BookForm) -> int:
    return form.person.data if form.person else current_person().id


def _answer(
    form: BookForm | ChangeForm, act: Callable[[], Booking | Rehearsal], *, template: str, message: str, **context: Any
) -> ResponseReturnValue:
    """Do what a form asks and go to the booking, or show the form with what stands against it and what to do."""
    offers: list[pages.Offer] = []
    missing: tuple[Missing, ...] = ()
    wait = ""
    if form.validate_on_submit():
        with refusals(form):
            try:
                outcome = act()
            except SlotTaken as taken:
                offers = pages.offers(taken.nearest, zone=g.zone, href=_same_form(form))
                wait = _wait_for(form) if isinstance(form, BookForm) else ""
                raise
            except NotCleared as refusal:
                missing = refusal.missing
                raise
            if isinstance(outcome, Rehearsal):
                return render_template(template, form=form, rehearsal=outcome, **context)
            return saved(message, ".show", booking_id=outcome.id)
    return form_page(template, form, offers=offers, missing=missing, wait=wait, **context)


def _same_form(form: BookForm | ChangeForm) -> Callable[..., str]:
    """Addresses of this form with another time in it and all else as it was typed."""
    names = (*KEPT, "person", "station")
    typed = {name: form[name].data for name in names if name in form and form[name].data}
    return partial(url_for, cast(str, request.endpoint), **(request.view_args or {}), **typed)


def _wait_for(form: BookForm) -> str:
    """The address of the form to wait for what was refused, for oneself."""
    if _person_id(form) != current_person().id or isinstance(form, ClassForm):
        return ""
    names = ("station", "day", "process_id", "size", "count")
    typed: dict[str, Any] = {name: form[name].data for name in names if form[name].data}
    times = {"from": clock_of(form.starts.data), "to": clock_of(form.ends.data % MINUTES_PER_DAY)}
    minutes = (form.ends.data - form.starts.data) % MINUTES_PER_DAY
    return url_for("waiting.begin", **{**typed, **times}, minutes=minutes)


def _one_button(booking_id: int, handle: Callable[..., Booking], message: str) -> ResponseReturnValue:
    with refusals_at(".show", booking_id=booking_id):
        handle(this_act(), booking_id=booking_id)
    return saved(message, ".show", booking_id=booking_id)


def _calendar_around(bookings: list[Booking]) -> Calendar | None:
    if not bookings:
        return None
    first, last = min(booking.starts_at for booking in bookings), max(booking.ends_at for booking in bookings)
    return places.calendar(db.session, within=Span(first - _DAY, last + _DAY), now=clock.now())


def _lapses(person_id: int) -> str:
    """How often somebody cancelled late or did not come."""
    told = keeping_fair.lapses_of(db.session, person_ids=[person_id], now=clock.now())
    return pages.lapses_in_words(told.get(person_id, keeping_fair.Lapses()))
