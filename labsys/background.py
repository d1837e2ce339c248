"""Everything the lab does in the background: one line a kind, each written in the room it belongs to."""

from labsys.bookings.not_coming import FREE_MISSED
from labsys.bookings.supervising import LOOK_AGAIN
from labsys.bookings.waiting import PASS_ON
from labsys.closing.by_equipment import TELL_BOOKED
from labsys.competences import reminders as of_competences
from labsys.competences.reminders import REMIND_OF_COMPETENCES
from labsys.courses.importing import ADD_LONG_ROSTER
from labsys.desk.verifying import VERIFY
from labsys.duty.calling import LEFT_ALONE_KIND
from labsys.forecast.keeping import KEEP_FORECAST
from labsys.inductions import reminders as of_inductions
from labsys.inductions.reminders import REMIND_OF_LAPSES
from labsys.inviting.importing import INVITE_MANY
from labsys.jobs.old import FORGET_OLD
from labsys.mail.sending import SEND_MAIL
from labsys.membership import enrolment as of_memberships
from labsys.membership.enrolment import REMIND_OF_MEMBERSHIPS
from labsys.presence.looking_after import LOOK_AFTER_PEOPLE

KINDS = (
    REMIND_OF_LAPSES,
    REMIND_OF_COMPETENCES,
    REMIND_OF_MEMBERSHIPS,
    SEND_MAIL,
    VERIFY,
    FORGET_OLD,
    FREE_MISSED,
    PASS_ON,
    LOOK_AGAIN,
    ADD_LONG_ROSTER,
    INVITE_MANY,
    LOOK_AFTER_PEOPLE,
    LEFT_ALONE_KIND,
    TELL_BOOKED,
    KEEP_FORECAST,
)

# What falls due by the calendar: also written where mail is sent by a command, without the jobs.
REMINDERS = (of_inductions.letters_due, of_competences.letters_due, of_memberships.letters_due)
