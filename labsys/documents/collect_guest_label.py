"""What the label of a guest bottle says, read and worked out; the page and the PDF are both made from it."""

from datetime import datetime

from labsys.brought_in import queries as brought_in
from labsys.brought_in import rules
from labsys.brought_in.rules import Named
from labsys.database import DbSession
from labsys.documents.bath_label import EMERGENCY
from labsys.documents.collect import issue_of
from labsys.documents.guest_label import GuestLabelData
from labsys.documents.rules import DocumentRefused
from labsys.drawing.pictograms import Pictogram
from labsys.hazards.label import from_h_codes
from labsys.people.models import Person
from labsys.records import queries as records
from labsys.records.queries import Head


def collect_guest_label(
    session: DbSession, *, declaration_id: int, issued_by: Person, head: Head, public_url: str, now: datetime
) -> GuestLabelData:
    """Read what was declared and decided. Raises NotFound, or DocumentRefused for what was not let in or is gone."""
    found = brought_in.declaration_or_raise(session, declaration_id)
    if found.code is None or found.ended_at is not None:
        raise DocumentRefused("Only a chemical that was let in and is still here has a label.")
    lab = records.the_lab(session)
    named = [Named(one.name, one.cas) for one in found.ingredients]
    names = tuple(one.name for one in named) or (found.name,)
    elements = from_h_codes(found.h_codes.split(), names=names)
    meetings = rules.advice(named, h_codes=found.h_codes).meetings
    return GuestLabelData(
        issue=issue_of(
            lab,
            issued_by=issued_by,
            now=now,
            head=head,
            scan_address=f"{public_url}/c/{found.code}",
            scan_code=found.code,
        ),
        name=found.name,
        supplier=found.supplier,
        whose=found.person.name,
        until=f"{found.last_on:%-d %B %Y}",
        amount=rules.show_amount(found.amount, found.unit),
        conditions=found.conditions,
        signal_word=elements.signal_word,
        pictograms=tuple(Pictogram(code) for code in elements.pictograms),
        statements=tuple(f"{code} {text}" for code, text in (*elements.hazard_statements, *elements.euh_statements)),
        keep_from=tuple(one.solution.capitalize() for one in meetings),
        emergency=(*EMERGENCY, f"Help here: {lab.emergency}") if lab.emergency else EMERGENCY,
    )
