"""The address of a plan, and a booking to plan for."""

from datetime import UTC, datetime, timedelta

from labsys.bookings.rules import Plan
from labsys.timetable.spans import Span

TOMORROW = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)


def address(process, *, size="120", count=5, **told):
    return "/plan?" + "&".join(
        f"{key}={value}" for key, value in {"process_id": process.id, "size": size, "count": count, **told}.items()
    )


def book(lab, process, *, role="member", **changes):
    lab.add_places()
    lab.fill_rota()
    return lab.book(
        "Film sink",
        Span(TOMORROW, TOMORROW + timedelta(hours=2)),
        role=role,
        plan=Plan(process_id=process.id, size="120", count=4, **changes),
    )
