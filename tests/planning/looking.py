"""How the tests of the plan's page look at it: its address, a booking to plan for, its words, its queries."""

import re
from datetime import UTC, datetime, timedelta

from sqlalchemy import event

from labsys.bookings.rules import Plan
from labsys.database import db
from labsys.timetable.spans import Span

TOMORROW = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)


def text(response):
    """The words of a page, without its marks."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.get_data(as_text=True))).replace("&#39;", "'")


def address(process, *, size="120", count=5, **told):
    return "/plan?" + "&".join(
        f"{key}={value}" for key, value in {"process_id": process.id, "size": size, "count": count, **told}.items()
    )


def book(lab, process, *, role="member", **changes):
    lab.add_places()
    return lab.book(
        "Film sink",
        Span(TOMORROW, TOMORROW + timedelta(hours=2)),
        role=role,
        plan=Plan(process_id=process.id, size="120", count=4, **changes),
    )


def queries_of(act):
    """How many statements an act sends to the database."""
    counted = []
    listen = lambda *_: counted.append(1)  # noqa: E731
    event.listen(db.engine, "before_cursor_execute", listen)
    try:
        assert act().status_code == 200
    finally:
        event.remove(db.engine, "before_cursor_execute", listen)
    return len(counted)
