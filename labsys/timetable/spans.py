"""Spans of time: half-open, between instants."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta


class BadSpan(ValueError):
    """A span ends before it starts, is empty, or its ends carry no zone."""


@dataclass(frozen=True, order=True)
class Span:
    """From `start` up to but not including `end`: two spans that touch do not overlap (RFC 5545, section 3.6.1)."""

    start: datetime
    end: datetime

    def __post_init__(self) -> None:
        if self.start.tzinfo is None or self.end.tzinfo is None:
            raise BadSpan("an instant carries a zone")
        if self.end <= self.start:
            raise BadSpan("a span ends after it starts")

    @property
    def length(self) -> timedelta:
        return self.end - self.start

    def overlaps(self, other: "Span") -> bool:
        return self.start < other.end and other.start < self.end

    def contains(self, other: "Span") -> bool:
        return self.start <= other.start and other.end <= self.end


def merged(spans: Iterable[Span]) -> list[Span]:
    """Join spans that touch or overlap, in order of time."""
    joined: list[Span] = []
    for span in sorted(spans):
        if joined and span.start <= joined[-1].end:
            joined[-1] = Span(joined[-1].start, max(joined[-1].end, span.end))
        else:
            joined.append(span)
    return joined


def common(some: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    """Return the time that lies in spans of both, in order of time."""
    met = [(max(one.start, other.start), min(one.end, other.end)) for one in some for other in others]
    return merged(Span(start, end) for start, end in met if start < end)
