"""What is set down for the weeks to come: a course, a closure, what somebody keeps away from, who is a member."""

from datetime import time, timedelta

from labsys.closing import service as closing
from labsys.closing.rules import Scope
from labsys.courses import service as courses
from labsys.courses.dates import Decided
from labsys.courses.rules import Term
from labsys.demo.fixtures import Entry
from labsys.demo.play import Play
from labsys.hazards.personal import PersonalFamily
from labsys.membership import agreements, enrolment, fees
from labsys.membership.service import set_rules
from labsys.people.roster import Row
from labsys.records import queries as records
from labsys.restrictions import service as restrictions
from labsys.timetable.spans import Span


def set_up_course(play: Play, told: Entry) -> None:
    """An instructor sets up a course that begins after all that is booked already."""
    soonest = play.day(-told["days_ahead"])
    first = soonest + timedelta(days=(told["weekday"] - soonest.weekday()) % 7)
    days = [first + timedelta(weeks=week) for week in range(told["meetings"])]
    starts, ends = time.fromisoformat(told["starts"]), time.fromisoformat(told["ends"])
    instructor = play.person(told["who"])
    entry = courses.CourseEntry(
        name=told["name"],
        term_name=told["term"],
        term=Term(first, _minute(starts), _minute(ends), f"FREQ=WEEKLY;COUNT={told['meetings']}"),
        station_id=play.ids[f"station {told['station']}"],
        units=told["units"],
        instructor_ids=(instructor.id,),
        process_ids=(play.ids[f"process {told['process']}"],),
        induction_ids=tuple(play.ids[f"induction {name}"] for name in told["inductions"]),
    )
    students = [play.person(key) for key in told["roster"]]
    courses.set_up(
        play.act(instructor),
        entry=entry,
        dates=[Decided(day, Span(play.instant(day, starts), play.instant(day, ends))) for day in days],
        rows=[Row(number, student.name, student.email) for number, student in enumerate(students, start=1)],
    )


def _minute(clock: time) -> int:
    return clock.hour * 60 + clock.minute


def close_place(play: Play, told: Entry) -> None:
    """A place is closed for some hours of a day on which nobody has booked it yet."""
    start = play.instant(play.day(-told["days_ahead"]), time(told["opens"]))
    closing.close(
        play.act(told["who"]),
        span=Span(start, start + timedelta(hours=told["hours"])),
        reason=told["reason"],
        scope=Scope(station_id=play.ids[f"station {told['station']}"]),
    )


def keep_away(play: Play, told: Entry) -> None:
    """Somebody says in confidence what they keep away from."""
    restrictions.keep_restriction(
        play.act(told["who"]),
        person_id=play.ids[told["who"]],
        family=PersonalFamily(told["family"]),
        note="",
        ends_on=None,
    )


def keep_members(play: Play, told: Entry) -> None:
    """What the lab keeps of its members: an agreement, a membership, a note of the fee; and guests may come."""
    keeper, who = play.person(told["keeper"]), play.person(told["who"])
    lab = records.the_lab(play.session)
    set_rules(
        play.act(keeper),
        admits_under_18=lab.admits_under_18,
        safeguarding=lab.safeguarding,
        asks={"keeps_fees": True, "most_guests": told["guests"]},
    )
    agreements.issue(play.act(keeper), text=told["agreement"], sign_again=True)
    agreements.sign(play.act(who), number=1)
    first = play.day(told["from_days_ago"])
    ends_on = first + timedelta(days=told["days"])
    enrolment.enter_term(play.act(keeper), person_id=who.id, starts_on=first, ends_on=ends_on)
    fees.note_fee(play.act(keeper), person_id=who.id, paid_until=ends_on, hours_left=None, note=told["note"])
