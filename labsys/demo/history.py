"""Plays the demonstration lab's life: every scene of three months, in order of time, up to now."""

from collections.abc import Iterator
from datetime import time, timedelta

from labsys.demo.furnishing import furnish
from labsys.demo.mishaps import happen
from labsys.demo.play import WEEKS, Play
from labsys.demo.register import DAYS_AGO, issue_papers
from labsys.demo.technician import go_round
from labsys.demo.visits import Scene, comes, teach, visit

ROUND = time(9, 40)
PAPERS = time(10, 20)
BOOKED_AHEAD_DAYS = 5


def run(play: Play) -> None:
    """Set up the lab and play every scene up to now; what is booked for the days to come is booked already."""
    furnish(play)
    for happens_at, act in sorted(_scenes(play), key=lambda scene: scene[0]):
        if happens_at > play.now:
            return
        play.at = max(play.at, happens_at)
        act()


def _scenes(play: Play) -> Iterator[Scene]:
    yield play.instant(play.today - timedelta(days=DAYS_AGO), PAPERS), lambda: issue_papers(play)
    for days_ago in range(WEEKS * 7, -BOOKED_AHEAD_DAYS - 1, -1):
        day = play.today - timedelta(days=days_ago)
        coming = [habit for habit in play.fixtures.habits if comes(play, habit, day)]
        busy = {habit.line for habit in coming}
        yield play.instant(day, ROUND), lambda busy=busy, day=day: go_round(play, busy, day)  # type: ignore[misc]
        for habit in coming:
            yield from visit(play, habit, day)
        for event in play.fixtures.events:
            if event["days_ago"] == days_ago:
                at = play.instant(day, time.fromisoformat(event["time"]))
                yield at, lambda event=event: happen(play, event)  # type: ignore[misc]
        for row in play.fixtures.teaching:
            if row["days_ago"] == days_ago:
                at = play.instant(day, time.fromisoformat(row["time"]))
                yield at, lambda row=row: teach(play, row)  # type: ignore[misc]
