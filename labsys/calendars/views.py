"""Pages of calendars: one's addresses, a new one shown this once, and the calendar itself."""

from flask import Blueprint, Response, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import row_key, saved
from labsys.calendars import contents, pages, queries, service
from labsys.calendars.rules import Calendar
from labsys.config import this_config
from labsys.database import db
from labsys.drawing.qr import qr_code
from labsys.people.access import ANYONE, SIGNED_IN, current_person, permits, this_act
from labsys.people.permissions import Permission, may
from labsys.places import queries as places
from labsys.records.errors import NotFound
from labsys.timetable.calendar_file import MEDIA_TYPE

bp = Blueprint("calendars", __name__)

ENDED = "There is no calendar at this address, or no longer. A new one is made on the page Calendars.\n"


@bp.get("/calendars")
@permits(SIGNED_IN)
def index() -> ResponseReturnValue:
    """Show which calendars somebody can have, and the addresses they made."""
    person, now = current_person(), clock.now()
    sees_courses = may(person, Permission.BOOK_FOR_OTHERS)
    wanted = request.args.get("course", type=row_key)
    return render_template(
        "calendars/index.html",
        lines=pages.lines(
            rooms=places.rooms(db.session),
            courses=queries.courses_to_come(db.session, now=now, also=wanted) if sees_courses else (),
            addresses=queries.working_addresses(db.session, of=person),
        ),
        of_others=queries.working_addresses(db.session, of=None, but_of=person.id)
        if may(person, Permission.KEEP_PEOPLE)
        else (),
        name_of=pages.name_of,
    )


@bp.post("/calendars/make")
@permits(SIGNED_IN)
def make() -> ResponseReturnValue:
    """Make an address and show it this once: a redirect would lose it, or keep it in a session or an address."""
    calendar = Calendar(room_id=_key("room"), course_id=_key("course"))
    made = service.make_address(this_act(), calendar=calendar)
    address = f"{this_config().public_url}/calendar/{made.token}/lab.ics"
    code = qr_code(address, title="The address as a code to scan")
    return render_template("calendars/made.html", name=pages.name_of(made.address), address=address, code=code)


@bp.post("/calendars/<int:address_id>/end")
@permits(SIGNED_IN)
def end(address_id: int) -> ResponseReturnValue:
    """End an address."""
    ended = service.end_address(this_act(), address_id=address_id)
    return saved(f"The address of {pages.name_of(ended)} has ended: nobody reads that calendar by it.", ".index")


@bp.get("/calendar/<token>/lab.ics")
@permits(ANYONE)
def feed(token: str) -> ResponseReturnValue:
    """Give a calendar to whoever has its address: kept by nothing in between, and sent anew only when changed."""
    address = queries.address_of_token(db.session, token)
    if address is None:
        return Response(ENDED, 404, mimetype="text/plain")
    config = this_config()
    answer = Response(
        contents.as_file(db.session, address, now=clock.now(), public_url=config.public_url), content_type=MEDIA_TYPE
    )
    answer.headers["Cache-Control"] = "private, no-cache"
    answer.headers["Content-Disposition"] = 'inline; filename="lab.ics"'
    answer.add_etag()
    return answer.make_conditional(request)


def _key(name: str) -> int | None:
    """The key of a row as a button sends it, or None where it sends none. Raises NotFound for what is no key."""
    typed = request.form.get(name, "")
    try:
        return row_key(typed) if typed else None
    except ValueError as error:
        raise NotFound(name, typed) from error
