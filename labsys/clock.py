"""The one place that reads the time. Rules and services are handed `now`."""

from datetime import UTC, datetime


def now() -> datetime:
    return datetime.now(UTC)
