"""Erasing contents of the record, as the law may ask. A step: it is part of an act in a room below."""

from sqlalchemy import update

from labsys.people.acts import Act
from labsys.records.models import Lab, RecordEntry


def erase_contents(act: Act, *, numbers: frozenset[int], lab: Lab) -> None:
    """Step: erase payload and salt of entries; the chain still verifies, and the erasure is told of."""
    act.session.execute(update(RecordEntry).where(RecordEntry.number.in_(numbers)).values(payload=None, salt=None))
    act.tell("record.erased", about=lab, facts={"numbers": sorted(numbers)})
