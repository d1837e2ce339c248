"""Who used how much this term, and in one course: the page that adds up uses, asked for the right days."""

from typing import Any

from flask import g, redirect, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.courses import queries
from labsys.courses.blueprint import bp
from labsys.database import db
from labsys.people.access import permits
from labsys.people.permissions import Permission
from labsys.timetable.local_time import to_local
from labsys.timetable.period import Period


@bp.get("/courses/uses-this-term")
@permits(Permission.SEE_USES)
def uses_this_term() -> ResponseReturnValue:
    """Go on to the uses of the term that runs, of the last one between terms, or of the month where there is none."""
    today = to_local(clock.now(), zone=g.zone).date()
    term = queries.term_at(db.session, today) or Period.month_so_far(today)
    return redirect(_uses(term))


@bp.get("/courses/<int:course_id>/uses")
@permits(Permission.SEE_USES)
def uses_of_course(course_id: int) -> ResponseReturnValue:
    """Go on to what was logged for a course in its term."""
    course = queries.course_or_raise(db.session, course_id)
    days = [meeting.day for meeting in course.meetings]
    days_of_it = Period(min([course.first_day, *days]), max([course.last_day or course.first_day, *days]))
    return redirect(_uses(days_of_it, **{"class": course.name}))


def _uses(period: Period, **chosen: Any) -> str:
    chosen |= period.written
    return url_for("baths.uses_of_people", **chosen)
