"""Each minute: who is alone, who is to be asked, who did not answer, who is overdue, and who is told next.

Each is an act of its own that looks again at what it was begun for, so that nothing comes of its running twice or
being cut off half-way: what was not done is found again, what was done is there.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta

from labsys.database import DbSession
from labsys.duty import alerts, calling
from labsys.duty import queries as duty
from labsys.duty.models import Alert
from labsys.jobs.kinds import Kind, Made, Task
from labsys.people.acts import Act, act
from labsys.presence import queries
from labsys.presence.queries import Head
from labsys.records import queries as records
from labsys.timetable.local_time import clock_words


def overdue(heads: Sequence[Head], *, now: datetime, after: timedelta) -> list[Head]:
    """Who should have left so long ago; of a class whoever teaches it stands for all."""
    late = [head for head in heads if head.until + after <= now]
    return [head for head in late if head.bookings or head.presences or head.supervisions]


@act
def raise_overdue(act: Act, *, key: str) -> None:
    """Raise the alert about somebody who is overdue to leave; once for each time they should have left by."""
    head = queries.head_of(act.session, key)
    after = duty.settings(act.session).overdue_after
    if head is None or not overdue([head], now=act.now, after=after):
        return
    zone = records.zone(act.session)
    classes = [booking.class_name for booking in head.bookings if booking.class_name]
    also = f" The class {', '.join(classes)} too, as far as is known." if classes else ""
    alerts.raise_alert(
        act,
        cause=f"overdue {head.key} {head.until:%Y-%m-%dT%H:%M:%S}",
        about=next((booking.person for booking in head.bookings), None)
        or next((presence.person for presence in head.presences), None),
        who=head.name,
        said=f"Overdue to leave: was to be out by {clock_words(head.until, zone=zone)} ({head.what}).{also}",
    )


def look_after_people(task: Task) -> Made:
    """Do all that is due, the most urgent first."""

    def fresh() -> Act:
        return Act(task.session, by=None, now=task.now())

    calling.look(fresh())
    settings = duty.settings(task.session)
    for call_in in calling.due_to_be_missed(task.session, now=task.now(), within=settings.answer_within):
        calling.miss(fresh(), call_in_id=call_in.id)
    for key in _overdue_keys(task.session, now=task.now(), after=settings.overdue_after):
        raise_overdue(fresh(), key=key)
    for alert_id in [each.id for each in _to_tell(task.session, now=task.now(), within=settings.answer_within)]:
        alerts.tell_next(fresh(), alert_id=alert_id)
    for call_in in calling.due_to_be_asked(task.session, now=task.now()):
        calling.ask(fresh(), call_in_id=call_in.id)
    return Made(f"{len(duty.open_alerts(task.session))} alerts wait for an answer.")


def _overdue_keys(session: DbSession, *, now: datetime, after: timedelta) -> list[str]:
    return [head.key for head in overdue(queries.heads(session), now=now, after=after)]


def _to_tell(session: DbSession, *, now: datetime, within: timedelta) -> list[Alert]:
    return [alert for alert in duty.open_alerts(session) if alerts.is_due(alert, now=now, within=within)]


LOOK_AFTER_PEOPLE = Kind(
    name="people in the building",
    title="Look after who is alone or overdue in the building",
    run=look_after_people,
    every=timedelta(minutes=1),
)
