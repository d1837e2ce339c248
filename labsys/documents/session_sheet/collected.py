"""What a session sheet says: the plan as it stands now, whom it is for, and how they stand with the inductions."""

from urllib.parse import urlencode

from labsys.bookings.words import place_and_time
from labsys.database import DbSession
from labsys.documents.occasion import Occasion
from labsys.documents.session_sheet.drawn import SessionSheetData
from labsys.labware import queries as labware
from labsys.planning import queries as planning
from labsys.planning.asked import AskedPlan
from labsys.planning.pages import called, need_in_words


def collect(session: DbSession, asked: AskedPlan, occasion: Occasion) -> SessionSheetData:
    """Work out a plan and all that its sheet says.

    Raises NotFound, NotPermitted, PlanRefused, WrongMaterial or OutOfRange.
    """
    booking = planning.booking_for(session, booking_id=asked.booking_id, viewer=occasion.person)
    process = planning.process_with_products(session, asked.process_id)
    planned = planning.planned(
        session,
        asked=asked,
        process=process,
        booking=booking,
        vessels=labware.working_vessels(session, in_use_only=True),
        times=planning.film_times_of(session, process),
        viewer=occasion.person,
        now=occasion.now,
        zone=occasion.zone,
    )
    return SessionSheetData(
        issue=occasion.issue(f"/plan?{urlencode(asked.address)}", scan_code="the plan"),
        plan=planned.plan,
        person=called(planned),
        date=occasion.day(booking.starts_at if booking else occasion.now),
        where=place_and_time(booking, zone=occasion.zone) if booking else "",
        needs=tuple(need_in_words(need, planned) for need in planned.needs),
        missing=(
            *(missing.sentence_for_others for missing in planned.missing),
            *(lack.on_paper for lack in planned.lacked),
        ),
    )
