"""What is written about people in the building: to whoever is alone, to who holds the keys, to who sees to an alert."""

from zoneinfo import ZoneInfo

from labsys.bookings.models import Booking
from labsys.duty.gate import Company
from labsys.duty.models import Alert, CallIn
from labsys.duty.rules import NO_ALARM, Settings
from labsys.mail.kinds import ALONE, OVERDUE, Message
from labsys.mail.models import OutgoingMail
from labsys.timetable.local_time import clock_words, to_local


def is_alone(call_in: CallIn, *, settings: Settings, zone: ZoneInfo) -> Message:
    """To who holds the keys: somebody is alone, and whether their work goes on."""
    who, since = call_in.person.name, clock_words(call_in.began_at, zone=zone)
    goes_on = f"Their work has to stop: {call_in.stopped}" if call_in.stopped else "Their work may go on."
    body = (
        f"{who} is alone in the building since {since}, and is asked every {settings.ask_every_minutes} minutes. "
        f"{goes_on}\n\n{NO_ALARM}"
    )
    return Message(ALONE, f"call-in {call_in.id} began", f"{who} is alone in the building", body, "/building")


def are_you_all_right(call_in: CallIn, *, settings: Settings) -> Message:
    body = (
        f"You are alone in the building. Say that you are all right within {settings.answer_within_minutes} minutes."
        f"\n\nWithout an answer others are told, one after the other.\n\n{NO_ALARM}"
    )
    key = f"call-in {call_in.id} asked {call_in.due_at:%Y-%m-%dT%H:%M:%S}"
    return Message(ALONE, key, "Are you all right?", body, "/duty/alone")


def alert(raised: Alert, *, step: int) -> Message:
    body = f"{raised.who}. {raised.said}\n\nSay that you see to it, and nobody else is told.\n\n{NO_ALARM}"
    subject = f"{raised.who}: {raised.said}"[: OutgoingMail.SUBJECT_LENGTH]
    return Message(OVERDUE, f"alert {raised.id} step {step}", subject, body, f"/duty/alerts/{raised.id}")


def left_alone(booking: Booking, company: Company, *, cause: str, zone: ZoneInfo) -> Message:
    """Somebody who was booked beside you is not coming."""
    at = f"{to_local(booking.starts_at, zone=zone):%a %-d %b} at {clock_words(booking.starts_at, zone=zone)}"
    starts = f"{booking.station.name}, {at}"
    said = company.refused or company.condition
    more = " You cannot begin so: book another time, or find somebody who is there." if company.refused else ""
    body = f"{starts}: somebody who was booked beside you is not coming. {said}{more}"
    key = f"booking {booking.id} {booking.version} alone without {cause}"
    return Message(ALONE, key, f"Nobody beside you: {starts}", body, f"/bookings/{booking.id}")
