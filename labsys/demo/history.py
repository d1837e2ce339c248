"""Plays the demonstration lab's life: every scene of three months, in order of time, up to now."""

from collections.abc import Iterator
from datetime import time, timedelta

from labsys.demo import store
from labsys.demo.assessing import assess
from labsys.demo.brought_in import declaration_scenes
from labsys.demo.furnishing import furnish
from labsys.demo.incidents import incident_scenes
from labsys.demo.mishaps import happen
from labsys.demo.play import WEEKS, Play
from labsys.demo.register import DAYS_AGO, issue_papers
from labsys.demo.technician import go_round
from labsys.demo.visits import Scene, comes, teach, visit
from labsys.demo.ways import scenes_of_the_fibre_line

ROUND = time(9, 40)
PAPERS = time(10, 20)
BOOKED_AHEAD_DAYS = 5


def run(play: Play) -> None:
    """Set up the lab and play every scene up to now; what is booked for the days to come is booked already."""
    furnish(play)
    for happens_at, act in scenes(play):
        play.at = max(play.at, happens_at)
        act()


def scenes(play: Play) -> list[Scene]:
    """What happens after the lab was furnished, in order of time, up to now."""
    return sorted((scene for scene in _scenes(play) if scene[0] <= play.now), key=lambda scene: scene[0])


def _scenes(play: Play) -> Iterator[Scene]:
    yield store.day_of(play), lambda: store.put_in_order(play)
    yield from assess(play)
    yield from incident_scenes(play)
    yield from declaration_scenes(play)
    yield play.instant(play.today - timedelta(days=DAYS_AGO), PAPERS), lambda: issue_papers(play)
    for days_ago in range(WEEKS * 7, -BOOKED_AHEAD_DAYS - 1, -1):
        day = play.today - timedelta(days=days_ago)
        coming = [habit for habit in play.fixtures.habits if comes(play, habit, day)]
        busy = {habit.line for habit in coming}
        yield play.instant(day, ROUND), lambda busy=busy, day=day: go_round(play, busy, day)  # type: ignore[misc]
        yield from scenes_of_the_fibre_line(play, day)
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
