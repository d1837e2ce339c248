"""What a session sheet says: the plan as it stands now, whom it is for, and how they stand with the inductions."""

from datetime import datetime
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from labsys.bookings.words import place_and_time
from labsys.database import DbSession
from labsys.documents.collect import day, issue_of
from labsys.documents.session_sheet import SessionSheetData
from labsys.labware import queries as labware
from labsys.people.models import Person
from labsys.planning import queries as planning
from labsys.planning.asked import Asked
from labsys.planning.pages import called, need_in_words
from labsys.records import queries as records
from labsys.records.queries import Head


def collect_session_sheet(
    session: DbSession, *, asked: Asked, issued_by: Person, head: Head, public_url: str, now: datetime
) -> SessionSheetData:
    """Work out a plan and all that its sheet says.

    Raises NotFound, NotPermitted, PlanRefused, WrongMaterial or OutOfRange.
    """
    lab = records.the_lab(session)
    zone = ZoneInfo(lab.timezone)
    booking = planning.booking_for(session, booking_id=asked.booking_id, viewer=issued_by)
    planned = planning.planned(
        session,
        asked=asked,
        process=planning.process_with_products(session, asked.process_id),
        booking=booking,
        vessels=labware.working_vessels(session, in_use_only=True),
        viewer=issued_by,
        now=now,
    )
    return SessionSheetData(
        issue=issue_of(
            lab,
            issued_by=issued_by,
            now=now,
            head=head,
            scan_address=f"{public_url}/plan?{urlencode(asked.address)}",
            scan_code="the plan",
        ),
        plan=planned.plan,
        person=called(planned),
        date=day(booking.starts_at if booking else now, zone=zone),
        where=place_and_time(booking, zone=zone) if booking else "",
        needs=tuple(need_in_words(one, planned) for one in planned.needs),
        missing=tuple(one.sentence_for_others for one in planned.missing),
    )
