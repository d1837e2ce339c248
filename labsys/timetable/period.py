"""A period of whole days on the lab's calendar."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True)
class Period:
    """Whole days of the lab's calendar, the last one included."""

    first: date
    last: date

    @classmethod
    def month_so_far(cls, today: date) -> "Period":
        return cls(today.replace(day=1), today)

    @property
    def written(self) -> Mapping[str, str]:
        """The period as an address asks for it and as the record keeps it."""
        return {"from": self.first.isoformat(), "to": self.last.isoformat()}

    def instants(self, *, zone: ZoneInfo) -> tuple[datetime, datetime]:
        """Return when the first day begins and when the day after the last begins."""
        return _start_of(self.first, zone=zone), _start_of(self.last + timedelta(days=1), zone=zone)

    def __str__(self) -> str:
        """The period in words.

        >>> str(Period(date(2026, 3, 1), date(2026, 3, 31)))
        '1 March 2026 to 31 March 2026'
        """
        if self.first == self.last:
            return f"{self.first:%-d %B %Y}"
        return f"{self.first:%-d %B %Y} to {self.last:%-d %B %Y}"


def _start_of(local_day: date, *, zone: ZoneInfo) -> datetime:
    """The first instant of a day. Where the clocks skip midnight it is the moment of the change: PEP 495, fold 0."""
    return datetime.combine(local_day, time.min, tzinfo=zone).astimezone(UTC)
