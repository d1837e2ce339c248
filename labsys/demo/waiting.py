"""Two people wait for a place that is closed; when the closure is lifted, one has an offer and one waits on."""

from datetime import time, timedelta

from labsys.bookings import keeping_fair, waiting
from labsys.bookings.rules import Plan
from labsys.closing import service as closing
from labsys.closing.rules import Scope
from labsys.demo.fixtures import Entry
from labsys.demo.play import Play
from labsys.timetable.spans import Span


def wait(play: Play, told: Entry) -> None:
    """Close a place some days ahead, have people wait for it, and lift the closure; offers stand for a day here."""
    keeping_fair.set_arriving(
        play.act(told["keeper"]),
        free_after_minutes=None,
        late_cancel_minutes=None,
        offer_minutes=60 * told["offer_hours"],
    )
    start = play.instant(play.day(-told["days_ahead"]), time(told["opens"]))
    window = Span(start, start + timedelta(hours=told["hours"]))
    station_id, process_id = play.ids[f"station {told['station']}"], play.ids[f"process {told['process']}"]
    closure = closing.close(
        play.act(told["keeper"]), scope=Scope(station_id=station_id), span=window, reason=told["reason"]
    )
    for who in told["who"]:
        waiting.wait(
            play.act(who), station_id=station_id, window=window, minutes=60 * told["hours"], plan=Plan(process_id)
        )
    closing.lift(play.act(told["keeper"]), closure_id=closure.id)
