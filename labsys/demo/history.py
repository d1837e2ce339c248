"""Plays the demonstration lab's life: every scene of three months, in order of time, up to now."""

from collections.abc import Callable, Iterator

from labsys.demo import assessing, brought_in, competent, happenings, store
from labsys.demo.fixtures import Entry
from labsys.demo.furnishing import furnish
from labsys.demo.play import WEEKS, Play, Scene
from labsys.demo.technician import go_round
from labsys.demo.visits import comes, issue_version, teach, visit
from labsys.forecast.keeping import keep

BOOKED_AHEAD_DAYS = 5
_FORECAST_DAYS_AGO = (8, 2)
_OPENS, _WRITTEN, _APPROVED, _ROUND, _FORECAST = "08:20", "09:20", "09:30", "09:40", "10:05"

# What an entry of a table does, by the key that says how many days ago; without a time it is the entry's own.
_Doing = tuple[str, str, Callable[[Play, Entry], object]]
_OF_TABLE: dict[tuple[str, str], tuple[_Doing, ...]] = {
    ("store", "order"): (("days_ago", _OPENS, store.put_in_order),),
    ("assessments", "assessment"): (
        ("begun", _WRITTEN, assessing.write),
        ("submitted", _WRITTEN, assessing.submit),
        ("approved", _APPROVED, assessing.approve),
    ),
    ("assessments", "action"): (("added", _APPROVED, assessing.add_action), ("done", _WRITTEN, assessing.finish)),
    ("assessments", "new_sds"): (("days_ago", _WRITTEN, assessing.enter_new_sds),),
    ("incidents", "incident"): (("days_ago", "", happenings.report), ("closed", "", happenings.close)),
    ("brought_in", "declaration"): (
        ("days_ago", "", brought_in.declare),
        ("decided_days_ago", "", brought_in.decide),
        ("taken_home_days_ago", "", brought_in.take_home),
    ),
    ("events", "event"): (("days_ago", "", happenings.happen),),
    ("inductions", "teaching"): (("days_ago", "", teach),),
    ("inductions", "version"): (("days_ago", "", issue_version),),
    ("competences", "grant"): (("days_ago", "", competent.grant), ("revoked_days_ago", "11:20", competent.revoke)),
}


def run(play: Play) -> None:
    """Set up the lab and play every scene up to now; what is booked for the days to come is booked already."""
    furnish(play)
    for happens_at, act in scenes(play):
        play.at = max(play.at, happens_at)
        act()
    keep(play.session, now=play.now)


def scenes(play: Play) -> list[Scene]:
    """What happens after the lab was furnished, in order of time, up to now."""
    happen = [*_told(play), *_daily(play)]
    return sorted((scene for scene in happen if scene[0] <= play.now), key=lambda scene: scene[0])


def _told(play: Play) -> Iterator[Scene]:
    """What happens once: every entry of the files, at each of its times."""
    for (file, table), doings in _OF_TABLE.items():
        for told in play.fixtures.told[file][table]:
            for days_ago, clock, doing in doings:
                if days_ago in told:
                    yield play.scene(told[days_ago], clock or told["time"], doing, told)


def _daily(play: Play) -> Iterator[Scene]:
    """The technician's round and the visits of every day."""
    for days_ago in range(WEEKS * 7, -BOOKED_AHEAD_DAYS - 1, -1):
        day = play.day(days_ago)
        coming = [habit for habit in play.fixtures.habits if comes(play, habit, day)]
        yield play.scene(days_ago, _ROUND, go_round, {"day": day, "busy": {habit.line for habit in coming}})
        for habit in coming:
            yield from visit(play, habit, day)
    for days_ago in _FORECAST_DAYS_AGO:
        yield play.scene(days_ago, _FORECAST, _forecast, {})


def _forecast(play: Play, told: Entry) -> None:
    """The forecast of a day, that what came of it can be seen."""
    keep(play.session, now=play.at)
