"""What every document carries: for whom it was made and when, on which paper, and where the record stood."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.database import DbSession
from labsys.documents.page import Issue, Paper
from labsys.hazards.first_aid import ON_A_LABEL
from labsys.lab.emergency import emergency_of
from labsys.people.models import Person
from labsys.records import queries as records
from labsys.records.models import Lab
from labsys.records.queries import Head
from labsys.timetable.local_time import to_local


@dataclass(frozen=True)
class Occasion:
    """For whom a document is made and when; `head` is that of the record before it is issued."""

    lab: Lab
    person: Person
    now: datetime
    head: Head
    public_url: str

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.lab.timezone)

    @property
    def emergency(self) -> tuple[str, ...]:
        """What a label says to do in an emergency, and whom to call where a line is entered."""
        return (*ON_A_LABEL, emergency_of(self.lab).call_on_a_label)

    def issue(self, path: str, *, scan_code: str) -> Issue:
        """Return the signature of a document whose live page is at a path of this site."""
        return Issue(
            lab_name=self.lab.name,
            issued_by=self.person.name,
            issued_at=self.moment(self.now),
            record_number=self.head.number,
            record_hash=self.head.short_hash,
            scan_address=f"{self.public_url}{path}",
            scan_code=scan_code,
            paper=Paper(self.lab.paper_size),
        )

    def issue_with_code(self, code: str) -> Issue:
        """Return the signature of a document about what carries a code to scan."""
        return self.issue(f"/c/{code}", scan_code=code)

    def moment(self, instant: datetime) -> str:
        """Show an instant on the lab's clock, as every document writes it."""
        return f"{to_local(instant, zone=self.zone):%a %-d %b %Y, %H:%M}"

    def moment_in_row(self, instant: datetime) -> str:
        """Show an instant on the lab's clock without the day of the week, for a column of them."""
        return f"{to_local(instant, zone=self.zone):%-d %b %Y, %H:%M}"

    def day(self, instant: datetime) -> str:
        """Show the day of an instant on the lab's clock."""
        return f"{to_local(instant, zone=self.zone):%-d %B %Y}"


def occasion_of(session: DbSession, *, person: Person, now: datetime, public_url: str) -> Occasion:
    """Read what the lab and the head of its record add to who asks and when."""
    return Occasion(records.the_lab(session), person, now, records.head(session), public_url)
