"""What every document carries: who issued it and when, on which paper, and where the record stood."""

from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.documents.page import Issue, Paper
from labsys.people.models import Person
from labsys.records.models import Lab
from labsys.records.queries import Head
from labsys.timetable.local_time import to_local


def issue_of(lab: Lab, *, issued_by: Person, now: datetime, head: Head, scan_address: str, scan_code: str) -> Issue:
    """Return the signature of a document; `head` is that of the record before it is issued."""
    return Issue(
        lab_name=lab.name,
        issued_by=issued_by.name,
        issued_at=moment(now, zone=ZoneInfo(lab.timezone)),
        record_number=head.number,
        record_hash=head.short_hash,
        scan_address=scan_address,
        scan_code=scan_code,
        paper=Paper(lab.paper_size),
    )


def moment(instant: datetime, *, zone: ZoneInfo) -> str:
    """Show an instant on the lab's clock, as every document writes it."""
    return f"{to_local(instant, zone=zone):%a %-d %b %Y, %H:%M}"


def moment_in_row(instant: datetime, *, zone: ZoneInfo) -> str:
    """Show an instant on the lab's clock without the day of the week, for a column of them."""
    return f"{to_local(instant, zone=zone):%-d %b %Y, %H:%M}"


def day(instant: datetime, *, zone: ZoneInfo) -> str:
    """Show the day of an instant on the lab's clock."""
    return f"{to_local(instant, zone=zone):%-d %B %Y}"
